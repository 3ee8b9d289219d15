"""Limits of first fix: space for insulation, depth of pipes above the slab, and holes within reach of a drill."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from heatloop.findings.limits import CheckResult, Limit, check_at_least, check_at_most
from heatloop.handover.first_fix.floors import floor_at_pipes
from heatloop.handover.first_fix.model import PipeEnd, PipePosition
from heatloop.layout.walls import straight_runs
from heatloop.survey.building import Room
from heatloop.survey.survey import SurveyData

ROOM_FOR_LAGGING = Limit(
    "space for insulation", "mm", "outside diameter of the pipe with its insulation",
    "leave the pipes bare at the floor; 50 mm below it, spread and insulate them", "caution",
)  # fmt: skip

LAGGING_OFF_WALL = replace(
    ROOM_FOR_LAGGING, check="space for insulation beside the wall", source="half the diameter with insulation",
    remedy="leave the pipe bare at the floor; 50 mm below it, move it away from the wall and insulate it",
)  # fmt: skip

DROP_WITHIN_FLOOR = Limit(
    "depth within floor", "mm", "screed and insulation of the floor's build-up",
    "state a smaller depth of the crossing, or agree with the structural designer on a groove in the slab", "caution",
)  # fmt: skip

CAN_BE_BORED = Limit(
    "space to bore", "mm", "half the hole and bore_reach_mm of the survey",
    "make a slot, or bore before the wall behind the skirting is plastered", "caution",
)  # fmt: skip


def first_fix_checks(survey: SurveyData, positions: Sequence[PipePosition]) -> list[CheckResult]:
    """All limits of first fix, position by position: calculated value and limit in mm."""
    return [*_lagging(positions), *_drops(survey, positions), *_bored(survey, positions)]


def _lagging(positions: Sequence[PipePosition]) -> Iterator[CheckResult]:
    for position in positions:
        lagged_mm = position.lagged_m * 1000.0
        if position.lagged_m <= position.outside_m:
            continue
        places = [pipe.from_left_corner_m for pipe in position.pipes]
        if len(places) > 1:
            pitch_mm = min(b - a for a, b in pairwise(places)) * 1000.0
            words = (
                f"leave the pipes bare at the floor; 50 mm below it, spread them to at least {math.ceil(lagged_mm)} mm "
                "and insulate them"
            )
            yield check_at_least(
                replace(ROOM_FOR_LAGGING, remedy=words), _where(position), round(pitch_mm, 3), round(lagged_mm, 3)
            )
        yield check_at_least(
            LAGGING_OFF_WALL, _where(position), round(position.off_wall_m * 1000.0, 3), lagged_mm / 2.0
        )


def _drops(survey: SurveyData, positions: Sequence[PipePosition]) -> Iterator[CheckResult]:
    for position in positions:
        depth_m = floor_at_pipes(survey, survey.room(position.room)).depth_m
        if not (math.isnan(depth_m) or math.isnan(position.depth_m)):
            low_mm = (position.depth_m + position.outside_m / 2.0) * 1000.0
            yield check_at_most(DROP_WITHIN_FLOOR, _where(position), round(low_mm, 3), round(depth_m * 1000.0, 3))


def _bored(survey: SurveyData, positions: Sequence[PipePosition]) -> Iterator[CheckResult]:
    """For each position, the pipe nearest to a wall or an inside corner; a sleeve is cast in and not bored."""
    for position in positions:
        if position.word == "sleeve":
            continue
        needed_mm = position.opening_m * 1000.0 / 2.0 + survey.first_fix.bore_reach_mm
        nearest_mm, obstacle = min(_clearances_mm(survey, position))
        yield check_at_least(CAN_BE_BORED, f"{_where(position)}, {obstacle}", round(nearest_mm, 3), round(needed_mm, 3))


def _clearances_mm(survey: SurveyData, position: PipePosition) -> Iterator[tuple[float, str]]:
    """Distance of every pipe from the bare wall, and of outer pipes from inside corners, with the reference."""
    finish_mm = survey.first_fix.wall_finish_mm or 0.0
    yield position.off_wall_m * 1000.0 + finish_mm, "from the wall"
    left, right = inside_corners(survey.room(position.room), position.straight)
    first, last = position.pipes[0], position.pipes[-1]
    if left:
        yield first.from_left_corner_m * 1000.0 + finish_mm, f"pipe {_letter(first)} from the left-hand corner"
    if right:
        yield last.from_right_corner_m * 1000.0 + finish_mm, f"pipe {_letter(last)} from the right-hand corner"


def inside_corners(room: Room, straight: tuple[int, ...]) -> tuple[bool, bool]:
    """Whether another wall is at the left-hand and at the right-hand end of a straight.

    Raises ValueError for walls that are no straight of the room.
    """
    runs = straight_runs(room.walls)
    if straight not in runs:
        raise ValueError(f"walls {straight} of {room.name!r} are no wall line")
    before = runs[(runs.index(straight) - 1) % len(runs)][-1]
    return room.walls[before - 1].turn_deg > 0.0, room.walls[straight[-1] - 1].turn_deg > 0.0


def _where(position: PipePosition) -> str:
    return f"position {position.number}"


def _letter(pipe: PipeEnd) -> str:
    return pipe.mark
