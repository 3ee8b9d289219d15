"""The printable sheet of commissioning and handover: A4 leaves that stand alone, made from a pack of tables.

It reads the pack and computes nothing. Cautions stand beside the work they belong to, and all of them at the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from importlib import resources

import pandas as pd

from heatloop.findings.safety import DEFERENCE, cautions_for
from heatloop.handover.commissioning.pack import Pack
from heatloop.report.pages.sections import cautions
from heatloop.report.pages.site_tables import sheet_table
from heatloop.text.formatting import number, printable

MOST_TOGETHER = 14
"""Rows up to which a table is kept on one page."""

SIGNATURES = ("Commissioned by, date", "Electrical work by, date", "Handed over to, date")


def sheet_html(pack: Pack) -> str:
    """The whole document: commissioning, settings, filling, pressures, treatment, user's page, cautions."""
    css = resources.files("heatloop.report.pages").joinpath("sheet.css").read_text(encoding="utf-8")
    title = printable(pack.summary["project"])
    leaves = (
        _leaf(_head(title), _unfit(pack), _facts(pack), _commissioning(pack), _signatures()),
        _leaf(_weather(pack), _plain(pack, "surfaces"), _settings(pack), _water_record(pack)),
        _leaf(_filling(pack), _purge(pack)),
        _leaf(
            _pressures(pack),
            _plain(pack, "contents"),
            _plain(pack, "handover_checks"),
            _treatment(pack),
            _plain(pack, "doses"),
        ),
        _leaf(_yearly(pack)),
        _leaf(_plain(pack, "user_page", ["topic", "text"]), "<h2>Cautions</h2>", cautions().markup),
    )
    return (
        '<!doctype html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{escape(title)}: commissioning and handover</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        f"<main>\n{''.join(leaves)}</main>\n<footer>Made by heatloop from the survey; change the survey and make it "
        f"again. {escape(DEFERENCE)}</footer>\n</body>\n</html>\n"
    )


def _leaf(*parts: str) -> str:
    return f'<section class="leaf">{"".join(parts)}</section>\n'


def _titled(pack: Pack, table: str, markup: str, most: int = MOST_TOGETHER) -> str:
    """A part of the pack: its title, what it says, the cautions that go with it, its table. Nothing where it has
    no rows; one of up to `most` rows stays on one page."""
    section = next(section for section in pack.sections if section.table == table)
    rows = len(pack.frames[table])
    if rows == 0:
        return ""
    kept = " short" if rows <= most else ""
    return (
        f'<div class="part{kept}"><h2>{escape(section.title)}</h2><p class="about">{escape(section.about)}</p>'
        f"{_read_first(section.cautions)}{markup}</div>"
    )


def _plain(pack: Pack, table: str, columns: Sequence[str] | None = None) -> str:
    """A part whose table needs no dressing."""
    return _titled(pack, table, sheet_table(pack.frames[table], table, columns))


def _read_first(titles: Iterable[str]) -> str:
    shown = cautions_for(titles)
    if not shown:
        return ""
    told = "".join(f"<p><b>{escape(c.title)}.</b> {escape(c.text)}</p>" for c in shown)
    return f'<div class="read-first" role="note">{told}</div>'


def _fact(words: str, value: float | None, unit: str, decimals: int = 0, more: str = "") -> str:
    after = f" <small>{escape(more)}</small>" if more else ""
    return f"<div><dt>{escape(words)}</dt><dd>{number(value, decimals)} {escape(unit)}{after}</dd></div>"


def _facts(pack: Pack) -> str:
    facts, low, high = pack.summary, pack.pressures.least_fill_kpa, pack.pressures.most_fill_kpa
    fill = f"{number(low)} to {number(high)}"
    rows = (
        _fact("Outdoors", facts["outdoor_c"], "°C", 1),
        _fact("Flow temperature", facts["flow_temp_c"], "°C", 1, facts["flow_temp_from"]),
        _fact("Load", 100.0 * facts["load_share"], "%", 0, "of the design"),
        _fact("Water content", facts["content_l"], "l", 1),
        _fact("Precharge of the vessel", facts["precharge_kpa"], "kPa"),
        _fact("Cold fill pressure", facts["fill_kpa"], "kPa", 0, fill),
        _fact("Gauge today when warm", facts["running_kpa"], "kPa"),
        _fact("Relief valve", facts["relief_kpa"], "kPa"),
        _fact("Pump head", facts["pump_head_kpa"], "kPa", 1),
        _fact("Pump flow", facts["pump_flow_l_h"], "l/h"),
        _fact("Strength test", facts["test_kpa"], "kPa"),
        "<div><dt>Read today: outdoors, flow</dt><dd>______ °C, ______ °C</dd></div>",
    )
    return f'<dl class="facts">{"".join(rows)}</dl>'


WIDTHS_MM = {
    "loop": 26.0, "valve": 38.0, "real_setting": 12.0, "target_flow_l_h": 10.0, "flow_today_l_h": 10.0,
    "flow_temp_c": 9.0, "return_temp_c": 10.0, "heads_off_flow_l_h": 10.0,
    "heads_off_return_temp_c": 11.0, "setting_as_left": 10.0, "flow_found_l_h": 10.0, "flow_temp_found_c": 10.0,
    "return_temp_found_c": 10.0, "initials": 10.0,
}  # fmt: skip


def _head(title: str) -> str:
    return (
        f'<header><p class="kind">Commissioning sheet</p><h1>{escape(title)}</h1><p class="day">Date ____________</p>'
        "</header>"
    )


def _unfit(pack: Pack) -> str:
    """What the design or its closed system fails, so that nobody sets up what is not ready to build."""
    return f'<p class="unfit">✗ {escape(pack.unfit)}</p>' if pack.unfit else ""


def _commissioning(pack: Pack) -> str:
    boxes = ("setting_as_left", "flow_found_l_h", "flow_temp_found_c", "return_temp_found_c", "initials")
    table = sheet_table(
        pack.frames["commissioning"],
        "commissioning",
        [name for name in WIDTHS_MM if name not in boxes],
        under={"loop": ("arm", "rooms"), "valve": ("other_settings", "valve_drop_kpa"), "real_setting": ("setting",)},
        boxes=boxes,
        widths_mm=WIDTHS_MM,
    )
    return _titled(pack, "commissioning", table, most=0)


def _signatures() -> str:
    return f'<div class="signs">{"".join(f"<p>{escape(words)}</p>" for words in SIGNATURES)}</div>'


def _weather(pack: Pack) -> str:
    return _titled(pack, "part_load", _by_weather(pack.frames["part_load"]))


def _settings(pack: Pack) -> str:
    table = sheet_table(pack.frames["settings_as_left"], "settings_as_left", boxes=("as_left",))
    return _titled(pack, "settings_as_left", table)


def _water_record(pack: Pack) -> str:
    boxes = ("at_fill", "after_4_weeks", "after_1_year")
    table = sheet_table(pack.frames["water_record"], "water_record", ["item", "target", "unit"], boxes=boxes)
    return _titled(pack, "water_record", table)


def _by_weather(frame: pd.DataFrame) -> str:
    """One row a loop, for each outdoor temperature its flow and return."""
    outdoors = list(dict.fromkeys(frame["outdoor_c"]))
    head = "".join(
        f'<th scope="col" class="n">{number(t)} °C<span class="unit"> outdoors</span></th>' for t in outdoors
    )
    rows = []
    for loop, group in frame.groupby("loop", sort=False):
        cells = (
            f'<td class="n">{number(row["flow_temp_c"], 1)} / {number(row["return_temp_c"], 1)} °C'
            f'<span class="under">{number(row["flow_l_h"])} l/h</span></td>'
            for row in group.to_dict("records")
        )
        rows.append(f'<tr><th scope="row">{escape(printable(loop))}</th>{"".join(cells)}</tr>')
    return (
        f'<table><thead><tr><th scope="col">Loop, flow / return</th>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def _filling(pack: Pack) -> str:
    steps = pack.frames["fill_and_vent"]
    table = sheet_table(
        steps,
        "fill_and_vent",
        ["step", "stage", "loop", "action", "caution"],
        under={"loop": ("arm", "level_m")},
        ticks=("done",),
        widths_mm={"step": 9.0, "stage": 19.0, "loop": 26.0, "caution": 36.0, "done": 11.0},
    )
    return _titled(pack, "fill_and_vent", table)


def _purge(pack: Pack) -> str:
    table = sheet_table(
        pack.frames["purge"],
        "purge",
        ["loop", "sweep_m_s", "purge_flow_l_h", "slowest", "head_kpa", "pump_head_kpa", "pump_sweep_m_s",
         "hose_needed_kpa", "drive"],
        under={"loop": ("arm",)},
        widths_mm={"drive": 32.0},
    )  # fmt: skip
    return _titled(pack, "purge", table)


def _pressures(pack: Pack) -> str:
    table = sheet_table(pack.frames["pressures"], "pressures", widths_mm={"quantity": 45.0, "formula": 60.0})
    return _titled(pack, "pressures", table)


def _treatment(pack: Pack) -> str:
    return _titled(pack, "treatment", sheet_table(pack.frames["treatment"], "treatment", widths_mm={"what": 75.0}))


def _yearly(pack: Pack) -> str:
    table = sheet_table(
        pack.frames["yearly_checks"],
        "yearly_checks",
        ["check", "look_for", "by", "caution"],
        boxes=("done",),
        widths_mm={"check": 40.0, "by": 23.0, "caution": 34.0, "done": 22.0},
    )
    return _titled(pack, "yearly_checks", table)
