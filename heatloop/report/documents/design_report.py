"""The first page of the design report: verdict, plans, rooms, loops, plant and basis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from importlib import resources
from typing import Any

from heatloop.findings.limits import YES_OR_NO, CheckResult
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.title_block import DocumentSheet, running_line, title_block_css
from heatloop.report.documents.document import (
    DOCUMENTS,
    DocumentContent,
    DocumentPaper,
    Numbering,
    bar_text,
    css_string,
    document_body,
    printed,
)
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.report.plans.level_svg import fitted_scale, floor_key, level_plans
from heatloop.results.checks.heat_checks import ROOM_WARM
from heatloop.results.checks.signs import limit_signs
from heatloop.results.design import DesignResult
from heatloop.results.summaries import (
    heat_loss_basis,
    loops_in_transition,
    mixed_words,
    rating_basis,
    room_state,
    transition_statement,
)
from heatloop.text.formatting import (
    VERDICT_MARKS,
    is_missing,
    percent,
    short_listing,
    significant,
    unit_text,
    yes_or_no_text,
)

DESIGN_REPORT = DocumentPaper("DR")

SHOWN_CAUTIONS = 4
ALL_COLUMNS, TWO_BLOCKS = 12, 24
"""Rooms up to which the table has all columns, and up to which it is in two blocks."""
ALL_LOOPS, NEAREST = 8, 3
"""Loops up to which all are shown; beyond, the index loop and so many with the least valve drop after it."""
PAGE_MM, STRIP_MM = 178.0, 47.0


@dataclass(frozen=True)
class Finding:
    """One check that is not met, in words: location, check, calculated value with its limit, and recommendation."""

    outcome: str
    mark: str
    where: str
    what: str
    found: str
    remedy: str


def front_page(
    design: DesignResult, pack: CommissioningResult, control: DocumentControl, numbers: Numbering
) -> HtmlFragment:
    """Page one of the report; tables and figures of the following pages go on from `numbers`."""
    rows = design.frames["rooms"].to_dict("records")
    rooms = [
        {
            **row,
            "state": room_state(row),
            "margin_min_w": row["margin_w"] - row["heat_to_rooms_w"] + row["output_min_w"],
        }
        for row in rows
    ]
    several = len(rooms) > ALL_COLUMNS
    shown = rooms if len(rooms) <= TWO_BLOCKS else sorted(rooms, key=lambda row: row["coverage"])[:ALL_COLUMNS]
    half = -(-len(shown) // 2)
    loops = _loops(design)
    findings = list(_findings(design))
    fails = [finding for finding in findings if finding.outcome == "fail"]
    cautions = [finding for finding in findings if finding.outcome == "caution"]
    levels = max(1, len(rooms_by_storey(design.survey, design.layout)))
    size = (PAGE_MM / max(2, levels) - 3.0, STRIP_MM)
    return document_body(
        DESIGN_REPORT,
        control,
        design.verdict,
        DocumentContent(
            "page_one.html",
            {
                "fails": fails,
                "cautions": cautions[:SHOWN_CAUTIONS],
                "more": len(cautions) - SHOWN_CAUTIONS,
                "limits": len(design.frames["checks"]) + len(pack.frames["commissioning_checks"]),
                "plans": level_plans(design, size, None, fitted_scale(design, size)),
                "key": floor_key(design),
                "blocks": [shown[:half], shown[half:]] if several else [shown],
                "several": several,
                "more_rooms": len(rooms) - len(shown),
                "total": {
                    name: sum(row[name] for row in rows) for name in ("heat_loss_w", "heat_to_rooms_w", "margin_w")
                },
                "marks": {"warm": "✓", "tight": "▲", "short": "✗"},
                "loops": loops,
                "mixed": mixed_words(design.facts, design.frames["loops"]),
                "more_loops": len(design.frames["loops"]) - len(loops),
                "plant": list(_plant(design, pack, brief=several)),
                "basis": list(_basis(design)),
                "outdoor_c": design.facts["outdoor_c"],
            },
        ),
        numbers=numbers,
    )


def _findings(design: DesignResult) -> Iterator[Finding]:
    """Checks that are not met, each once, failed checks first."""
    checks = (*design.verdict.fails, *design.verdict.cautions)
    signs = limit_signs([asdict(result) for result in checks])
    groups: dict[tuple[str, str, float, str], list[tuple[CheckResult, str]]] = {}
    for result, sign in zip(checks, signs, strict=True):
        groups.setdefault((result.verdict, result.check, result.limit, result.unit), []).append((result, sign))
    for (outcome, check, limit, unit), members in groups.items():
        values = [_figure(result, result.calculated) for result, _ in members]
        text = short_listing(dict.fromkeys(values), 3)
        remedy = members[0][0].recommendation
        yield Finding(
            outcome,
            VERDICT_MARKS[outcome],
            short_listing([result.location for result, _ in members], 3),
            check,
            f"{text}, {'required' if unit == YES_OR_NO else f'limit {members[0][1]}'} {_figure(members[0][0], limit)}",
            f"{remedy[:1].upper()}{remedy[1:]}".rstrip(".") + "." if remedy else "",
        )


def _figure(result: CheckResult, value: float) -> str:
    if result.check == ROOM_WARM.check:
        return f"{percent(value)} %"
    if result.unit == YES_OR_NO:
        return yes_or_no_text(value)
    return f"{significant(value)} {unit_text(result.unit)}".strip().replace("-", "−")


def _loops(design: DesignResult) -> list[dict[Any, Any]]:
    """Rows of loops with the marks of their balancing valves."""
    valves = design.frames["valves"]
    rows = []
    for row in design.frames["loops"].to_dict("records"):
        own = valves[(valves["loop"] == row["loop"]) & valves["is_balancing"]]
        marks = ", ".join("–" if is_missing(setting) else f"{setting:g}" for setting in own["nearest_setting"])
        rows.append({**row, "marks": marks or "–"})
    if len(rows) <= ALL_LOOPS:
        return rows
    ordered = sorted(rows, key=lambda row: (not row["is_index_loop"], row["valve_pressure_drop_kpa"]))
    return ordered[: 1 + NEAREST]


def _plant(design: DesignResult, pack: CommissioningResult, brief: bool) -> Iterator[tuple[str, str, str]]:
    """What, designed, limit with its sign; pressures in bar. `brief` leaves out the setting of the pump."""
    facts, pressures, source = design.facts, pack.pressures, design.survey.source

    def limit(sign: str, value: Any, unit: str, decimals: int = 1) -> str:
        return "–" if is_missing(value) else f"{sign} {printed(float(value), decimals)} {unit}"

    drawn_kw = float(facts["source_heat_w"]) / 1000.0
    yield (
        "Heat from the source, no thermostatic valve closed",
        f"{printed(drawn_kw, 2)} kW",
        limit("≤", facts["source_output_kw"], "kW"),
    )
    yield (
        "Building load and losses outside the rooms",
        f"{printed(float(facts['source_required_w']) / 1000.0, 2)} kW",
        limit("≤", facts["source_output_kw"], "kW"),
    )
    temps = f"{printed(float(facts['flow_temp_c']), 1)}, {printed(float(facts['return_temp_c']), 1)} °C"
    yield "Flow temp., return temp.", temps, limit("flow ≤", source.max_flow_temp_c, "°C", 0)
    yield (
        f"Pump head required at {printed(float(facts['pump_flow_l_h']))} l/h"
        + ("" if brief else "; limit: available head"),
        f"{printed(float(facts['pump_head_kpa']), 1)} kPa",
        limit("≤", facts["pump_head_available_kpa"], "kPa"),
    )
    if facts["pump_control"] and not brief:
        yield "Pump setting", str(facts["pump_control"]), ""
    fill = f"{bar_text(pressures.min_fill_kpa)} to {bar_text(pressures.max_fill_kpa)} bar"
    yield "Cold fill pressure", f"{bar_text(pressures.fill_kpa)} bar", fill
    yield (
        f"Precharge, vessel of {printed(pressures.vessel_l)} l",
        f"{bar_text(pack.facts['precharge_kpa'])} bar",
        (f"≥ {bar_text(pressures.static_kpa + pressures.margin_kpa)} bar"),
    )
    yield "Pressure when hot", f"{bar_text(pressures.hot_kpa)} bar", f"≤ {bar_text(pressures.final_kpa)} bar"
    yield "Water content", f"{printed(float(facts['water_content_l']), 1)} l", ""


def _basis(design: DesignResult) -> Sequence[str]:
    project, facts, elements = design.survey.project, design.facts, design.frames["elements"]
    return (
        heat_loss_basis(design.survey),
        f"{printed(float(facts['outdoor_c']), 1)} °C outdoors (survey); every room at its design temperature.",
        "Steady state at design conditions, without heating-up, sun, people or appliances.",
        f"{rating_basis(design.survey)} The water leaves the source at {printed(project.flow_temp_c, 1)} °C.",
        *([transition_statement(elements)] if loops_in_transition(elements) else []),
        "Flow rates, temperatures and pressures are for calculated valve settings; the settings on this page are the "
        "nearest whole ones.",
    )


READABLE = 0.9
"""A figure is printed at least at this share of its own size: its smallest letters are then 6.5 pt high."""
FEW_ROOMS = 2
"""A report of so few rooms is printed closer, with smaller figures."""


def front_css(control: DocumentControl, rooms: int) -> str:
    """The style of the first page inside the page of the report, and the running line at the foot of all pages."""
    own = resources.files(DOCUMENTS).joinpath("document.css").read_text(encoding="utf-8").replace(":root", "&")
    foot = css_string(running_line(control, DocumentSheet(DESIGN_REPORT.code)))
    font = 'font: 7pt "Liberation Sans", Arial, sans-serif; color: #333;'
    text_pt, figure_mm, plan_mm = (8.0, 44, 60) if rooms <= FEW_ROOMS else (8.5, 96, 104)
    return f"""
.front {{ {own} {title_block_css()} font: 8.6pt/1.25 "Liberation Sans", Arial, sans-serif; break-after: page; }}
.front h2, .front h3 {{ border: 0; padding: 0; margin: 1.2mm 0 .4mm; font-size: 9.4pt; }}
.front p, .front li {{ max-width: none; }}
.number {{ font-weight: 700; }}
@media screen {{ .front {{ overflow-x: auto; }} }}
@media screen and (max-width: 150mm) {{ .front .strip {{ grid-auto-flow: row; }} }}
@media print {{
  html {{ font-size: {text_pt:g}pt; }}
  h2 {{ margin-top: 1rem; }}
  p {{ max-width: none; }}
  table {{ font-size: 7.1pt; line-height: 1.15; }}
  table.wide {{ font-size: 6.8pt; }}
  th, td {{ padding-top: .08rem; padding-bottom: .08rem; }}
  tbody tr:first-child > * {{ padding-top: .3rem; }}
  figure {{ margin: .4rem 0 .5rem; }}
  figure img {{ max-height: min(222mm, max({figure_mm}mm, calc(var(--high, 0mm) * {READABLE:g}))); }}
  figure img[alt^="Plan "] {{ max-height: min(222mm, max({plan_mm}mm, calc(var(--high, 0mm) * {READABLE:g}))); }}
  figcaption, .meanings {{ font-size: 6.8pt; line-height: 1.2; margin: .1rem 0 .4rem; }}
  nav {{ font-size: 7.5pt; }}
}}
@page {{ margin: 10mm 12mm 14mm 20mm;
  @bottom-left {{ content: {foot}; {font} }}
  @bottom-right {{ content: "page " counter(page) " of " counter(pages); {font} }} }}
"""
