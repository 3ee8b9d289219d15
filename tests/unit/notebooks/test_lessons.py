"""Lessons: short, stored as written, run without a word of warning, and true in what they say."""

from __future__ import annotations

import ast
from pathlib import Path

import nbformat
import pytest

from heatloop.report.notebook.run_notebook import run_notebook
from tests.helpers.executed import complaints, last_value
from tests.helpers.paths import ROOT

LESSONS = sorted((ROOT / "notebooks").glob("[0-9][0-9]-*.ipynb"))
MAX_CODE_LINES, MAX_CELL_LINES = 90, 12

VALUES = {
    "01-one-metre": {
        "half_w_m": "half_w_m",
        "promised_w": "promised_w",
        "apart_w": "apart.output_w",
        "linked_w": "linked.output_w",
        "designed_w": "designed.output_w",
        "k_ratio": "ratio",
        "too_much": "100 * (promised_w / linked.output_w - 1)",
        "one_way_w": "hl.skirting_run(profile, **place, film=False, constant_w_mkn=k, arrangement='one-way').output_w",
        "half_flow_w": "hl.skirting_run(profile, **(place | {'flow_l_h': flow_l_h / 2})).output_w",
        "kept_percent": (
            "100 * hl.skirting_run(profile, **(place | {'flow_l_h': flow_l_h / 2})).output_w / designed.output_w"
        ),
        "shown": "str(view.value[1:4], 'ascii')",
    },
    "02-friction-and-index-loop": {
        "apart": "apart",
        "by_table_pa_m": "float(by_table_pa_m)",
        "index_loop": "index",
        "loop_kpa": "float(loop_kpa)",
        "trunks_kpa": "float(trunks_kpa)",
        "head_kpa": "head_kpa",
        "valves_percent": "float(by_kind.loc['valve', 'sum'] / loop_kpa / 10)",
        "valves_kpa": "float(by_kind.loc['valve', 'sum'] / 1000)",
        "saved_kpa": "float(0.75 * by_kind.loc['valve', 'sum'] / 1000)",
        "joints_kpa": "float(by_kind.loc['joint', 'sum'] / 1000)",
        "ends_kpa": "float(by_kind.loc['end', 'sum'] / 1000)",
        "least": "sorted(by_kind.index[:2])",
    },
    "03-balancing": {
        "exact": "float(flow['exact'].sub(100).abs().max())",
        "flow": "float(error['flow']['at whole settings'])",
        "heat": "float(error['heat']['at whole settings'])",
        "open_most": "float(flow['all open'].max())",
        "open_half_more": "int((flow['all open'] > 145).sum())",
        "open_index": "float(flow.loc[design.summary['index_loop'], 'all open'])",
        "cold_at_marks": "ways['at whole settings'].rooms.query('margin_w < 0')['room'].tolist()",
        "cold_exact": "ways['exact'].rooms.query('margin_w < 0')['room'].tolist()",
        "cold_alive": "rooms.index[~rooms['is_warm'].astype(bool)].tolist()",
        "bathroom_short_w": "-float(rooms.loc['Bathroom', 'margin_w'])",
        "living_room": "[float(p.loc['Living room', 'at whole settings'] - 100) for p in (heat, flow)]",
        "isolated": (
            "design.simulate(isolated_loops=['Hall and study'], thermostats=False).loops['flow_percent'].tolist()"
        ),
        "return_c": "float(alive.summary['return_temp_c'])",
    },
    "04-old-system-to-heat-pump": {
        "short": "(margins < 0).sum().tolist()",
        "metres": "sorted(missing['metres'].tolist())",
        "kitchen_m": "float(missing.loc['Kitchen-diner', 'metres'])",
        "kitchen_spare_m": "float(missing.loc['Kitchen-diner', 'free wall, m'])",
        "margin_w": "float(margin_w)",
        "lowest_c": "lowest.flow_temp_c",
        "lowest_room": "lowest.room",
        "lowest_margin_w": "float(lowest.design.rooms['margin_w'].min())",
        "without_c": "without.flow_temp_c",
        "without_room": "without.room",
        "without_margin_w": "float(without.design.rooms.set_index('room').loc[without.room, 'margin_w'])",
        "shown": "str(view.value[1:4], 'ascii')",
    },
    "05-from-readings-to-diagnosis": {
        "fault": "best['fault']",
        "low": "float(best['size_low'])",
        "high": "float(best['size_high'])",
        "really": "float(really)",
        "bias_off_k": "found.summary['probe_bias_k'] - first_bias_k",
        "warmest_pipe_c": "max(max(pair) for pair in pipes.values())",
        "first": "unsure.explanations['fault'].iloc[0]",
        "now": "float(unsure.next_readings['right_now'].iloc[0])",
        "before": "float(unsure.explanations['probability'].iloc[0])",
        "again": "sure.explanations['fault'].iloc[0]",
        "after": "float(sure.explanations['probability'].iloc[0])",
        "asked": "unsure.next_readings[['reading', 'of']].iloc[0].tolist()",
        "faultless": (
            "hl.diagnose(design, hl.simulate_readings(design, [], np.random.default_rng(1))[0])"
            ".explanations['fault'].iloc[0]"
        ),
        "warmer_returns": (
            "(lambda first: hl.diagnose(design, replace(first, items=tuple("
            "replace(i, value=i.value + 2.0) if i.quantity == 'return temperature' else i for i in first.items"
            "))).explanations['fault'].iloc[0])(hl.simulate_readings(design, starved, np.random.default_rng(5))[0])"
        ),
    },
    "06-checked-against-print": {
        "checked": "len(checked)",
        "inside": "inside",
        "seen": "int((checked['provenance'] == 'seen').sum())",
        "worst_share": "float(worst['share of tolerance'])",
        "tables": "sorted(set(checked['table']))",
    },
    "07-what-to-change": {
        "before_w": "float(remedies['before'].iloc[0])",
        "resolving": "remedies.index[remedies['resolves'] & (remedies['checks_failed'] == 0)].tolist()",
        "kinds": "remedies['kind'].tolist()",
        "names": "remedies['remedy'].tolist()",
        "drop_fails": "int(remedies['checks_failed'].max())",
        "insulated": "remedies.loc[2, ['removed_w_k', 'after']].astype(float).tolist()",
        "found": "found.cheapest_surveys['found'].tolist()",
        "cheapest": "found.cheapest_surveys['remedies'].tolist()",
        "added_m": "float(found.cheapest_surveys['profile_added_m'].iloc[1])",
        "resized_c": "lowest['resized']",
        "kept_c": "lowest['kept']",
        "mild_c": "float(curve.loc[5.0, 'flow_temp_c'])",
        "saved": "costs['constant 70 °C'] - costs['weather curve']",
        "heats": "[year['net_heat_to_rooms_kwh'] for year in years.values()]",
        "warm": "100 * sure.summary['all_warm_share']",
        "first": "100 * float(sure.input_shares['first_share'].iloc[0])",
        "at_remedy": "100 * hl.uncertainty(survey.with_flow_temp(68.5), bands, samples=256).summary['all_warm_share']",
    },
}
"""What each lesson computes, by names of its own: expressions on its variables after its last cell."""

PROSE = {
    "01-one-metre": (
        "A metre then gives {half_w_m:.0f} W; half of its rated output would be 75 W",
        "gives {too_much:.0f} % more output than two linked channels",
        "{one_way_w:.0f} W, against {linked_w:.0f} W there-and-back",
        "{half_flow_w:.0f} W remain, {kept_percent:.0f} % of",
        "of the {designed_w:.0f} W of the designed run",
    ),
    "02-friction-and-index-loop": (
        "the two values differ by a factor of {apart:.1f}",
        "the calculation gives {by_table_pa_m:.0f} Pa/m",
        "{loop_kpa:.1f} + {trunks_kpa:.1f} = {head_kpa:.1f} kPa",
        "take {valves_percent:.0f} % of the pressure drop of the loop",
        "The ends and the joints, {joints_kpa:.2f} kPa each",
        "a quarter of their {valves_kpa:.2f} kPa, so the loop would require {saved_kpa:.1f} kPa less",
    ),
    "03-balancing": (
        "whole settings change the flow by {flow:.0f} % and the heat by {heat:.0f} %",
        "up to {open_most:.0f} % of the design, and that of the index loop is {open_index:.0f} %",
        "It is {bathroom_short_w:.0f} W short",
        "only {living_room[0]:.0f} % above the design when its flow is {living_room[1]:.0f} % above",
    ),
    "04-old-system-to-heat-pump": (
        "a flow temperature of {lowest_c:.1f} °C. Without the kitchen-diner it requires {without_c:.1f} °C",
        "At a flow temperature of 50 °C, {short[1]} room of 9 is short of heat. At 45 °C, {short[2]} rooms are short",
        "5 of these require at most {metres[4]:.2f} m of additional skirting",
        "Which room determines the flow temperature of {without_c:.1f} °C",
        "The {without_room}: its margin there is {without_margin_w:.1f} W",
        "{kitchen_m:.2f} m longer, according to the table above",
        "its free wall is {kitchen_spare_m:.0f} m",
    ),
    "05-from-readings-to-diagnosis": (
        '"{first}" has a probability of {before:.2f} ({now:.2f} in the column `right_now`',
        "after it, the right fault has a probability of {after:.2f}",
        '"{faultless}" as the most likely',
    ),
    "06-checked-against-print": ("Here {inside} of {checked} figures are within", "{seen} of {checked}; the others"),
    "07-what-to-change": (
        "the large flow rate makes {drop_fails} other checks fail",
        "temperature is {resized_c:.1f} °C if the valves are set anew and {kept_c:.1f} °C if they are kept",
        "at 5 °C outdoors {mild_c:.1f} °C is enough",
        "costs about {saved:.0f} EUR a year less",
        "The room is warm in {warm:.0f} % of the samples",
        "it causes {first:.0f} % of the variance of the margin",
        "By {insulated[0]:.1f} W/K; the margin is then {insulated[1]:.0f} W",
        "samples=256)`: in {at_remedy:.0f} % of the samples",
    ),
}
"""Sentences of the lessons with the numbers that their cells compute."""


def cells(path: Path, kind: str) -> list[str]:
    return [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == kind]


def stored_paths(path: Path) -> dict[str, str]:
    """The parameters of a lesson that name a file or folder, as they are seen from the notebook's own folder."""
    values = {}
    for cell in nbformat.read(path, as_version=4).cells:
        if "parameters" in cell.metadata.get("tags", []):
            for node in ast.parse(cell.source).body:
                if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                    values[node.targets[0].id] = ast.literal_eval(node.value)
    found = {name: (path.parent / value).resolve() for name, value in values.items() if isinstance(value, str)}
    assert all(place.exists() for place in found.values())
    return {name: str(place) for name, place in found.items()}


@pytest.fixture(scope="module")
def taught(tmp_path_factory):
    """What a lesson computes, by the expressions of VALUES; each lesson is run once."""
    known: dict[str, dict] = {}

    def values(lesson: str) -> dict:
        if lesson not in known:
            (path,) = (one for one in LESSONS if one.stem == lesson)
            notebook = nbformat.read(path, as_version=4)
            asked = ", ".join(f"{name!r}: {expression}" for name, expression in VALUES[lesson].items())
            notebook.cells.append(nbformat.v4.new_code_cell(f"{{{asked}}}"))
            copy = tmp_path_factory.mktemp("lessons") / path.name
            nbformat.write(notebook, copy)
            run = run_notebook(copy, stored_paths(path))
            assert complaints(run) == []
            known[lesson] = last_value(run)
        return known[lesson]

    return values


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_is_short_and_ends_with_two_exercises(path):
    notebook = nbformat.read(path, as_version=4)
    assert notebook.metadata.kernelspec.name == "python3"
    assert 8 <= len(notebook.cells) <= 20
    code = cells(path, "code")
    assert max(len(source.splitlines()) for source in code) <= MAX_CELL_LINES
    assert sum(bool(line.strip()) for source in code for line in source.splitlines()) <= MAX_CODE_LINES
    assert not any(word in source for source in code for word in ("assert", "timeit"))
    last = notebook.cells[-1]
    assert last.cell_type == "markdown"
    assert last.source.startswith("## Exercises")
    assert [last.source.count(mark) for mark in ("**1.**", "**2.**", "<details><summary>Answer")] == [1, 1, 2]


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_is_numbered_and_told_on_its_page(path):
    title = cells(path, "markdown")[0].splitlines()[0]
    assert title.startswith(f"# {int(path.stem[:2])} ")
    assert f"`notebooks/{path.name}`" in (ROOT / "docs" / "tutorials" / "lessons.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_numbers_in_the_text_are_those_of_the_cells(path, taught):
    found = taught(path.stem)
    text = " ".join(" ".join(cells(path, "markdown")).split())
    for sentence in PROSE[path.stem]:
        assert sentence.format(**found) in text


def test_one_metre(taught):
    """The promised and the arriving watts are check E14 of tests/published/test_emission.py."""
    found = taught("01-one-metre")
    assert found["half_w_m"] == pytest.approx(150.0 * 0.5**1.28, rel=1e-12)
    assert found["promised_w"] == pytest.approx(938.7, abs=0.1)
    assert found["apart_w"] == pytest.approx(930.4, abs=0.1)
    assert found["linked_w"] == pytest.approx(876.8, abs=0.1)
    assert found["linked_w"] < found["designed_w"] < found["promised_w"]
    assert found["k_ratio"] > 1.034  # check E15 without the film, which asks for more
    assert found["shown"] == "PNG"


def test_friction_and_index_loop(alder_draft, taught):
    found = taught("02-friction-and-index-loop")
    assert found["by_table_pa_m"] == pytest.approx(300.0, rel=0.03)  # Chadderton, check P2
    summary = alder_draft.summary
    assert found["index_loop"] == summary["index_loop"]
    assert found["loop_kpa"] + found["trunks_kpa"] == pytest.approx(summary["pump_head_kpa"], rel=1e-9)
    assert found["least"] == ["end", "joint"]
    assert round(found["ends_kpa"], 2) == round(found["joints_kpa"], 2)


def test_balancing(taught):
    found = taught("03-balancing")
    assert found["exact"] < 1e-5
    assert found["open_half_more"] == 2  # "two loops take about 50 % more water"
    assert found["heat"] < 0.6 * found["flow"]
    assert found["cold_at_marks"] == found["cold_exact"] == ["Kitchen-diner"]  # it never had enough skirting
    assert found["cold_alive"] == ["Kitchen-diner", "Bathroom"]
    flowing = [share for share in found["isolated"] if share > 0.0]
    assert [round(min(flowing)), round(max(flowing))] == [101, 117]  # as the answer to the first exercise says
    assert len(flowing) == len(found["isolated"]) - 1
    assert found["return_c"] < 43.0


def test_old_system_to_heat_pump(alder_draft, taught):
    found = taught("04-old-system-to-heat-pump")
    at_50 = alder_draft.rooms
    assert found["short"] == [0, int((at_50["margin_w"] < 0).sum()), 6, 9]
    assert found["lowest_room"] == at_50.set_index("room")["margin_w"].idxmin()
    assert found["lowest_margin_w"] > -0.01
    assert 45.0 < found["without_c"] < 50.0 < found["lowest_c"] < 55.0
    assert abs(found["margin_w"]) < 1.0
    assert found["shown"] == "PNG"


def test_from_readings_to_diagnosis(taught):
    """The faults are those that the lesson puts in; a reading that is asked for settles the second."""
    found = taught("05-from-readings-to-diagnosis")
    assert found["fault"] == 'the loop "Nursery and bathroom" receives too little water'
    assert found["low"] < found["really"] < found["high"]
    assert abs(found["bias_off_k"]) < 1.5
    assert found["warmest_pipe_c"] < 50.0
    assert found["asked"] == ["flow", "Kitchen"]
    assert found["again"] == 'the loop "Kitchen" receives too little water'
    assert found["before"] < 0.8 < 0.9 < found["after"]
    assert found["warmer_returns"].startswith('the loop "Nursery and bathroom" receives too little water; the pump')


def test_checked_against_print(taught):
    found = taught("06-checked-against-print")
    assert found["inside"] == found["checked"] > 60
    assert found["seen"] > 40
    assert 0.1 < found["worst_share"] <= 1.0
    assert found["tables"] == ["ducts", "emission", "friction", "movement", "valves", "water"]


def test_what_to_change(taught):
    found = taught("07-what-to-change")
    assert round(found["before_w"]) == -676
    assert found["resolving"] == [1, 2]
    assert found["kinds"][:3] == ["hotter water", "building", "smaller drop"]
    assert "to 68.5 °C" in found["names"][0]
    assert "to 3.5 K" in found["names"][2]
    assert found["found"] == [False, True]
    assert found["cheapest"][1] == "temperature drop of loop Annexe from 15.0 to 10.0 K"
    assert found["added_m"] == 0.0
    assert found["heats"][0] == pytest.approx(found["heats"][1], rel=1e-3)
