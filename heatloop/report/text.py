"""A design as plain text of at most 100 columns: rooms, loops, what fails, and the sum of it.

Reads well without colour, in a pipe and in a file; nothing here imports the drawing library.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from heatloop.report.columns import SUMMARY, Column, table_spec
from heatloop.report.findings import changes
from heatloop.report.tables import cell_text, chosen, is_missing
from heatloop.wording import plural, printable, shortened

WIDTH = 100
GAP = "  "

# Headings short enough for a terminal; the full ones are in the report.
_SHORT = {
    "flow_temp_c": "In, °C",
    "return_temp_c": "Back, °C",
    "delta_t_k": "Drop, K",
    "output_w": "Output, W",
    "heat_loss_w": "Loss, W",
    "heated_length_m": "Length, m",
    "pressure_drop_kpa": "Drop, kPa",
    "max_velocity_m_s": "Most m/s",
    "valve_setting": "Preset",
    "coverage": "Covers, %",
    "spare_wall_m": "Spare, m",
    "index": "Index",
}
LOOP_COLUMNS = (
    "loop",
    "flow_l_h",
    "flow_temp_c",
    "return_temp_c",
    "delta_t_k",
    "output_w",
    "pressure_drop_kpa",
    "max_velocity_m_s",
    "valve_setting",
)
ROOM_COLUMNS = ("room", "indoor_c", "heat_loss_w", "output_w", "margin_w", "coverage", "heated_length_m")
SUMMARY_ROWS = (
    "heat_loss_w",
    "output_w",
    "source_w",
    "source_output_kw",
    "pump_flow_l_h",
    "pump_head_kpa",
    "pump_head_available_kpa",
    "index_loop",
    "system_water_l",
)


def text_table(frame: pd.DataFrame, name: str, columns: Sequence[str]) -> str:
    """Those columns of a table as aligned plain text, a rule under the headings; the names in the
    first column are shortened where the line would be too long."""
    shown = chosen(frame, table_spec(name), columns)
    heads = [_SHORT.get(c.name, c.full_heading) for c in shown]
    rows = [
        [cell_text(c, v) for c, v in zip(shown, row, strict=True)]
        for row in frame[list(columns)].itertuples(index=False)
    ]
    widths = [max(map(len, texts)) for texts in zip(heads, *rows, strict=True)]
    widths[0] = min(widths[0], WIDTH - sum(width + len(GAP) for width in widths[1:]))
    rows = [[shortened(row[0], widths[0]), *row[1:]] for row in rows]
    lines = [_aligned(shown, heads, widths), _aligned(shown, ["-" * w for w in widths], widths)]
    return "\n".join(lines + [_aligned(shown, row, widths) for row in rows])


def _aligned(columns: Sequence[Column], texts: Sequence[str], widths: Sequence[int]) -> str:
    cells = [
        text.ljust(width) if column.kind in ("text", "flag", "verdict") else text.rjust(width)
        for column, text, width in zip(columns, texts, widths, strict=True)
    ]
    return GAP.join(cells).rstrip()


def change_lines(checks: pd.DataFrame, verdict: str) -> list[str]:
    """One entry for each thing to mend (`fail`) or to watch (`caution`): where, what and the remedy."""
    return [
        textwrap.fill(f"{c.where}, {c.what}. {c.remedy}", WIDTH, initial_indent="  - ", subsequent_indent="    ")
        for c in changes(checks)
        if c.verdict == verdict
    ]


def summary_lines(summary: Mapping[str, Any]) -> list[str]:
    """The system in figures, one line each."""
    known = {column.name: column for column in SUMMARY}
    given = [n for n in SUMMARY_ROWS if n in summary and not is_missing(summary[n])]
    rows = [(known[n].heading, cell_text(known[n], summary[n]), known[n].unit) for n in given]
    wide = max(len(heading) for heading, _, _ in rows)
    return [f"  {heading.ljust(wide)}  {text} {unit}".rstrip() for heading, text, unit in rows]


def verdict_line(summary: Mapping[str, Any]) -> str:
    """The verdict in a sentence."""
    failed, cautions = int(summary["checks_failed"]), int(summary["checks_caution"])
    also = f"; {plural(cautions, 'caution')}" if cautions else ""
    if failed:
        return f"NOT READY: {plural(failed, 'check fails', 'checks fail')}{also}."
    return f"READY: every limit is met{also}."


def design_text(summary: Mapping[str, Any], tables: Mapping[str, pd.DataFrame]) -> str:
    """The whole listing; `tables` holds `loops`, `rooms` and `checks`."""
    project = printable(summary["project"])
    parts = [
        f"{project}: flow {cell_text(_DEGREES, summary['flow_temp_c'])} °C, "
        f"outdoors {cell_text(_DEGREES, summary['outdoor_c'])} °C",
        "",
        "Rooms",
        text_table(tables["rooms"], "rooms", ROOM_COLUMNS),
        "",
        "Loops",
        text_table(tables["loops"], "loops", LOOP_COLUMNS),
        "",
        "System",
        *summary_lines(summary),
    ]
    for verdict, heading in (("fail", "Checks that fail"), ("caution", "Cautions")):
        lines = change_lines(tables["checks"], verdict)
        if lines:
            parts += ["", heading, *lines]
    return "\n".join([*parts, "", verdict_line(summary)])


_DEGREES = Column("temp_c", "Temperature", "°C", "number", 1)
