"""Remedies for limits of comfort: cooler water, skirting below glazing, better glazing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from heatloop.heat_loss.u_values import GlazedOpening, glazed_openings
from heatloop.hydraulics.from_survey import supply_temp_c
from heatloop.layout.build import build_layout
from heatloop.layout.walls import interrupts_skirting
from heatloop.survey.loops import Loop, RouteWalls
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import number
from heatloop.workflows.improve.candidates.building import better_glazing
from heatloop.workflows.improve.remedy import Family, Remedy, loop_edit

STEP_K = 1.0

MIN_EXCESS_K = 8.0
"""Water is tried down to this temperature above the warmest room of the loop."""


def cooler_loops(survey: SurveyData, room: str, loops: tuple[Loop, ...]) -> Iterator[Family]:
    """Cooler water for each loop of a room, by a mixing valve where its tails join."""
    for loop in loops:
        present_c = supply_temp_c(survey, loop)
        lowest_c = survey.room(room).indoor_c + MIN_EXCESS_K
        temps_c = [round(present_c - STEP_K * step, 6) for step in range(1, int((present_c - lowest_c) / STEP_K) + 1)]
        assumed = "" if loop.flow_temp_c is not None else "a mixing valve in the tails of the loop, not in the price"
        yield tuple(
            Remedy("cooler water", f"loop {loop.name}",
                   f"flow temperature of loop {loop.name} from {number(present_c, 1)} to {number(c, 1)} °C",
                   (loop_edit(loop, flow_temp_c=c),), assumed, other_work=bool(assumed))
            for c in temps_c
        )  # fmt: skip


def loops_of_floor_section(survey: SurveyData, label: str) -> tuple[str, tuple[Loop, ...]]:
    """The room and the loop of a floor section by its label."""
    for held in build_layout(survey).loops:
        for piece in held.pieces:
            if piece.label == label:
                return piece.room, (survey.loop(held.loop),)
    return "", ()


def glazing_at(survey: SurveyData, location: str) -> GlazedOpening | None:
    """The glazed opening of a check by its location: room and label."""
    return next((item for item in glazed_openings(survey) if f"{item.room}, {item.label}" == location), None)


def warmer_glazing(survey: SurveyData, glazed: GlazedOpening) -> Iterator[Family]:
    """A better build-up of the opening."""
    yield from better_glazing(survey, glazed.opening.build_up)


def floor_section_below(survey: SurveyData, glazed: GlazedOpening) -> Iterator[Family]:
    """A floor section in place of the crossing past an opening down to the floor, where the profile has one."""
    opening = glazed.opening
    for loop in survey.loops:
        if not loop.profile or opening.name is None:
            continue
        profile = survey.catalogue.profile(loop.profile)
        if profile.floor_section is None or not interrupts_skirting(opening, profile):
            continue
        for index, arm in enumerate(loop.arms):
            for place, item in enumerate(arm):
                if not isinstance(item, RouteWalls) or item.room != glazed.room or glazed.wall not in item.walls:
                    continue
                if opening.name in item.floor_sections:
                    continue
                laid = replace(item, floor_sections=(*item.floor_sections, opening.name))
                changed = (*arm[:place], laid, *arm[place + 1 :])
                edit = loop_edit(loop, arms=(*loop.arms[:index], changed, *loop.arms[index + 1 :]))
                words = f"floor section before {opening.name} in {glazed.room}, in place of the crossing"
                assumed = "the floor can be opened along the glazing"
                yield (Remedy("floor section", f"loop {loop.name}", words, (edit,), assumed),)
