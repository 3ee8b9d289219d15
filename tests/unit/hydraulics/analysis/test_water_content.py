"""Water content and pressures: docs/explanation/contents-by-hand.md line by line, and what the parts add up to."""

from __future__ import annotations

import dataclasses
import math

import pytest

import heatloop as hl
from heatloop.handover.commissioning.pressure_checks import pressure_checks, pressures_table
from heatloop.handover.commissioning.pressures import Pressures, pressures
from heatloop.handover.commissioning.tables import contents_table
from heatloop.hydraulics.analysis.water_content import ContentItem, content_l, contents, open_water_l
from heatloop.physics.water import plain_water
from heatloop.survey.catalogue import Emitter
from heatloop.survey.loops import LoopEmitter
from heatloop.survey.water_system import AdditionalVolume, PressureTest, Vessel, WaterSystem
from tests.helpers.paths import ROOT

PAGE = ROOT / "docs" / "explanation" / "contents-by-hand.md"
WATER = plain_water()


def _lines() -> dict[str, tuple[str, str]]:
    """The lines of the page: name, working and result as printed."""
    rows = [line.split("|")[1:-1] for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in row] for row in rows]
    return {row[0]: (row[2], row[3]) for row in cells if row[0] not in ("line", "---")}


LINES = _lines()


def _worked(working: str) -> float:
    plain = working.replace("×", "*").replace("−", "-")
    assert set(plain) <= set("0123456789.+-*/() pi"), working
    return float(eval(plain, {"__builtins__": {}}, {"pi": math.pi}))


@pytest.fixture(scope="module")
def lodge(lodge_of_unknown_system: hl.Design) -> hl.Design:
    return lodge_of_unknown_system


@pytest.fixture(scope="module")
def annexe(mill_annexe: hl.Design) -> hl.Design:
    return mill_annexe


def held(design: hl.Design) -> tuple[ContentItem, ...]:
    return contents(design.survey, design.layout, design.operation.network)


def pressed(design: hl.Design, system: WaterSystem | None = None) -> Pressures:
    survey = design.survey if system is None else dataclasses.replace(design.survey, system=system)
    litres = content_l(contents(survey, design.layout, design.operation.network))
    return pressures(survey, design.layout, litres, design.summary["flow_temp_c"], WATER)


def found(lodge: hl.Design, annexe: hl.Design) -> dict[str, float]:
    """What heatloop finds for every line of the page."""
    one = {row.part: row for row in held(lodge) if row.loop == "Nursery and bathroom"}
    two = {row.part: row for row in held(annexe)}
    place, loop = lodge.layout.loop("Nursery and bathroom"), annexe.layout.loop("Annexe")
    after_door = next(p for p in loop.pieces if p.label == "Annexe 4b")
    door = next(e for e in annexe.elements.to_dict("records") if e["kind"] == "crossing")
    case = pressed(annexe)
    channels, tails, crossings = "profile channels", "tails", "crossings"
    return {
        "A1": one[channels].content_l_m,
        "A2": sum(p.tape_m for p in place.pieces),
        "A3": one[channels].channel_length_m,
        "A4": one[channels].water_content_l,
        "A5": one[tails].content_l_m,
        "A6": one[tails].channel_length_m,
        "A7": one[tails].water_content_l,
        "A8": one[crossings].channel_length_m,
        "A9": one[crossings].water_content_l,
        "A10": float(lodge.loops.set_index("loop")["water_content_l"]["Nursery and bathroom"]),
        "B1": two[channels].content_l_m,
        "B2": after_door.tape_m,
        "B3": sum(p.tape_m for p in loop.pieces),
        "B4": two[channels].channel_length_m,
        "B5": two[channels].water_content_l,
        "B6": two[tails].channel_length_m,
        "B7": two[tails].water_content_l,
        "B8": door["length_m"],
        "B9": two[crossings].channel_length_m,
        "B10": two[crossings].water_content_l,
        "B11": float(annexe.loops["water_content_l"].iloc[0]),
        "B12": content_l(held(annexe)),
        "P1": case.expansion,
        "P2": case.expansion_l,
        "P3": case.static_kpa,
        "P4": case.precharge_kpa,
        "P5": case.final_kpa,
        "P6": (case.final_kpa + 100.0) / (case.final_kpa - case.precharge_kpa),
        "P7": case.min_vessel_l,
        "P8": case.vessel_l * (case.precharge_kpa + 100.0),
        "P9": case.min_fill_kpa,
        "P10": case.vessel_l * (case.precharge_kpa + 100.0) / (case.final_kpa + 100.0),
        "P11": case.max_fill_kpa,
        "P12": case.fill_kpa,
        "P13": case.test_kpa,
    }


@pytest.mark.parametrize("line", LINES)
def test_every_line_of_the_page_is_worked_as_printed_and_found(line: str, lodge: hl.Design, annexe: hl.Design) -> None:
    working, result = LINES[line]
    decimals = len(result.partition(".")[2])
    assert _worked(working) == pytest.approx(float(result), abs=0.5001 * 10.0**-decimals), working
    # the rounding of earlier lines adds up to a unit of the last digit, half of one more is this line's own
    assert found(lodge, annexe)[line] == pytest.approx(float(result), abs=1.5 * 10.0**-decimals)


def test_page_and_test_have_the_same_lines(lodge: hl.Design, annexe: hl.Design) -> None:
    assert list(LINES) == list(found(lodge, annexe))


@pytest.mark.parametrize("name", ["lodge", "annexe"])
def test_parts_add_up_to_the_water_of_the_summary(name: str, request: pytest.FixtureRequest) -> None:
    design = request.getfixturevalue(name)
    rows = held(design)
    assert content_l(rows) == pytest.approx(design.summary["water_content_l"], rel=1e-12)
    by_loop = design.loops.set_index("loop")["water_content_l"]
    for loop, water_l in by_loop.items():
        assert sum(row.water_content_l for row in rows if row.loop == loop) == pytest.approx(water_l, rel=1e-12)
    table = contents_table(rows)
    assert table["water_content_l"].iloc[-1] == pytest.approx(table["water_content_l"].iloc[:-1].sum())


def test_reverse_return_holds_the_reverse_return_pipe_too(lodge: hl.Design) -> None:
    """Both trunks reverse: the return pipe is as long as the row, 4.5 + 5.0 m of the last one's 20.2 mm pipe."""
    trunks = tuple(dataclasses.replace(trunk, reverse_return=True) for trunk in lodge.survey.trunks)
    design = hl.size(dataclasses.replace(lodge.survey, trunks=trunks))
    rows = {row.item: row for row in held(design) if row.part == "trunks"}
    assert rows["ground floor, copper 28"].channel_length_m == pytest.approx(9.0)
    assert rows["upstairs, copper 22"].channel_length_m == pytest.approx(2 * 5.0 + 9.5)
    assert content_l(held(design)) == pytest.approx(design.summary["water_content_l"])


def test_other_emitters_hold_water_and_pressure(annexe: hl.Design) -> None:
    stock = annexe.survey.catalogue
    rail = Emitter("towel rail", 400.0, 1.3, zeta=3.0, water_l=4.5, max_pressure_kpa=800.0)
    loops = (dataclasses.replace(annexe.survey.loops[0], emitters=(LoopEmitter("towel rail", "Annexe"),)),)
    survey = dataclasses.replace(
        annexe.survey, loops=loops, catalogue=dataclasses.replace(stock, emitters=(*stock.emitters, rail))
    )
    rows = contents(survey, annexe.layout, annexe.operation.network)
    assert content_l(rows) == pytest.approx(content_l(held(annexe)) + 4.5)
    assert [row.part for row in rows] == ["profile channels", "tails", "crossings", "emitters", "source"]
    case = pressures(survey, annexe.layout, content_l(rows), 70.0, WATER)
    assert case.weakest is not None
    assert case.weakest.words == "emitter: towel rail"


def test_other_water_counts_everywhere(annexe: hl.Design) -> None:
    survey = annexe.survey
    more = dataclasses.replace(survey, system=WaterSystem(additional_volume=(AdditionalVolume("buffer", 40.0),)))
    design = hl.size(more)
    assert design.summary["water_content_l"] == pytest.approx(annexe.summary["water_content_l"] + 40.0)
    assert design.summary["always_open_water_l"] == pytest.approx(annexe.summary["always_open_water_l"] + 40.0)
    assert content_l(held(design)) == pytest.approx(design.summary["water_content_l"])
    assert ("other", "buffer") in [(row.part, row.item) for row in held(design)]


def test_all_water_circulates_always_where_no_valve_closes_by_itself(annexe: hl.Design) -> None:
    """A loop with a lockshield valve at both ends; with a thermostatic valve only the source remains open."""
    survey = annexe.survey
    assert open_water_l(survey, annexe.operation.network) == pytest.approx(survey.source.water_volume_l)
    (loop,) = survey.loops
    open_loop = dataclasses.replace(loop, valves=dataclasses.replace(loop.valves, flow=loop.valves.return_))
    freed = dataclasses.replace(survey, loops=(open_loop,))
    design = hl.size(freed)
    assert open_water_l(freed, design.operation.network) == pytest.approx(design.summary["water_content_l"])
    assert design.summary["water_content_l"] > survey.source.water_volume_l + 1.0


# --- pressures ---------------------------------------------------------------------------------------------


def verdicts(case: Pressures) -> dict[str, str]:
    return {row.check: row.verdict for row in pressure_checks(case)}


def test_static_head_is_from_the_storeys(lodge: hl.Design) -> None:
    """Upper floor at 2.65 m, profile 140 mm: 2.79 m of water at 10 °C."""
    case = pressed(lodge)
    assert (case.vessel_m, case.highest_point_m) == pytest.approx((0.0, 2.79))
    assert case.static_kpa == pytest.approx(2.79 * 9.80665, rel=1e-3)
    assert pressed(lodge, WaterSystem(vessel=Vessel(level_m=5.0))).static_kpa < 0.0
    assert pressed(lodge, WaterSystem(vessel=Vessel(level_m=5.0))).precharge_kpa == pytest.approx(30.0)


def test_pressures_round_the_gas_keep_boyles_law(lodge: hl.Design) -> None:
    case = pressed(lodge, WaterSystem(vessel=Vessel(volume_l=12.0, precharge_kpa=90.0)))
    gas = 12.0 * 190.0
    at_fill = gas / (case.fill_kpa + 100.0)
    assert gas / (case.hot_kpa + 100.0) == pytest.approx(at_fill - case.expansion_l)
    assert case.min_fill_kpa < case.fill_kpa < case.max_fill_kpa
    assert case.fill_kpa < case.hot_kpa < case.final_kpa
    assert case.running_kpa(WATER, case.max_temp_c) == pytest.approx(case.hot_kpa)
    assert case.running_kpa(WATER, 10.0) == case.fill_kpa
    assert case.fill_kpa < case.running_kpa(WATER, 40.0) < case.hot_kpa


def test_expansion_by_the_table_is_an_option(lodge: hl.Design) -> None:
    by_table = pressed(lodge, WaterSystem(expansion="EN 12828", max_temp_c=80.0))
    assert by_table.expansion == pytest.approx(0.0281, abs=5e-5)
    assert pressed(lodge, WaterSystem(max_temp_c=80.0)).expansion == pytest.approx(0.0287, abs=5e-5)
    sources = dict(zip(*pressures_table(lodge.survey, by_table)[["quantity", "source"]].T.to_numpy(), strict=True))
    assert "EN 12828" in sources["expansion"]


def test_a_vessel_that_is_too_small_fails_without_a_fill_pressure(lodge: hl.Design) -> None:
    case = pressed(lodge, WaterSystem(vessel=Vessel(volume_l=1.5)))
    assert verdicts(case)["vessel volume"] == "fail"
    assert math.isnan(case.fill_kpa)
    assert math.isnan(case.hot_kpa)


def test_a_precharge_above_the_working_pressure_fails(lodge: hl.Design) -> None:
    case = pressed(lodge, WaterSystem(relief_kpa=100.0, highest_point_m=12.0))
    assert case.precharge_kpa > case.final_kpa
    assert verdicts(case) == {
        "precharge of the vessel": "pass",
        "precharge below the maximum working pressure": "fail",
        "strength test within the proof pressure of seals": "pass",
    }


def test_a_slack_precharge_is_a_caution(lodge: hl.Design) -> None:
    case = pressed(lodge, WaterSystem(vessel=Vessel(volume_l=18.0, precharge_kpa=20.0)))
    assert verdicts(case)["precharge of the vessel"] == "caution"


def test_the_weakest_part_is_named_and_the_rest_is_said_to_be_unknown(lodge: hl.Design) -> None:
    case = pressed(lodge, WaterSystem(vessel=Vessel(max_pressure_kpa=300.0)))
    assert case.weakest is not None
    assert case.weakest.words == "vessel: expansion vessel"
    checks = verdicts(case)
    assert checks["maximum pressure of the weakest part"] == "pass"
    assert checks["strength test within the rating of every part"] == "caution"
    table = pressures_table(lodge.survey, case).set_index("quantity")
    assert table["value"]["lowest pressure rating of a part"] == 300.0
    assert "profile: two-channel 140" in table["formula"]["parts without a stated pressure rating"]
    weak = pressed(lodge, WaterSystem(vessel=Vessel(max_pressure_kpa=250.0)))
    assert verdicts(weak)["maximum pressure of the weakest part"] == "fail"


def test_ratings_come_from_the_catalogue(lodge: hl.Design) -> None:
    stock = lodge.survey.catalogue
    profiles = tuple(dataclasses.replace(p, max_pressure_kpa=600.0) for p in stock.profiles)
    pipes = tuple(dataclasses.replace(p, max_pressure_kpa=450.0) for p in stock.pipes)
    survey = dataclasses.replace(lodge.survey, catalogue=dataclasses.replace(stock, profiles=profiles, pipes=pipes))
    case = pressures(survey, lodge.layout, 45.0, 50.0, WATER)
    rated = {part.words: part.max_pressure_kpa for part in case.parts if part.max_pressure_kpa}
    assert rated == {
        "profile: two-channel 140": 600.0,
        "pipe: copper 28": 450.0,
        "pipe: copper 22": 450.0,
        "pipe: copper 15": 450.0,
    }
    assert case.weakest is not None
    assert case.weakest.max_pressure_kpa == 450.0


@pytest.mark.common_practice
@pytest.mark.parametrize(("test_kpa", "verdict"), [(390.0, "pass"), (1000.0, "pass"), (1001.0, "caution")])
def test_common_practice_a_seal_is_proved_at_up_to_10_bar(lodge: hl.Design, test_kpa: float, verdict: str) -> None:
    case = pressed(lodge, WaterSystem(test=PressureTest(pressure_kpa=test_kpa)))
    assert verdicts(case)["strength test within the proof pressure of seals"] == verdict


def test_seals_of_a_stated_rating_go_by_it(lodge: hl.Design) -> None:
    stock = lodge.survey.catalogue
    joints = tuple(dataclasses.replace(joint, max_pressure_kpa=1600.0) for joint in stock.joints)
    ends = tuple(dataclasses.replace(end, max_pressure_kpa=1600.0) for end in stock.ends)
    rated = dataclasses.replace(
        lodge.survey,
        catalogue=dataclasses.replace(stock, joints=joints, ends=ends),
        system=WaterSystem(test=PressureTest(pressure_kpa=1200.0)),
    )
    checks = verdicts(pressures(rated, lodge.layout, 45.0, 50.0, WATER))
    assert "strength test within the proof pressure of seals" not in checks
    assert checks["strength test within the rating of every part"] == "pass"


def test_a_part_below_the_vessel_sees_more(lodge: hl.Design) -> None:
    """The vessel on the upper floor, 2.65 m up: 26 kPa more at the lowest part."""
    case = pressed(lodge, WaterSystem(vessel=Vessel(level_m=2.65, max_pressure_kpa=310.0)))
    assert case.below_kpa == pytest.approx(26.0, abs=0.05)
    assert verdicts(case)["maximum pressure of the weakest part"] == "fail"


def test_every_pressure_has_a_source(lodge: hl.Design) -> None:
    table = pressures_table(lodge.survey, pressed(lodge))
    assert (table["source"].str.len() > 0).all()
    assert (table["formula"].str.len() > 0).all()
    assert not table["quantity"].duplicated().any()
    test = table.set_index("quantity").loc["strength test"]
    assert "EN 14336" in test["source"]
