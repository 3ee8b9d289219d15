"""More profile on free wall: a run extended at one of its ends, in steps, along its wall and the next ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import build_layout
from heatloop.layout.routes import direction
from heatloop.layout.walls import EPS_M
from heatloop.survey.building import Room
from heatloop.survey.loops import Loop, RouteEstimate, RouteItem, RouteWalls
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import in_ranges, number
from heatloop.workflows.improve.remedy import Edit, Family, Remedy, loop_edit, with_remedies

STEP_M = 0.1
"""Steps of the length added."""

MAX_ADDED_M = 15.0
"""Length along the walls that is tried beyond the end of a run."""

MAX_BLOCKED_M = 3.0
"""Length without a possible end of the run, such as a wide doorway, after which no more is tried."""


def longer_runs(survey: SurveyData, room: Room) -> Iterator[Family]:
    """For each end of a run that lies in the room: the run with more and more profile, as far as wall is free."""
    survey = _with_loops_in(survey, room)
    present_m = build_layout(survey).room(room.name).heated_length_m
    for loop in survey.loops:
        for index, arm in enumerate(loop.arms):
            for at_far_end in (True, False):
                item = arm[-1 if at_far_end else 0]
                if isinstance(item, RouteWalls) and item.room == room.name:
                    family = tuple(_extensions(survey, room, loop, index, at_far_end, present_m))
                    most_m = f"; at most {family[-1].words.split(' ', 1)[0]} m there" if family else ""
                    if family:
                        yield tuple(replace(remedy, words=remedy.words + most_m) for remedy in family)
            yield from _longer_estimates(room, loop, index)


def _with_loops_in(survey: SurveyData, room: Room) -> SurveyData:
    """The survey with the loops in the room alone: the others have no skirting that a longer run could meet."""
    own = tuple(
        loop
        for loop in survey.loops
        if any(getattr(item, "room", "") == room.name for arm in loop.arms for item in arm)
    )
    return replace(survey, loops=own)


def _extensions(
    survey: SurveyData, room: Room, loop: Loop, index: int, at_far_end: bool, present_m: float
) -> Iterator[Remedy]:
    """Extensions of one end that are possible and give more heated length than the one before."""
    longest_m, possible_at_m = present_m, 0.0
    item = loop.arms[index][-1 if at_far_end else 0]
    if not isinstance(item, RouteWalls):
        return
    for step in range(1, round(MAX_ADDED_M / STEP_M) + 1):
        added_m = step * STEP_M
        longer = _extended(survey, room, loop, item, at_far_end, added_m)
        if longer is None or added_m - possible_at_m > MAX_BLOCKED_M:
            return
        edited = _in_arm(loop, index, longer, at_far_end)
        remedy = Remedy("more profile", loop.name, "", (edited,), _assumed(loop, at_far_end, added_m))
        try:
            layout = build_layout(with_remedies(survey, [remedy]))
        except InputError:
            continue
        length_m = layout.room(room.name).heated_length_m
        possible_at_m = added_m
        if length_m > longest_m + EPS_M:
            longest_m = length_m
            new = [wall for wall in longer.walls if wall not in item.walls] or [item.walls[-1 if at_far_end else 0]]
            plural = "s" if len(new) > 1 else ""
            words = f"{number(length_m - present_m, 1)} m more profile on wall{plural} {in_ranges(sorted(new))} of "
            yield replace(remedy, words=words + room.name)


def _extended(
    survey: SurveyData, room: Room, loop: Loop, item: RouteWalls, at_far_end: bool, added_m: float
) -> RouteWalls | None:
    """The part of a route with one end moved along the walls; None once it has gone round the room."""
    count = len(room.walls)
    clockwise = (direction(survey, loop.name, item, room) == "clockwise") == at_far_end
    wall = item.walls[-1 if at_far_end else 0]
    stated_m = item.to_m if at_far_end else item.from_m
    length_m = room.walls[wall - 1].length_m
    at_m = (length_m if clockwise else 0.0) if stated_m is None else stated_m
    left_m, passed = added_m, []
    while left_m > (room_m := (length_m - at_m if clockwise else at_m)) + EPS_M:
        left_m -= room_m
        wall = wall % count + 1 if clockwise else (wall - 2) % count + 1
        if wall in item.walls or wall in passed:
            return None
        passed.append(wall)
        length_m = room.walls[wall - 1].length_m
        at_m = 0.0 if clockwise else length_m
    end_m = round(at_m + left_m if clockwise else at_m - left_m, 4)
    whole = abs(end_m - (length_m if clockwise else 0.0)) < EPS_M
    stated = None if whole else end_m
    if at_far_end:
        return replace(item, walls=(*item.walls, *passed), to_m=stated)
    return replace(item, walls=(*reversed(passed), *item.walls), from_m=stated)


def _in_arm(loop: Loop, index: int, item: RouteItem, at_far_end: bool) -> Edit:
    arm = loop.arms[index]
    changed = (*arm[:-1], item) if at_far_end else (item, *arm[1:])
    return loop_edit(loop, arms=(*loop.arms[:index], changed, *loop.arms[index + 1 :]))


def _assumed(loop: Loop, at_far_end: bool, added_m: float) -> str:
    if at_far_end and loop.arrangement == "there-and-back":
        return ""
    end = "return" if at_far_end else "flow"
    farther = f"the skirting ends {number(added_m, 1)} m farther"
    return f"the {end} pipe of the tails is as long as before: measure it, {farther}"


def _longer_estimates(room: Room, loop: Loop, index: int) -> Iterator[Family]:
    """More of the estimated length of a room that has not been surveyed, up to the wall that it states."""
    arm, available_m = loop.arms[index], room.estimated_wall_m or 0.0
    for place, item in enumerate(arm):
        if not isinstance(item, RouteEstimate) or item.room != room.name:
            continue
        steps = int((available_m - item.estimated_wall_m) / STEP_M + EPS_M)
        lengths_m = [round(item.estimated_wall_m + STEP_M * step, 4) for step in range(1, steps + 1)]
        if lengths_m:
            yield tuple(
                Remedy(
                    "more profile",
                    loop.name,
                    f"{number(length_m - item.estimated_wall_m, 1)} m more profile in {room.name}",
                    (
                        loop_edit(
                            loop,
                            arms=(
                                *loop.arms[:index],
                                (*arm[:place], replace(item, estimated_wall_m=length_m), *arm[place + 1 :]),
                                *loop.arms[index + 1 :],
                            ),
                        ),
                    ),
                )
                for length_m in lengths_m
            )
