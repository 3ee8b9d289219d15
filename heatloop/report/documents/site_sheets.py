"""The printable sheet of commissioning and handover: A4 leaves that stand alone, made from a pack of tables.

It reads the pack and calculates nothing. Safety notices are beside the work that they concern, and all at the end.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources

import pandas as pd
from markupsafe import Markup

from heatloop.findings.safety import DEFERENCE, cautions_for
from heatloop.handover.commissioning.pack import PACK_SUMMARY, CommissioningResult
from heatloop.handover.commissioning.tables import BOXES, PART_LOAD
from heatloop.report.columns.shown import SHEET
from heatloop.report.documents.site_tables import PLAIN, Dressing, sheet_table
from heatloop.report.pages.html_tables import HtmlFragment, part
from heatloop.report.pages.sections import safety_notices_html
from heatloop.text.formatting import cell_text
from heatloop.text.html import Cell, Heading, HtmlTable, table_html

MAX_TOGETHER = 14
"""Rows up to which a table is kept on one page."""

SIGNATURES = ("Commissioned by, date", "Electrical work by, date", "Handed over to, date")

AT_THE_HEAD = (
    "outdoor_c", "flow_temp_c", "load_share", "water_content_l", "precharge_kpa", "fill_kpa", "running_kpa",
    "relief_kpa",
    "pump_head_kpa", "pump_flow_l_h", "test_kpa",
)  # fmt: skip
"""Figures at the head of the sheet."""

LEAVES = (
    ("commissioning",),
    ("part_load", "surface_temperatures", "settings_as_left", "water_record"),
    ("fill_and_vent", "purging"),
    ("pressures", "water_content", "commissioning_checks", "treatment", "doses"),
    ("annual_checks",),
    ("user_guide",),
)
"""Parts of the pack leaf by leaf; each leaf begins a page."""

DRESSINGS: Mapping[str, Dressing] = {
    "commissioning": Dressing(
        under={
            "loop": ("arm", "rooms"), "valve": ("other_settings", "valve_pressure_drop_kpa"),
            "set_to": ("calculated_setting",),
            "flow_heads_removed_l_h": ("min_flow_l_h", "max_flow_l_h"),
        },
        boxes=tuple(box.name for box in BOXES),
        references=("target_flow_l_h",),
        widths_mm={
            "loop": 26.0, "valve": 38.0, "set_to": 12.0, "flow_heads_removed_l_h": 19.0, "expected_flow_temp_c": 9.0,
            "return_temp_heads_removed_c": 11.0, "target_flow_l_h": 14.0,
            **dict.fromkeys((box.name for box in BOXES), 10.0),
        },
    ),
    "settings_as_left": Dressing(boxes=("as_left",)),
    "water_record": Dressing(boxes=("at_fill", "after_4_weeks", "after_1_year")),
    "fill_and_vent": Dressing(
        under={"loop": ("arm", "level_m")},
        ticks=("done",),
        widths_mm={"step": 9.0, "stage": 19.0, "loop": 26.0, "safety_notices": 36.0, "done": 11.0},
    ),
    "purging": Dressing(under={"loop": ("arm",)}, widths_mm={"drive": 32.0}),
    "pressures": Dressing(widths_mm={"quantity": 45.0, "formula": 60.0}),
    "treatment": Dressing(widths_mm={"what": 75.0}),
    "annual_checks": Dressing(
        boxes=("done",), widths_mm={"check": 40.0, "responsible": 23.0, "safety_notices": 34.0, "done": 22.0}
    ),
}  # fmt: skip
"""What the tables of the sheet have beside their figures; the others stand plain."""


def sheet_html(pack: CommissioningResult) -> str:
    """The whole document: commissioning, settings, filling, pressures, treatment, user's page, cautions."""
    css = resources.files("heatloop.report.documents").joinpath("sheet.css").read_text(encoding="utf-8")
    return part(
        "sheet.html",
        css=Markup(css),
        title=pack.facts["project"],
        verdict=pack.verdict,
        figures=_figures(pack),
        leaves=[[_part(pack, name) for name in names if not pack.frames[name].empty] for names in LEAVES],
        signatures=SIGNATURES,
        cautions=safety_notices_html(),
        deference=DEFERENCE,
    ).markup


def _part(pack: CommissioningResult, name: str) -> Markup:
    """A part of the pack: its title, what it says, the cautions that go with it, its table. A short one stays on one
    page."""
    section = next(section for section in pack.sections if section.table == name)
    frame = pack.frames[name]
    if name == PART_LOAD.name:
        table = _by_weather(frame)
    else:
        table = sheet_table(frame, name, SHEET.get(name), DRESSINGS.get(name, PLAIN))
    short = len(frame) <= MAX_TOGETHER and name != "commissioning"
    notices = cautions_for(section.cautions)
    return Markup(part("sheet_part.html", section=section, cautions=notices, table=table, short=short).markup)


def _figures(pack: CommissioningResult) -> list[tuple[str, str, str, str]]:
    """Heading, value, unit and a word more of every figure at the head of the sheet."""
    columns = {column.name: column for column in PACK_SUMMARY}
    fill = next(column for column in PACK_SUMMARY if column.name == "fill_kpa")
    low, high = (cell_text(fill, end) for end in (pack.pressures.min_fill_kpa, pack.pressures.max_fill_kpa))
    more = {"flow_temp_c": pack.facts["flow_temp_from"], "fill_kpa": f"{low} to {high}"}
    return [
        (column.heading, cell_text(column, pack.facts[name]), column.unit, more.get(name, column.meaning))
        for name, column in ((name, columns[name]) for name in AT_THE_HEAD)
    ]


def _by_weather(frame: pd.DataFrame) -> HtmlFragment:
    """One row a loop, for each outdoor temperature its flow and return."""
    outdoor, flow, back, litres = (
        PART_LOAD.column(name) for name in ("outdoor_c", "flow_temp_c", "return_temp_c", "flow_l_h")
    )
    days = dict.fromkeys(frame["outdoor_c"])
    headings = (
        Heading("Loop, flow / return"),
        *(Heading(f"{cell_text(outdoor, day)} {outdoor.unit} outdoors", css="n") for day in days),
    )
    rows = []
    for loop, group in frame.groupby("loop", sort=False):
        cells = [
            Cell(
                f"{cell_text(flow, row['flow_temp_c'])} / {cell_text(back, row['return_temp_c'])} {back.unit}",
                "n",
                under=(f"{cell_text(litres, row['flow_l_h'])} {litres.unit}",),
            )
            for row in group.to_dict("records")
        ]
        rows.append((Cell(str(loop), heads=True), *cells))
    return HtmlFragment(table_html(HtmlTable(headings, tuple(rows))))
