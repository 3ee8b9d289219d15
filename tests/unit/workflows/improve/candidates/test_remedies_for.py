"""Each check has the remedies of its kind; other checks have none."""

import pytest

from heatloop.findings.limits import TOUCH
from heatloop.results.checks.heat_checks import COLD_PANE, DRAUGHT, ROOM_WARM, UNDERFOOT
from heatloop.results.checks.limits import (
    BALANCE,
    NO_VALVE,
    PUMP,
    PUMP_SETTING,
    QUIET,
    RESIDUAL,
    SOURCE_TEMP,
    VELOCITY,
)  # fmt: skip
from heatloop.workflows.improve.candidates.remedies_for import families_for, loop_at
from heatloop.workflows.improve.shortcomings import Shortcoming

DOORS = "Kitchen-diner, wall 6, garden doors"
WARMER = {"smaller drop", "hotter water", "another emitter", "another trunk", "building"}
CASES = {
    (ROOM_WARM, "Kitchen-diner"): WARMER | {"another profile", "arrangement", "reversed route"},
    (ROOM_WARM, "Study"): (WARMER - {"building"})  # its heat loss is stated
    | {"more profile", "another profile", "divided loop", "arrangement", "reversed route"},
    (TOUCH, "Nursery"): {"cooler water"},
    (DRAUGHT, DOORS): {"building"},
    (COLD_PANE, DOORS): {"building"},
    (VELOCITY, "Bedrooms"): {"larger pipe", "larger drop", "divided loop"},
    (VELOCITY, "trunk upstairs"): {"larger pipe"},
    (BALANCE, "Living room, return valve, arm 1"): {"another valve", "pump setting", "larger pipe"},
    (QUIET, "Living room, flow valve"): {"another valve", "pump setting", "larger pipe"},
    (NO_VALVE, "Living room"): {"another valve", "pump setting", "larger pipe"},
    (PUMP, "pump"): {"pump setting", "larger pipe", "larger drop"},
    (PUMP_SETTING, "pump"): {"pump setting", "larger pipe", "larger drop"},
    (SOURCE_TEMP, "heat pump"): {"cooler water"},
    (RESIDUAL, "mass"): set(),
}  # fmt: skip


@pytest.mark.parametrize(("limit", "location"), CASES, ids=lambda one: str(getattr(one, "check", one)))
def test_kinds_of_remedies(alder_draft, limit, location):
    found = families_for(alder_draft.system, Shortcoming(limit.check, location, 0.0, 1.0, limit.unit, True))
    kinds = {remedy.kind for family in found for remedy in family}
    expected = CASES[limit, location]
    assert kinds - {"divided loop"} == expected - {"divided loop"}
    assert ("divided loop" in kinds) or "divided loop" not in expected or limit is PUMP


def test_a_floor_section_is_cooled_in_its_own_loop(alder_draft):
    label = next(piece.label for loop in alder_draft.layout.loops for piece in loop.pieces if piece.floor_section)
    found = families_for(alder_draft.system, Shortcoming(UNDERFOOT.check, label, 40.0, 34.0, "degC", False))
    assert {remedy.where for family in found for remedy in family} == {"loop Kitchen"}


def test_the_longest_name_is_the_loop_of_a_location(alder_draft):
    survey = alder_draft.survey
    assert loop_at(survey, "Hall and study, flow valve").name == "Hall and study"
    assert loop_at(survey, "Hall") is None
