"""The client summary on one page: rooms that reach their temperature, decisions to take, exclusions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from heatloop.findings.limits import TOUCH, TOUCH_C, CheckResult
from heatloop.findings.verdict import Verdict
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.first_fix.floors import floor_at_pipes
from heatloop.handover.first_fix.hidden_pipes import pipe_places
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import LIMITS_MEANT, DocumentContent, DocumentPaper, document_page
from heatloop.report.documents.quotation import new_emitters
from heatloop.report.plans.level_svg import fitted_scale, floor_key, level_plans
from heatloop.results.assumptions import TO_CONFIRM
from heatloop.results.checks.heat_checks import COLD_PANE, DRAUGHT, ROOM_WARM
from heatloop.results.checks.limits import QUIET_SHUT, QUOTED, SENSED
from heatloop.results.design import DesignResult
from heatloop.results.held_temperature import held_temperatures
from heatloop.results.summaries import heat_loss_basis, rating_basis, room_state
from heatloop.text.formatting import listing, number, percent, plural, short_listing

CLIENT_SUMMARY = DocumentPaper("CL")

MAX_DECISIONS = 5
MANY_ROOMS = 12
PLAN_MM, LARGE_PLAN_MM = (86.0, 62.0), (178.0, 110.0)

QUOTED_BY = ", as quoted by others"
"""Note on a source for the checking engineer, which a client has no use for."""

QUESTIONS: dict[str, tuple[str, str]] = {
    ROOM_WARM.check: (
        "{where}: warmer water, another heat emitter, or better insulation?",
        "Otherwise the room stays cooler than agreed on the coldest days.",
    ),
    TOUCH.check: (
        f"{{where}}: the skirting gets hotter than {TOUCH_C:.0f} °C. A guard, or cooler water?",
        "Otherwise children, old or ill people can be burnt if they touch it for long.",
    ),
    DRAUGHT.check: (
        "{where}: cold air falls from the glass. Skirting along its whole width, or better glass?",
        "Otherwise a draught can be felt there on cold days.",
    ),
    COLD_PANE.check: (
        "{where}: the glass is cold. Better glass, or seats farther away?",
        "Otherwise seats beside it feel cold on cold days.",
    ),
    SENSED.check: (
        "{where}: a thermostat of its own?",
        "Otherwise the room gets no heat while the room with the thermostat is warm enough.",
    ),
    QUIET_SHUT.check: (
        "{where}: another control of the pump?",
        "Otherwise valves there can be heard when they close.",
    ),
    QUOTED.check: (
        "{where}: may we measure before we order?",
        "Until then quantities and price are estimates.",
    ),
}  # fmt: skip
"""Decisions of a client by check: the question, and the consequence if nothing is done."""


@dataclass(frozen=True)
class RoomLine:
    """One room in words for a client: its state, its reserve of heat in %, and whether its skirting is hot to touch."""

    room: str
    state: str
    agreed: str
    reserve: str
    reached: str
    hot: str


def client_summary(design: DesignResult, pack: CommissioningResult, control: DocumentControl) -> str:
    """The summary as a complete page."""
    many = len(design.rooms) > MANY_ROOMS
    size = LARGE_PLAN_MM if many else PLAN_MM
    terms = design.survey.quotation
    lines = list(_rooms(design, pack))
    return document_page(
        CLIENT_SUMMARY,
        control,
        design.verdict,
        DocumentContent(
            "client_summary.html",
            {
                "limits_meant": LIMITS_MEANT,
                "plain": _plain_words(design, lines),
                "plans": level_plans(design, size, None, fitted_scale(design, size)),
                "key": floor_key(design),
                "many": many,
                "rooms": lines,
                "decisions": list(_decisions(design.verdict))[:MAX_DECISIONS],
                "unconfirmed": list(_unconfirmed(design)),
                "emitters": new_emitters(design.survey),
                "exclusions": terms.exclusions,
                "outdoor_c": design.facts["outdoor_c"],
                "flow_c": design.facts["flow_temp_c"],
                "touch_c": TOUCH_C,
                "touch_source": TOUCH.source.removeprefix(f"{TOUCH_C:.0f} °C: ").replace(QUOTED_BY, ""),
                "loss_basis": heat_loss_basis(design.survey),
                "rating_basis": rating_basis(design.survey),
            },
        ),
    )


def _rooms(design: DesignResult, pack: CommissioningResult) -> Iterator[RoomLine]:
    ratings = design.frames["profile_ratings"]
    exponent = float(ratings["exponent"].mean()) if len(ratings) else 1.3
    held = held_temperatures(
        design.frames["rooms"],
        design.frames["loops"],
        design.frames["heat_loss_parts"],
        float(design.facts["outdoor_c"]),
        exponent,
    )
    surfaces = {row["room"]: row["design_surface_temp_c"] for row in _records(pack, "surface_temperatures")}
    for row in design.frames["rooms"].to_dict("records"):
        state = room_state(row)
        agreed, temp = float(row["indoor_c"]), held.get(row["room"])
        if state != "short":
            reached = "warm" if state == "warm" else "warm, with a small reserve"
        elif temp is None:
            reached = "too cool"
        else:
            less = agreed - temp
            short = f"{number(less, 1)} °C short" if less >= 0.05 else "less than 0.1 °C short"
            reached = f"{short}: about {number(temp, 1)} °C"
        surface = surfaces.get(row["room"])
        hot = "–" if surface is None else _hot_words(float(surface))
        places = len(percent(row["coverage"]).partition(".")[2])
        reserve = number(100.0 * (row["coverage"] - 1.0), places).replace("-", "−")
        yield RoomLine(row["room"], state, number(agreed, 1).removesuffix(".0"), reserve, reached, hot)


def _hot_words(surface_c: float) -> str:
    """Whether a surface is hot to touch, with so many decimals that its temperature does not read as the limit.

    >>> _hot_words(48.6), _hot_words(43.2), _hot_words(42.97)
    ('yes, 49 °C', 'yes, 43.2 °C', 'no, 42.97 °C')
    """
    decimals = next((n for n in (0, 1, 2) if number(surface_c, n) != number(TOUCH_C, n)), 0)
    return f"{'yes' if surface_c > TOUCH_C else 'no'}, {number(surface_c, decimals)} °C"


def _records(pack: CommissioningResult, name: str) -> list[dict[Any, Any]]:
    return pack.frames[name].to_dict("records")


def _plain_words(design: DesignResult, lines: Sequence[RoomLine]) -> str:
    short = [line.room for line in lines if line.state == "short"]
    day = f"when it is {number(float(design.facts['outdoor_c']), 1).replace('-', '−')} °C outside"
    if not short:
        every = "The room is" if len(lines) == 1 else f"All {len(lines)} rooms are"
        return f"{every} as warm as agreed {day}."
    return (
        f"{short_listing(short)} will not be as warm as agreed {day}; {plural(len(lines) - len(short), 'room')} will."
    )


def _unconfirmed(design: DesignResult) -> Iterator[str]:
    """Points of the survey that the design assumes: heat losses with a caution, and floors of unknown build-up."""
    survey, assumptions = design.survey, design.frames["assumptions"]
    cautions = tuple(map(str, assumptions.loc[assumptions["topic"] == TO_CONFIRM, "assumption"]))
    losses = [room.name for room in survey.rooms if any(words.startswith(f"{room.name}: ") for words in cautions)]
    if losses:
        yield f'Data of the heat loss of {listing(losses)}: see "Assumptions and sources" in the design report.'
    piped = {place.room for place in pipe_places(survey, design.layout)}
    floors = [room.name for room in survey.rooms if room.name in piped]
    floors = [name for name in floors if floor_at_pipes(survey, survey.room(name)).word == "opening"]
    if floors:
        yield f"Build-up of the floor, before openings for pipes are made: {listing(floors)}."


def _decisions(verdict: Verdict) -> Iterator[tuple[str, str]]:
    """Question and consequence of every finding that requires a decision of the client, each question once."""
    raised: dict[str, list[CheckResult]] = {}
    for result in (*verdict.fails, *verdict.cautions):
        raised.setdefault(result.check, []).append(result)
    for check, results in raised.items():
        if check in QUESTIONS:
            question, consequence = QUESTIONS[check]
            where = short_listing(dict.fromkeys(result.location.split(", ")[0] for result in results), 3)
            yield question.replace("{where}", where), consequence
