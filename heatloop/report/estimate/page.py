"""The estimate before a survey as one self-contained page of A4."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heatloop.results.estimate import BY_ROOM, BY_TEMPERATURE, WALL_WORDS, EstimateResult, estimate_title
from heatloop.text.formatting import escape_control_characters, number
from heatloop.text.html import Cell, Heading, HtmlTable, rendered, table_html

MARKER = "heatloop estimate"

OUTCOMES = {"yes": "pass", "probably": "caution", "no": "fail"}


def estimate_page(estimate: EstimateResult) -> str:
    """The page: answer, requirements at each flow temperature, each room, and the causes of the range."""
    from markupsafe import Markup  # here, as the templates are loaded when they are needed

    rows = estimate.frames[BY_TEMPERATURE.name].to_dict("records")
    facts = estimate.facts
    best = next((outcome for outcome in ("yes", "probably") if any(row["answer"] == outcome for row in rows)), "no")
    return rendered(
        "heatloop.report.estimate",
        "estimate.html",
        marker=MARKER,
        title=escape_control_characters(estimate_title(estimate.facts)),
        outcome=OUTCOMES[best],
        answer=estimate.answer,
        facts=f"Outdoor {number(facts['outdoor_c'], 1)} °C; heat loss of all rooms {number(facts['heat_loss_w'])} W.",
        temperatures=Markup(table_html(_temperatures(rows, str(facts["currency"])))),
        rooms=Markup(table_html(_rooms(estimate))),
        assumptions=estimate.assumptions,
    )


def _range(row: Mapping[Any, Any], key: str, unit: str, decimals: int) -> Cell:
    """A figure with its range below it; a dash where there is none."""
    value, low, high = (float(row[name]) for name in (key, *_ends(key, unit)))
    if value != value:
        return Cell("–", "n")
    return Cell(number(value, decimals), "n", under=(f"{number(low, decimals)} to {number(high, decimals)}",))


def _ends(key: str, unit: str) -> tuple[str, str]:
    stem = key.removesuffix(unit)
    return f"{stem}_min{unit}", f"{stem}_max{unit}"


def _temperatures(rows: list[dict[Any, Any]], currency: str) -> HtmlTable:
    headings = [
        Heading("Flow temp.", "°C", "n"), Heading("Wall"), Heading("Skirting needed", "m", "n"),
        Heading("Available wall", "m", "n"), Heading("Rooms with too little wall", css="n"),
        Heading("Rooms with perhaps too little", css="n"),
    ]  # fmt: skip
    if currency:
        headings.append(Heading("Price, about", currency, "n"))
    table_rows = []
    for row in rows:
        note = (str(row["note"]),) if row["note"] else ()
        cells = [
            Cell(number(row["flow_temp_c"]), "n", heads=True),
            Cell(WALL_WORDS[row["answer"]], verdict=OUTCOMES[row["answer"]], under=note),
            _range(row, "needed_m", "_m", 1), Cell(number(row["available_m"], 1), "n"),
            Cell(number(row["rooms_with_too_little_wall"]), "n"), Cell(number(row["rooms_doubtful"]), "n"),
        ]  # fmt: skip
        table_rows.append(tuple([*cells, _range(row, "price", "", 0)] if currency else cells))
    return HtmlTable(tuple(headings), tuple(table_rows), "By flow temperature")


def _rooms(estimate: EstimateResult) -> HtmlTable:
    """Metres required and available in each room at each temperature."""
    held = estimate.frames[BY_ROOM.name].to_dict("records")
    temperatures = list(dict.fromkeys(row["flow_temp_c"] for row in held))
    names = list(dict.fromkeys(row["room"] for row in held))
    at = {(row["room"], row["flow_temp_c"]): row for row in held}
    headings = (
        Heading("Room"), Heading("Heat loss", "W", "n"), Heading("Available wall", "m", "n"),
        *(Heading(f"{number(temp)} °C", "m", "n") for temp in temperatures),
    )  # fmt: skip
    rows = []
    for name in names:
        own = [at[name, temp] for temp in temperatures if (name, temp) in at]
        cells = [
            Cell(escape_control_characters(name), heads=True), Cell(number(own[0]["heat_loss_w"]), "n"),
            Cell(number(own[0]["available_m"], 1), "n"),
        ]  # fmt: skip
        for temp in temperatures:
            row = at.get((name, temp))
            text = "–" if row is None or row["needed_m"] != row["needed_m"] else number(row["needed_m"], 1)
            mark = (
                {"no": "too little wall", "probably": "perhaps too little"}.get(row["answer"], "")
                if row is not None
                else ""
            )
            cells.append(Cell(text, "n", under=(mark,) if mark else ()))
        rows.append(tuple(cells))
    return HtmlTable(headings, tuple(rows), "Skirting that each room needs, m")
