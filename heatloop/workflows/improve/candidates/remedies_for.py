"""Which remedies are tried for a shortcoming."""

from __future__ import annotations

from collections.abc import Iterator

from heatloop.findings.limits import TOUCH
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.results.checks.heat_checks import COLD_PANE, DRAUGHT, UNDERFOOT
from heatloop.results.checks.limits import (
    BALANCE,
    HEAD,
    NO_VALVE,
    PUMP,
    PUMP_RANGE,
    PUMP_SETTING,
    QUIET,
    SOURCE_TEMP,
    VELOCITY,
)
from heatloop.survey.loops import Loop
from heatloop.survey.survey import SurveyData
from heatloop.workflows.improve.candidates import building, comfort, regrouped, warmer_loops, water
from heatloop.workflows.improve.candidates.more_profile import longer_runs
from heatloop.workflows.improve.remedy import Edit, Family, Remedy
from heatloop.workflows.improve.shortcomings import Shortcoming

TRUNK = "trunk "
"""Before the name of a trunk in the location of a check."""


def families_for(system: SizedSystem, shortcoming: Shortcoming) -> tuple[Family, ...]:
    """Remedies for a shortcoming, each in rising amounts; none for a check without remedies that can be tried."""
    return tuple(family for family in _families(system, shortcoming) if family)


def _families(system: SizedSystem, shortcoming: Shortcoming) -> Iterator[Family]:
    survey, check, location = system.survey, shortcoming.check, shortcoming.location
    if shortcoming.is_short_room:
        yield from _warmer_room(survey, location)
    elif check == TOUCH.check:
        yield from comfort.cooler_loops(survey, location, warmer_loops.loops_heating(survey, location))
    elif check == UNDERFOOT.check:
        yield from comfort.cooler_loops(survey, *comfort.loops_of_floor_section(survey, location))
    elif check in (DRAUGHT.check, COLD_PANE.check):
        yield from _glazing(survey, shortcoming)
    elif check == VELOCITY.check:
        yield from _slower(survey, location)
    elif check in (QUIET.check, BALANCE.check, NO_VALVE.check):
        yield from _valves(system, location)
    elif check in (PUMP.check, PUMP_SETTING.check, PUMP_RANGE.check, HEAD.check):
        yield from _pump(system)
    elif check == SOURCE_TEMP.check:
        yield _as_hot_as_the_source(survey)


def loop_at(survey: SurveyData, location: str) -> Loop | None:
    """The loop of a check by its location: the name of the loop, alone or before a comma."""
    found = [loop for loop in survey.loops if location == loop.name or location.startswith(f"{loop.name}, ")]
    return max(found, key=lambda loop: len(loop.name), default=None)


def _slower(survey: SurveyData, location: str) -> Iterator[Family]:
    loop = loop_at(survey, location)
    if loop is not None:
        yield from water.larger_pipes(survey, loop)
        yield from water.other_drops(survey, loop, "larger drop")
        yield from regrouped.divided(survey, loop)
    elif location.startswith(TRUNK):
        name = location.removeprefix(TRUNK)
        if any(trunk.name == name for trunk in survey.trunks):
            yield from water.larger_trunk(survey, name)


def _valves(system: SizedSystem, location: str) -> Iterator[Family]:
    loop = loop_at(system.survey, location)
    if loop is not None:
        yield from water.other_valves(system.survey, loop)
    yield from water.pump_settings(system)
    yield from water.larger_pipes(system.survey, system.survey.loops[system.balance.index])


def _pump(system: SizedSystem) -> Iterator[Family]:
    survey = system.survey
    yield from water.pump_settings(system)
    index = survey.loops[system.balance.index]
    yield from water.larger_pipes(survey, index)
    yield from water.other_drops(survey, index, "larger drop")
    yield from regrouped.divided(survey, index)
    for trunk in survey.trunks:
        yield from water.larger_trunk(survey, trunk.name)


def _as_hot_as_the_source(survey: SurveyData) -> Family:
    max_c = survey.source.max_flow_temp_c
    edit = Edit("project", "", (("flow_temp_c", max_c),))
    return (Remedy("cooler water", "the source", f"flow temperature of the source {max_c:g} °C", (edit,)),)


def _warmer_room(survey: SurveyData, name: str) -> Iterator[Family]:
    room = survey.room(name)
    yield from longer_runs(survey, room)
    for loop in warmer_loops.loops_heating(survey, name):
        yield from warmer_loops.stronger_profiles(survey, loop)
        yield from water.other_drops(survey, loop, "smaller drop")
        yield from warmer_loops.hotter_water(survey, loop)
        yield from regrouped.regrouped(survey, loop)
    yield from warmer_loops.other_emitters(survey, name)
    if room.walls and room.heat_loss_w is None:
        yield from building.better_build_ups(survey, room)
    yield from building.higher_window_boards(survey, room)


def _glazing(survey: SurveyData, shortcoming: Shortcoming) -> Iterator[Family]:
    glazed = comfort.glazing_at(survey, shortcoming.location)
    if glazed is None:
        return
    if shortcoming.check == DRAUGHT.check:
        yield from comfort.floor_section_below(survey, glazed)
        yield from longer_runs(survey, survey.room(glazed.room))
    yield from comfort.warmer_glazing(survey, glazed)
