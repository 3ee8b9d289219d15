"""First fix as tables: stable columns, a unit in every name."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any

import pandas as pd

from heatloop.findings.limits import WORST, CheckResult
from heatloop.handover.first_fix.model import FirstFixOptions, PipePosition, PipeRun
from heatloop.layout.piece_ends import PlacedPiece
from heatloop.layout.pipework import allowance_at_end_m
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import SurveyData
from heatloop.text.column import CHECK_COLUMNS, TableDescription, count_column, number_column, text_column
from heatloop.text.table_set import table_frame

_LOOP, _ROOM, _PIPE = text_column("loop", "Loop"), text_column("room", "Room"), text_column("pipe", "Pipe")
_LEFT = "from the left-hand corner of the wall line, as seen from inside the room"

FIRST_FIX = TableDescription(
    "pipe_positions",
    "Pipe positions",
    "One row for each pipe that is fitted before the floors are closed, with its position.",
    (
        text_column("position", "Position", "as on the drawing"),
        _ROOM,
        number_column("level_m", "Level", "m", 2),
        count_column("wall", "Wall"),
        text_column("straight_walls", "Wall line", "numbers of the walls that form the wall line, from left to right"),
        number_column("from_left_m", "From left", "m", 3, f"to the centre of the pipe, on finished walls, {_LEFT}"),
        number_column(
            "to_right_m",
            "To right",
            "m",
            3,
            "for checking: this and the distance from the left add up to the length of the wall line",
        ),
        number_column(
            "from_left_bare_m",
            "From left, bare walls",
            "m",
            3,
            "distance from the left on the bare wall; a dash if the survey does not state the finish",
        ),
        number_column(
            "height_m", "Height", "m", 3, "height above the finished floor at which the pipe meets the profile"
        ),
        number_column(
            "height_bare_m",
            "Height, bare floor",
            "m",
            3,
            "height above the bare floor; a dash if the survey does not state the finish",
        ),
        number_column(
            "wall_distance_mm", "Distance from wall", "mm", 0, "from the finished wall to the centre of the pipe"
        ),
        _PIPE,
        number_column("outside_mm", "Outside", "mm", 1),
        text_column("opening", "Opening", "hole in timber, sleeve in screed, or opening where no floor was surveyed"),
        number_column("opening_mm", "Diameter of opening", "mm", 0, "in the floor"),
        text_column("use", "Use"),
        _LOOP,
        text_column("channel", "Channel"),
        text_column("direction", "Direction", "of the water"),
        text_column("passes", "Passes"),
        number_column(
            "depth_below_floor_m",
            "Depth below floor",
            "m",
            2,
            "at this side of a crossing; a dash if the survey states the length of the crossing",
        ),
        number_column("allowance_m", "Allowance", "m", 2, "additional length above this height, cut off at second fix"),
        text_column("piece", "Piece"),
    ),
)

PIPE_RUNS = TableDescription(
    "pipe_runs",
    "Runs of pipe",
    "One row for each set of pipes side by side, with the positions that it joins.",
    (
        count_column("run", "Run"),
        text_column("use", "Use"),
        _LOOP,
        text_column("description", "Description"),
        text_column("from_positions", "From positions"),
        text_column("to_positions", "To positions"),
        _PIPE,
        count_column("pipes", "Pipes"),
        number_column("length_m", "Length", "m", 2, "length of one pipe"),
        count_column("vertical_legs", "Vertical legs"),
        number_column("leg_length_m", "Leg length", "m", 2, "length of each leg"),
        number_column("allowance_m", "Allowance", "m", 2, "of all pipes of the row"),
        number_column("total_m", "Total", "m", 2, "of all pipes of the row"),
    ),
)

PIPE_TOTALS = TableDescription(
    "pipe_totals",
    "Total pipe length",
    "One row for each pipe of the catalogue.",
    (
        _PIPE,
        number_column("outside_mm", "Outside", "mm", 1),
        number_column("insulated_outside_mm", "Outside with insulation", "mm", 1),
        number_column("trunks_m", "Trunks", "m", 2),
        number_column("tails_m", "Tails", "m", 2),
        number_column("crossings_m", "Crossings", "m", 2),
        number_column("allowance_m", "Allowance", "m", 2),
        number_column("waste_m", "Waste", "m", 2, "lost in cutting"),
        number_column("total_m", "Total", "m", 2),
    ),
)

FIRST_FIX_NOTES = TableDescription(
    "first_fix_notes",
    "Notes on first fix",
    "Assumptions, and positions with too little space.",
    (text_column("topic", "Topic"), text_column("note", "Note"), text_column("source", "Source")),
)


FIRST_FIX_CHECKS = TableDescription(
    "first_fix_checks",
    "Checks of first fix",
    "Checks of openings, depths and insulation with calculated value, limit, source and recommendation.",
    CHECK_COLUMNS,
)


WHOLE_MM = 3
"""Decimals of a metre to which pipes are set out."""


def pipe_positions_table(survey: SurveyData, positions: Sequence[PipePosition]) -> pd.DataFrame:
    """One row a pipe at a position. `from_left_m` and `to_right_m` are from the corners of its straight, on finished
    walls; `depth_below_floor_m` is empty where the survey states the length of the pipe."""
    floor_m = _finish_m(survey.first_fix.floor_finish_mm)
    rows = [
        {
            "position": end.mark,
            "room": position.room,
            "level_m": position.level_m,
            "wall": end.wall,
            "straight_walls": " + ".join(map(str, position.straight)),
            "from_left_m": round(end.from_left_corner_m, WHOLE_MM),
            "to_right_m": round(end.from_right_corner_m, WHOLE_MM),
            "from_left_bare_m": round(end.from_left_corner_m + left_corner_shift_m(survey, position), WHOLE_MM),
            "height_m": round(end.height_m, WHOLE_MM),
            "height_bare_m": round(end.height_m + floor_m, WHOLE_MM),
            "wall_distance_mm": round(position.off_wall_m * 1000.0),
            "pipe": position.pipe,
            "outside_mm": position.outside_m * 1000.0,
            "opening": position.word,
            "opening_mm": position.opening_m * 1000.0,
            "use": position.use,
            "loop": position.loop,
            "channel": end.channel,
            "direction": end.direction,
            "passes": position.past,
            "depth_below_floor_m": position.depth_m,
            "allowance_m": position.allowance_m,
            "piece": position.piece,
        }
        for position in positions
        for end in position.pipes
    ]
    return table_frame(FIRST_FIX, rows)


def left_corner_shift_m(survey: SurveyData, position: PipePosition) -> float:
    """Distance in m of the left-hand corner of a bare straight beyond that of the finished one.

    Negative at an outside corner; NaN where the wall finish is not stated.
    """
    room = survey.room(position.room)
    turn_deg = room.walls[position.straight[0] - 2].turn_deg
    return _finish_m(survey.first_fix.wall_finish_mm) * math.tan(math.radians(turn_deg) / 2.0)


def _finish_m(finish_mm: float | None) -> float:
    return math.nan if finish_mm is None else finish_mm / 1000.0


def checks_table(checks: Iterable[CheckResult]) -> pd.DataFrame:
    """The checks as a table; those not met come first."""
    ranked = sorted(checks, key=lambda check: -WORST[check.verdict])
    return table_frame(FIRST_FIX_CHECKS, map(asdict, ranked))


def runs_table(runs: Sequence[PipeRun]) -> pd.DataFrame:
    """One row a set of pipes side by side; `length_m` is of one pipe, `allowance_m` and `total_m` of all."""
    rows = [
        {
            "run": run.number,
            "use": run.use,
            "loop": run.loop,
            "description": run.description,
            "from_positions": _listed(run.from_positions),
            "to_positions": _listed(run.to_positions),
            "pipe": run.pipe,
            "pipes": run.pipes,
            "length_m": run.length_m,
            "vertical_legs": run.drops,
            "leg_length_m": run.depth_m,
            "allowance_m": run.allowance_m,
            "total_m": run.total_m,
        }
        for run in runs
    ]
    return table_frame(PIPE_RUNS, rows)


def totals_table(catalogue: Catalogue, runs: Sequence[PipeRun]) -> pd.DataFrame:
    """One row a pipe in use. `insulated_outside_mm` is its outside with insulation; `waste_m` the catalogue's
    share lost in cutting, on top of everything else."""
    rows = []
    for pipe in catalogue.pipes:
        own = [run for run in runs if run.pipe == pipe.name]
        if not own:
            continue
        by_use = {
            use: math.fsum(run.pipes * run.length_m for run in own if run.use == use)
            for use in ("trunk", "tail", "crossing")
        }
        allowance_m = math.fsum(run.allowance_m for run in own)
        fitted_m = math.fsum(by_use.values()) + allowance_m
        waste_m = fitted_m * pipe.waste_percent / 100.0
        row: dict[str, Any] = {
            "pipe": pipe.name,
            "outside_mm": pipe.outside_mm,
            "insulated_outside_mm": pipe.outside_mm + 2.0 * pipe.insulation_mm,
            **{f"{use}s_m": metres for use, metres in by_use.items()},
            "allowance_m": allowance_m,
            "waste_m": waste_m,
            "total_m": fitted_m + waste_m,
        }
        rows.append(row)
    return table_frame(PIPE_TOTALS, rows)


def first_fix_notes_table(
    survey: SurveyData,
    options: FirstFixOptions,
    positions: Sequence[PipePosition],
    runs: Sequence[PipeRun],
    placed_pieces: Sequence[PlacedPiece],
) -> pd.DataFrame:
    """Assumptions and notes: topic, note, source."""
    rows = [*_assumed(survey, options, positions, runs, placed_pieces), *_warnings(survey, positions, placed_pieces)]
    return table_frame(FIRST_FIX_NOTES, dict.fromkeys(rows))


Note = tuple[str, str, str]


def _assumed(
    survey: SurveyData,
    options: FirstFixOptions,
    positions: Sequence[PipePosition],
    runs: Sequence[PipeRun],
    placed_pieces: Sequence[PlacedPiece],
) -> Iterator[Note]:
    practice = "common practice"
    text = "distances are on finished walls and heights above the finished floor, to the centre of the pipe"
    yield "measure", f"{text}, from the left-hand corner of the wall line when facing it", "definition"
    for surfaces, finish_mm in (
        ("walls", survey.first_fix.wall_finish_mm),
        ("floors", survey.first_fix.floor_finish_mm),
    ):
        if positions and finish_mm is None:
            yield "finish", f"the finish to be added on {surfaces} is not stated: add it on site", "survey"
        elif positions and finish_mm:
            yield "finish", f"{finish_mm:g} mm of finish to be added on {surfaces}", "survey"
    if positions:
        text = (
            "pipes are spread over the cut deduction of the joint or end, that of the lowest channel next to the piece"
        )
        yield "place", f"{text}; half the profile's depth off the wall", practice
    for profile in dict.fromkeys(placed.profile.name for placed in placed_pieces if not placed.estimate):
        if profile in options.channel_heights_mm:
            yield "height", f'channels of "{profile}" as given', "options of first fix"
        else:
            text = f'channels of "{profile}" taken as evenly spaced over its height: check with its drawing'
            yield "height", text, practice
    for name in dict.fromkeys(run.pipe for run in runs if run.use != "trunk"):
        pipe = survey.catalogue.pipe(name)
        text = f"{allowance_at_end_m(pipe, options.pipe_allowance_m):g} m of {name} as allowance at each "
        text += "end that meets skirting"
        yield "allowance", text, practice if pipe.allowance_m is None else "catalogue"
    forked = [loop.name for loop in survey.loops if len(loop.arms) > 1]
    for loop in forked:
        text = f'loop "{loop}": its tails fork to two valve ends; the fork counts for nothing beyond their length'
        yield "tails", text, "survey"


def _warnings(
    survey: SurveyData, positions: Sequence[PipePosition], placed_pieces: Sequence[PlacedPiece]
) -> Iterator[Note]:
    crowded = [position for position in positions if position.crowded]
    for count, outside_m in dict.fromkeys((len(position.pipes), position.outside_m) for position in crowded):
        own = [
            position.number for position in crowded if (len(position.pipes), position.outside_m) == (count, outside_m)
        ]
        text = (
            f"{'position' if len(own) == 1 else 'positions'} {_listed(own)}: {count} pipes of "
            f"{outside_m * 1000.0:g} mm have less space than a fitting on each requires: place them one behind the "
            "other, or cut more off the piece"
        )
        yield "crowded", text, "common practice"
    for room in dict.fromkeys(placed.piece.room for placed in placed_pieces if placed.estimate):
        yield "estimate", f"{room}: no positions before its survey; its pipe is in the runs", "survey"
    stated = [loop.name for loop in survey.loops if loop.tails.flow_m + loop.tails.return_m <= 0.0]
    for loop in stated:
        yield "tails", f'loop "{loop}": its tails have no length in the survey', "survey"
    text = (
        "before a hole is made locate cables, water and gas; holes and notches in joists, fire stopping and pipes in "
        "screed follow the local code; test the pipes under pressure before they are covered"
    )
    yield "caution", text, "common practice"


def _listed(positions: Sequence[int]) -> str:
    return ", ".join(map(str, positions))
