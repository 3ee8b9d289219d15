"""The parts of a report: wording, columns, tables, findings, plain text, workbook, plots, plans."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from itertools import combinations, pairwise
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import openpyxl
import pandas as pd
import pytest
from matplotlib.colors import to_rgb

import heatloop as hl
from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.handover.parts.tables import GAP_TEMPS_C
from heatloop.layout.model import PlacedEnd, PlacedJoint
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.columns.registry import SUMMARY, TABLES, table_description
from heatloop.report.columns.shown import BALANCES, JOB
from heatloop.report.control.control import DocumentControl, document_control
from heatloop.report.files.export import read_json, write_csv, write_json
from heatloop.report.files.write_all import all_tables, write_design_files
from heatloop.report.pages.html_tables import html_table, summary_table
from heatloop.report.plans import room_plan, storey_plan
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.room_output import room_output
from heatloop.report.plots.water import achieved_flows
from heatloop.report.plots.water.balancing import plot_balancing
from heatloop.report.plots.water.loop_pressure import index_path, loop_pressure, pressure_path
from heatloop.report.plots.water.loop_temperature import loop_temperature
from heatloop.report.workbook.book import write_workbook
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.compare import differences
from heatloop.results.summaries import design_summary
from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, significant
from heatloop.text.summary import WIDTH, as_text
from tests.helpers.altered import with_frames
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def design(alder_draft: hl.Design) -> hl.Design:
    return alder_draft


def test_every_column_of_a_design_and_what_is_handed_over_is_described(design: hl.Design) -> None:
    given = (design, design.parts(), plan_first_fix(design.survey, design.layout), design.commissioning())
    quotation = given[1].price(DATA / "alder-lodge" / "prices.csv").table
    names = [name for one in given for name in one.tables]
    assert len(names) == len(set(names)), "no two tables have one name"
    for name, frame in {**{n: f for one in given for n, f in one.tables.items()}, "quotation": quotation}.items():
        described = {column.name for column in TABLES[name].columns}
        assert set(frame.columns) - described == set(), name
    titles = [TABLES[name].title for name in names]
    assert max(map(len, titles)) <= 31, "the most that the name of a sheet may have"
    assert len(titles) == len(set(titles)), "sheets of the workbook have names of their own"
    assert set(design.summary) - {column.name for column in SUMMARY} == set()
    assert set(JOB) | set(BALANCES) <= {column.name for column in SUMMARY}


@pytest.mark.parametrize(
    ("suffix", "unit"),
    [("_w", "W"), ("_m", "m"), ("_l_h", "l/h"), ("_kpa", "kPa"), ("_pa", "Pa"), ("_m_s", "m/s"), ("_kg_s", "kg/s"),
     ("_c", "°C"), ("_k", "K"), ("_m3_h", "m³/h"), ("_kw", "kW"), ("_l", "l")],
)  # fmt: skip
def test_headings_carry_the_unit_of_the_column_name(suffix: str, unit: str) -> None:
    longest = sorted(("_m3_h", "_kg_s", "_l_h", "_m_s", "_l_m", "_w_m", "_per_l"), key=len, reverse=True)
    for column in (c for spec in TABLES.values() for c in spec.columns):
        ends = next((s for s in longest if column.name.endswith(s)), None) or "_" + column.name.rsplit("_", 1)[-1]
        if ends == suffix and column.name != "arm":
            assert column.unit == unit, column.name


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        (Column("a", "A", kind="number", decimals=1), 12.345, "12.3"),
        (Column("a", "A", kind="number", decimals=1), np.float64("nan"), "–"),
        (Column("a", "A", kind="number"), None, "–"),
        (Column("a", "A", kind="number", sign=True), 12.0, "+12"),
        (Column("a", "A", kind="number", sign=True), -0.2, "0"),
        (Column("a", "A", kind="percent"), 0.987, "99"),
        (Column("a", "A", kind="figure"), 1234.5, "1234"),
        (Column("a", "A", kind="figure"), 0.012345, "0.0123"),
        (Column("a", "A", kind="residual"), 1.26e-13, "1.3e-13"),
        (Column("a", "A", kind="flag"), np.bool_(True), "yes"),
        (Column("a", "A", kind="flag"), False, ""),
        (Column("a", "A", kind="verdict"), "fail", "✗ fails"),
        (Column("a", "A", kind="unit"), "degC", "°C"),
        (Column("a", "A"), "bell\x07and\x1b[31mred", "bell and [31mred"),
    ],
)
def test_how_values_are_written(column: Column, value: object, words: str) -> None:
    assert cell_text(column, value) == words


def test_tables_escape_names_and_scope_their_headers() -> None:
    frame = pd.DataFrame({"room": ["<script>alert(1)</script>"], "heat_loss_w": [912.4], "loss_source": [""]})
    markup = html_table(frame, "rooms", caption="Rooms & halls").markup
    assert "<script" not in markup
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in markup
    assert "<caption>Rooms &amp; halls</caption>" in markup
    assert 'Heat loss, <span class="unit">W</span>' in markup
    assert ">912<" in markup
    assert markup.count('scope="col"') == 2, "a column without a word in it is left out"
    assert markup.count('scope="row"') == 1


def test_an_empty_table_says_so() -> None:
    assert "nothing to list" in html_table(pd.DataFrame(columns=["room", "heat_loss_w"]), "rooms").markup


def test_plain_text_fits_and_holds_the_answers(design: hl.Design) -> None:
    text = str(design)
    assert max(map(len, text.splitlines())) <= WIDTH
    for row in design.rooms.to_dict("records"):
        assert re.search(
            rf"^{row['room']} .*\b{row['heat_loss_w']:.0f}\b.*\b{row['heat_to_rooms_w']:.0f}\b", text, re.M
        )
    for row in design.loops.to_dict("records"):
        assert re.search(rf"^{row['loop']} .*\b{row['flow_l_h']:.0f}\b", text, re.M)
    failed = design.summary["checks_failed"]
    assert text.splitlines()[1].strip().startswith("Not ready" if failed else "Ready")
    told = [line for line in text.splitlines() if line.startswith("  - ")]
    assert len(told) == len(recommended_changes(design.checks))


def test_plain_text_of_names_that_do_not_fit(design: hl.Design) -> None:
    tables = design.tables
    tables["rooms"].loc[0, "room"] = "A room \x1b[2J with a name that goes on and on until no one can remember it"
    text = as_text(design_summary(design.summary, tables, design.verdict))
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= WIDTH


@pytest.fixture
def control(design: hl.Design) -> DocumentControl:
    return document_control(design.survey, design.verdict)


def test_a_sheet_of_figures_shows_three_digits(design: hl.Design, control: DocumentControl, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", design, control))["Checks"]
    place = [cell.value for cell in sheet[3]].index("Calculated") + 1
    for row, value in enumerate(design.checks["calculated"], start=4):
        cell = sheet.cell(row, place)
        assert cell.value == pytest.approx(value, rel=1e-12)
        decimals = len(significant(value).partition(".")[2])
        assert cell.number_format == ("0." + "0" * decimals if decimals else "0")


def test_workbook_holds_values_text_as_text_and_units(
    design: hl.Design, control: DocumentControl, tmp_path: Path
) -> None:
    tables = design.tables
    names = ["=1+1", "+cmd", "-2", "@sum", "bell\x07"]
    for row, name in enumerate(names):
        tables["rooms"].loc[row, "room"] = name
    renamed = with_frames(design, tables)
    sheet = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", renamed, control))["Rooms"]
    assert sheet.freeze_panes == "B4"
    heads = [cell.value for cell in sheet[3]]
    assert "Heat loss, W" in heads
    cells = [sheet.cell(row, 1) for row in range(4, 9)]
    assert [c.value for c in cells] == ["=1+1", "+cmd", "-2", "@sum", "bell "]
    assert [c.data_type for c in cells] == ["s"] * 5
    assert all(c.quotePrefix for c in cells[:4])
    loss = sheet.cell(4, heads.index("Heat loss, W") + 1)
    assert loss.value == pytest.approx(design.rooms["heat_loss_w"].iloc[0], rel=1e-12)
    assert loss.number_format == "0"
    assert sheet.column_dimensions["A"].width >= 8


def test_json_and_csv_keep_seven_digits_and_names(design: hl.Design, tmp_path: Path) -> None:
    answers = json.loads(write_json(tmp_path / "d.json", design.to_dict()).read_text(encoding="utf-8"))
    assert answers["schema_version"] == 2
    assert [r["room"] for r in answers["rooms"]] == list(design.rooms["room"])
    assert answers["loops"][0]["flow_l_h"] == float(f"{design.loops['flow_l_h'].iloc[0]:.7g}")
    rooms = pd.DataFrame({"room": ["=1+1", 'say "hot"', "a,b"], "heat_loss_w": [1 / 3, np.nan, 2.0]})
    (path,) = write_csv(tmp_path, {"rooms": rooms})
    back = pd.read_csv(path, dtype=str, keep_default_na=False)
    assert list(back["room"]) == list(rooms["room"])
    assert back["heat_loss_w"][0] == "0.3333333"
    assert back["heat_loss_w"][1] == ""


def test_an_earlier_json_stays_where_the_new_one_cannot_be_written(tmp_path: Path) -> None:
    path = tmp_path / "d.json"
    path.write_text("old", encoding="utf-8")
    limit = "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
    code = "from pathlib import Path; from heatloop.report.files.export import write_json\n"
    write = f"write_json(Path({str(path)!r}), {{'rows': ['x' * 5000]}})"
    done = subprocess.run(
        [sys.executable, "-c", limit + code + write], cwd=DATA.parent, capture_output=True, text=True, check=False
    )
    assert "File too large" in done.stderr
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["d.json"]


def test_all_files_of_a_design(design: hl.Design, tmp_path: Path) -> None:
    names = {path.name for path in write_design_files(design, tmp_path)}
    assert names == {"design.xlsx", "design.json", *(f"{name}.csv" for name in design.tables)}
    assert names == {path.name for path in tmp_path.iterdir()}


def test_plots_take_and_return_axes_and_state_the_finding(design: hl.Design) -> None:
    loop = str(design.loops["loop"].iloc[0])
    for draw in (room_output, plot_balancing, index_path):
        given = style.axes()
        assert draw(design, given).axes is given
        assert given.get_title(loc="left")
        assert given.get_xlabel()
    for draw in (loop_temperature, loop_pressure):
        given = style.axes()
        assert draw(design, loop, given).axes is given
        assert loop in given.get_title(loc="left")
        assert "," in given.get_xlabel(), "label with its unit"
        assert "," in given.get_ylabel()
    worst = design.rooms.sort_values("margin_w").iloc[0]
    if (design.rooms["margin_w"] < 0).sum() == 1:
        title = room_output(design).axes.get_title(loc="left")
        assert title == f"{worst['room']} is {-worst['margin_w']:.0f} W short"


def test_an_unknown_loop_is_named(design: hl.Design) -> None:
    with pytest.raises(KeyError, match="no loop is called 'Nowhere'"):
        loop_temperature(design, "Nowhere")


def test_head_falls_along_a_loop_from_what_is_available_to_nothing(design: hl.Design) -> None:
    for row in design.loops.to_dict("records"):
        elements = design.elements[design.elements["loop"] == row["loop"]]
        xs, heads = zip(*pressure_path(elements), strict=True)
        assert heads[0] == pytest.approx(row["available_pressure_kpa"], abs=1e-6)
        assert heads[-1] == pytest.approx(0.0, abs=1e-6)
        assert all(b >= a - 1e-9 for a, b in pairwise(xs))
        assert all(b <= a + 1e-6 for a, b in pairwise(heads))


@pytest.mark.parametrize("room", ["Kitchen-diner", "Living room", "Hall", "Bathroom", "Landing"])
def test_room_plans_name_every_piece_joint_and_end(design: hl.Design, room: str) -> None:
    ax = room_plan.room_plan_plot(design, room).axes
    (key,) = ax.child_axes
    on_plan = [text.get_text() for text in ax.texts]
    beside = [text.get_text() for text in key.texts]
    pieces = [p for loop in design.layout.loops for p in loop.pieces if p.room == room]
    labels = {p.label.removeprefix(room).strip() for p in pieces}
    bare = {words.split("  ")[0] for words in on_plan}
    assert labels <= bare
    assert labels <= set(beside)
    elements = design.elements[
        (design.elements["room"] == room) & design.elements["kind"].isin(["piece", "floor section"])
    ]
    for _, row in elements.groupby(["label", "direction"]).first().iterrows():
        assert f"{row['inlet_temp_c']:.1f} to {row['outlet_temp_c']:.1f}" in beside
    drawn = {line.get_marker() for line in ax.lines}
    placed = (e for loop in design.layout.loops for arm in loop.arms for e in arm.elements if e.room == room)
    for kind in {e.kind for e in placed if isinstance(e, PlacedJoint | PlacedEnd)}:
        assert room_plan.MARKERS[kind][0] in drawn
        assert kind in " ".join(beside)


def test_the_plan_prints_why_an_angle_joint_stands_there(design: hl.Design) -> None:
    ax = room_plan.room_plan_plot(design, "Living room").axes
    beside = " ".join(text.get_text() for text in ax.child_axes[0].texts)
    assert "4 angle joints" in beside
    assert "7-8, 4-5: a turn of -45 degrees: a deliberate angle" in beside or (
        "8-7, 5-4: a turn of -45 degrees: a deliberate angle" in beside
    )
    kitchen = room_plan.room_plan_plot(design, "Kitchen-diner").axes.child_axes[0]
    words = [text.get_text() for text in kitchen.texts]
    for line in ("skirting, flow", "skirting, return", "crossing, plain pipe", "laid in the floor", "turn end"):
        assert line in words
    assert "4a-4b: past dining door, 1.14 m" in words


def test_no_words_of_a_plan_stand_on_each_other_or_leave_the_page(design: hl.Design) -> None:
    for room in design.survey.rooms:
        ax = room_plan.room_plan_plot(design, room.name).axes
        sheet = ax.get_figure()
        sheet.draw_without_rendering()
        texts = [t for a in (ax, *ax.child_axes) for t in a.texts if t.get_text()]
        boxes = [(t.get_text(), t.get_window_extent()) for t in texts if t.get_rotation() % 90.0 == 0.0]
        width, height = sheet.get_size_inches() * sheet.dpi
        for words, box in boxes:
            assert box.x0 >= -1.0, (room.name, words)
            assert box.x1 <= width + 1.0, (room.name, words)
            assert box.y0 >= -1.0, (room.name, words)
            assert box.y1 <= height + 1.0, (room.name, words)
        for (one, a), (other, b) in combinations(boxes, 2):
            over = (min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0))
            assert min(over) < 2.5, (room.name, one, other)


def test_level_plans_hold_all_rooms_with_walls(design: hl.Design) -> None:
    levels = rooms_by_storey(design.survey, design.layout)
    named = set()
    for level_m, rooms in levels.items():
        figure = storey_plan.level_plan_plot(design, level_m, rooms)
        named |= {text.get_text().split("\n")[0] for text in figure.axes.texts}
        assert figure.alt_text.startswith("Plan of")
    assert {room.room for room in design.layout.rooms if room.geometry} <= named


def test_paper_scale_lets_a_plan_fit_its_place() -> None:
    from heatloop.report.plans.room_outline import PLAN_HEIGHT_M, PLAN_WIDTH_M, SCALES, paper_scale

    for width_m, height_m in ((2.0, 1.5), (7.6, 4.8), (4.8, 7.6), (25.0, 11.0)):
        n = paper_scale(width_m, height_m)
        assert width_m / n <= PLAN_WIDTH_M
        assert height_m / n <= PLAN_HEIGHT_M
        smaller = [m for m in SCALES if m < n]
        assert all(width_m / m > PLAN_WIDTH_M or height_m / m > PLAN_HEIGHT_M for m in smaller)


def test_figures_carry_their_words_and_leave_nothing_open_in_pyplot() -> None:
    before = plt.get_fignums()
    ax = style.axes()
    ax.set_title("cost $5 and $6 <b>")
    html = Figure(ax, 'a "sum" <of> money')._repr_html_()
    assert 'alt="a &#34;sum&#34; &lt;of&gt; money"' in html
    assert 'src="data:image/svg+xml;base64,' in html
    assert plt.get_fignums() == before


def test_temperature_colours_darken_steadily_and_looks_differ_without_colour() -> None:
    shades = [style.TEMPERATURES(x)[:3] for x in np.linspace(0, 1, 33)]
    light = [0.2126 * r**2.2 + 0.7152 * g**2.2 + 0.0722 * b**2.2 for r, g, b in shades]
    assert all(b < a for a, b in pairwise(light))
    assert len({(look.line, look.marker) for look in style.LOOPS}) == len(style.LOOPS)
    assert style.FLOW.line != style.RETURN.line
    assert len({look.hatch for look in (style.LOSS, style.OUTPUT, style.SHORT)}) == 3
    assert all(to_rgb(look.colour) for look in style.LOOPS)


def test_nobody_elses_plot_settings_change(design: hl.Design) -> None:
    before = dict(plt.rcParams)
    room_output(design)
    assert dict(plt.rcParams) == before


def test_summary_rows_can_be_chosen(design: hl.Design) -> None:
    markup = summary_table(design.summary, ("pump_flow_l_h",)).markup
    assert "Pump flow" in markup
    assert "Heat loss" not in markup


def test_a_table_nobody_described_still_reads() -> None:
    frame = pd.DataFrame({"part": ["end"], "cut_length_m": [1.234]})
    markup = html_table(frame, "parts_to_come").markup
    assert table_description("parts_to_come").title == "Parts to come"
    assert "Cut length" in markup
    assert "1.23" in markup


def test_achieved_flows_stand_beside_their_targets(design: hl.Design) -> None:
    balancing = design.valves[design.valves["is_balancing"]]
    figure = achieved_flows.achieved_flows(design)
    ax = figure.axes
    widths = [patch.get_width() for patch in ax.patches]
    assert widths == pytest.approx(list(balancing["achieved_flow_l_h"]))
    marks = [line.get_xdata()[0] for line in ax.lines]
    assert marks == pytest.approx(list(balancing["target_flow_l_h"]))
    worst = balancing.loc[balancing["flow_error_percent"].abs().idxmax()]
    title = ax.get_title(loc="left")
    assert str(worst["loop"]) in title
    assert f"{abs(worst['flow_error_percent']):.1f} %" in title
    assert all(str(loop) in figure.alt_text for loop in balancing["loop"])


def test_a_missing_figure_of_the_summary_is_left_out(design: hl.Design) -> None:
    assert design.summary["pump_flow_water_only_l_h"] is None
    assert "plain water" not in summary_table(design.summary).markup


def test_gap_columns_follow_the_table() -> None:
    named = [column.name for column in TABLES["expansion_gaps"].columns]
    assert [f"gap_at_{temp_c}_c_mm" for temp_c in GAP_TEMPS_C] == named[3:]


def test_what_is_read_back_is_what_was_written(design: hl.Design, tmp_path: Path) -> None:
    summary, tables = read_json(write_json(tmp_path / "d.json", design.to_dict()))
    assert summary["project"] == design.summary["project"]
    assert list(tables["rooms"]["heat_to_rooms_w"]) == pytest.approx(list(design.rooms["heat_to_rooms_w"]), rel=1e-6)
    assert differences((design.summary, design.tables), (summary, tables)).empty


def test_tables_of_site_stand_in_every_file(design: hl.Design, tmp_path: Path) -> None:
    handover, pack = design.parts(), design.commissioning()
    first_fix = plan_first_fix(design.survey, design.layout)
    names = {path.name for path in write_design_files(design, tmp_path, handover, first_fix, pack)}
    everything = all_tables(design, handover, first_fix, pack)
    assert {f"{name}.csv" for name in everything} | {
        "design.json",
        "design.xlsx",
        "labels.html",
        "commissioning.html",
        "user-guide.html",
    } == names
    index = openpyxl.load_workbook(tmp_path / "design.xlsx", read_only=True)["Index"]
    listed = {row[0] for row in index.iter_rows(values_only=True)}
    assert {f"{name}.csv" for name in everything} <= listed
    held = json.loads((tmp_path / "design.json").read_text(encoding="utf-8"))
    assert {name: len(frame) for name, frame in everything.items()} == {name: len(held[name]) for name in everything}


def test_spare_wall_is_no_remedy_where_there_is_none(design: hl.Design) -> None:
    spare = dict(zip(design.rooms["room"], design.rooms["free_wall_m"], strict=True))
    cold = design.checks[(design.checks["check"] == "heat to the room") & (design.checks["verdict"] == "fail")]
    assert len(cold)
    for row in cold.to_dict("records"):
        assert ("free wall" in row["recommendation"]) == (spare[row["location"]] > 0)
