"""Which remedies are tried for a shortcoming."""

from __future__ import annotations

from collections.abc import Iterator

from heatloop.findings.limits import TOUCH
from heatloop.results.checks.heat_checks import COLD_PANE, DRAUGHT, UNDERFOOT
from heatloop.survey.editing import Survey
from heatloop.workflows.improve.candidates import building, comfort, warmer_loops
from heatloop.workflows.improve.candidates.more_profile import longer_runs
from heatloop.workflows.improve.remedy import Family
from heatloop.workflows.improve.shortcomings import Shortcoming


def families_for(survey: Survey, shortcoming: Shortcoming) -> tuple[Family, ...]:
    """Remedies for a shortcoming, each in rising amounts; none for a check without remedies that can be tried."""
    return tuple(family for family in _families(survey, shortcoming) if family)


def _families(survey: Survey, shortcoming: Shortcoming) -> Iterator[Family]:
    if shortcoming.is_short_room:
        yield from _warmer_room(survey, shortcoming.location)
    elif shortcoming.check == TOUCH.check:
        loops = warmer_loops.loops_heating(survey, shortcoming.location)
        yield from comfort.cooler_loops(survey, shortcoming.location, loops)
    elif shortcoming.check == UNDERFOOT.check:
        room, loops = comfort.loops_of_floor_section(survey, shortcoming.location)
        yield from comfort.cooler_loops(survey, room, loops)
    elif shortcoming.check in (DRAUGHT.check, COLD_PANE.check):
        yield from _glazing(survey, shortcoming)


def _warmer_room(survey: Survey, name: str) -> Iterator[Family]:
    room = survey.room(name)
    yield from longer_runs(survey, room)
    for loop in warmer_loops.loops_heating(survey, name):
        yield from warmer_loops.stronger_profiles(survey, loop)
        yield from warmer_loops.smaller_drops(survey, loop)
        yield from warmer_loops.hotter_water(survey, loop)
    yield from warmer_loops.other_emitters(survey, name)
    if room.walls and room.heat_loss_w is None:
        yield from building.better_build_ups(survey, room)
    yield from building.higher_window_boards(survey, room)


def _glazing(survey: Survey, shortcoming: Shortcoming) -> Iterator[Family]:
    glazed = comfort.glazing_at(survey, shortcoming.location)
    if glazed is None:
        return
    if shortcoming.check == DRAUGHT.check:
        yield from comfort.floor_section_below(survey, glazed)
        yield from longer_runs(survey, survey.room(glazed.room))
    yield from comfort.warmer_glazing(survey, glazed)
