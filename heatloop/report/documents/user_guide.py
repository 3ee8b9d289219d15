"""The user guide: use of the heating, settings as left, water record, annual checks, contacts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.handover.commissioning.final_settings import SETTINGS_AS_LEFT
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.user_documents import UNKNOWN_ROUTES
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import TRUNK_MEANT, DocumentContent, DocumentPaper, document_page
from heatloop.report.plans.level_svg import LevelPlan
from heatloop.report.plans.wall_plan import wall_plans
from heatloop.text.formatting import cell_text, escape_control_characters, with_minus_signs

USER_GUIDE = DocumentPaper("UG")

HAZARDS = ("Scalding", "Electricity")
"""Safety notices of this document: those that no topic of it states already."""

CONTACTS = ("Heating fitter", "Heat source, fuel, flue, refrigerant", "Electrician", "Designed by")

OUT_OF_SIGHT = "Hidden pipes: "
"""Begins the topics that name pipes behind walls and under floors, one a room."""

NAMES_MEANT = "Valves: flow, in the pipe from the heat source; return, in the pipe back to it"
"""The names of valves in the table of settings."""

PLANS_MM = (178.0, 48.0)
"""Place of the plans, beside each other, at the foot of the second page."""
MOST_ROOMS, MOST_LEVELS = 12, 3
"""Plans of larger houses would be too small to read there: their walls are found on the first-fix drawing."""


def user_guide(pack: CommissioningResult, control: DocumentControl) -> str:
    """The guide as a complete page."""
    topics = pack.frames["user_guide"].to_dict("records")
    steps = pack.frames["fill_and_vent"]
    drain = steps[(steps["stage"] == "drain") & (steps["loop"] == "")]["action"]
    hidden = [row for row in topics if row["topic"].startswith(OUT_OF_SIGHT)]
    separate = [*hidden, *(row for row in topics if row["topic"] == UNKNOWN_ROUTES)]
    return document_page(
        USER_GUIDE,
        control,
        None,
        DocumentContent(
            "user_guide.html",
            {
                "topics": [row | {"text": with_minus_signs(row["text"])} for row in topics if row not in separate],
                "hidden": [(row["topic"].removeprefix(OUT_OF_SIGHT), row["text"]) for row in hidden],
                "unknown": "".join(row["text"] for row in topics if row["topic"] == UNKNOWN_ROUTES),
                "unknown_title": UNKNOWN_ROUTES,
                "plans": _plans(pack) if hidden else (),
                "trunk_meant": f" ({TRUNK_MEANT})" if pack.system.survey.trunks else "",
                "settings_meant": f"{NAMES_MEANT}; arm: half of a loop." if _has_arms(pack) else f"{NAMES_MEANT}.",
                "settings": _halves([_setting(row) for row in pack.frames["settings_as_left"].to_dict("records")]),
                "water": pack.frames["water_record"].to_dict("records"),
                "annual": pack.frames["annual_checks"].to_dict("records"),
                "drain": tuple(drain),
                "contacts": CONTACTS,
                "cautions": notices_for(HAZARDS),
                "deference": DEFERENCE,
            },
        ),
    )


def _plans(pack: CommissioningResult) -> tuple[LevelPlan, ...]:
    """Plans of all levels with wall numbers, where there is room for them."""
    survey = pack.system.survey
    levels = len(rooms_by_storey(survey, pack.system.layout))
    if len(survey.rooms) > MOST_ROOMS or not 0 < levels <= MOST_LEVELS:
        return ()
    width_mm, height_mm = PLANS_MM
    return wall_plans(survey, pack.system.layout, (width_mm / max(levels, 2) - 4.0, height_mm))


def _setting(row: dict[Any, Any]) -> tuple[str, str]:
    """A setting in words: location and name, and its design value."""
    designed, unit = (cell_text(SETTINGS_AS_LEFT.column(name), row[name]) for name in ("designed", "unit"))
    item, where = str(row["item"]).removeprefix("setting of "), str(row["where"]).removeprefix("loop ")
    if item.startswith("flow temperature"):  # there is only that of the heat source
        where = ""
    item = item.replace(" head ", " pressure ")  # as pumps are marked; heads of valves are thermostatic heads here
    description = escape_control_characters(": ".join(filter(None, (where, "" if item == where else item))))
    value = f"setting {designed}" if unit == "setting" else f"{designed} {unit}".strip()
    return with_minus_signs(description), with_minus_signs(value)


def _has_arms(pack: CommissioningResult) -> bool:
    """Whether a loop has two arms, so that its valves are named by them."""
    return any(len(loop.arms) > 1 for loop in pack.system.survey.loops)


def _halves(rows: Sequence[tuple[str, str]]) -> list[tuple[tuple[str, str], tuple[str, str]]]:
    """Rows two by two: the first half on the left, the second on the right."""
    half = -(-len(rows) // 2)
    right = [*rows[half:], *[("", "")] * (2 * half - len(rows))]
    return list(zip(rows[:half], right, strict=True))
