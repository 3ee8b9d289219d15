"""First fix as tables: stable columns, a unit in every name."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import pandas as pd

from heatloop.handover.first_fix.model import FirstFixOptions, Mark, PipeRun
from heatloop.layout.piece_ends import Standing
from heatloop.layout.pipework import left_over_m
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import Survey

FIRST_FIX = [
    "mark", "room", "level_m", "wall", "from_left_m", "corner", "from_corner_m", "height_m", "off_wall_mm", "pipe",
    "outside_mm", "hole_mm", "use", "loop", "channel", "direction", "past", "drop_m", "left_over_m", "piece",
]  # fmt: skip
PIPE_RUNS = [
    "run", "use", "loop", "what", "from_marks", "to_marks", "pipe", "pipes", "length_m", "drops", "drop_m",
    "left_over_m", "total_m",
]  # fmt: skip
PIPE_TOTALS = [
    "pipe", "outside_mm", "lagged_mm", "trunks_m", "tails_m", "crossings_m", "left_over_m", "waste_m", "total_m",
]  # fmt: skip


def marks_table(marks: Sequence[Mark]) -> pd.DataFrame:
    """One row a pipe at a mark. `from_left_m` is on the survey's wall, `from_corner_m` from the `corner` (left or
    right) that is nearer on the straight; `drop_m` is empty where the survey states the length of the pipe."""
    rows = [
        {
            "mark": end.mark,
            "room": mark.room,
            "level_m": mark.level_m,
            "wall": end.wall,
            "from_left_m": end.at_m,
            "corner": end.corner,
            "from_corner_m": end.from_corner_m,
            "height_m": end.height_m,
            "off_wall_mm": mark.off_wall_m * 1000.0,
            "pipe": mark.pipe,
            "outside_mm": mark.outside_m * 1000.0,
            "hole_mm": mark.hole_m * 1000.0,
            "use": mark.use,
            "loop": mark.loop,
            "channel": end.channel,
            "direction": end.direction,
            "past": mark.past,
            "drop_m": mark.drop_m,
            "left_over_m": mark.left_over_m,
            "piece": mark.piece,
        }
        for mark in marks
        for end in mark.pipes
    ]
    return pd.DataFrame(rows, columns=FIRST_FIX)


def runs_table(runs: Sequence[PipeRun]) -> pd.DataFrame:
    """One row a set of pipes side by side; `length_m` is of one pipe, `left_over_m` and `total_m` of all."""
    rows = [
        {
            "run": run.number,
            "use": run.use,
            "loop": run.loop,
            "what": run.what,
            "from_marks": _listed(run.from_marks),
            "to_marks": _listed(run.to_marks),
            "pipe": run.pipe,
            "pipes": run.pipes,
            "length_m": run.length_m,
            "drops": run.drops,
            "drop_m": run.drop_m,
            "left_over_m": run.left_over_m,
            "total_m": run.total_m,
        }
        for run in runs
    ]
    return pd.DataFrame(rows, columns=PIPE_RUNS)


def totals_table(catalogue: Catalogue, runs: Sequence[PipeRun]) -> pd.DataFrame:
    """One row a pipe in use. `lagged_mm` is its outside with insulation; `waste_m` the catalogue's share lost
    in cutting, on top of everything else."""
    rows = []
    for pipe in catalogue.pipes:
        own = [run for run in runs if run.pipe == pipe.name]
        if not own:
            continue
        by_use = {
            use: math.fsum(run.pipes * run.length_m for run in own if run.use == use)
            for use in ("trunk", "tail", "crossing")
        }
        left_over_m = math.fsum(run.left_over_m for run in own)
        fitted_m = math.fsum(by_use.values()) + left_over_m
        waste_m = fitted_m * pipe.waste_percent / 100.0
        row: dict[str, Any] = {
            "pipe": pipe.name,
            "outside_mm": pipe.outside_mm,
            "lagged_mm": pipe.outside_mm + 2.0 * pipe.insulation_mm,
            **{f"{use}s_m": metres for use, metres in by_use.items()},
            "left_over_m": left_over_m,
            "waste_m": waste_m,
            "total_m": fitted_m + waste_m,
        }
        rows.append(row)
    return pd.DataFrame(rows, columns=PIPE_TOTALS)


def notes_table(
    survey: Survey,
    options: FirstFixOptions,
    marks: Sequence[Mark],
    runs: Sequence[PipeRun],
    found: Sequence[Standing],
) -> pd.DataFrame:
    """What was assumed and what to look at: topic, note, source."""
    rows = [*_assumed(survey, options, marks, runs, found), *_warnings(survey, marks, found)]
    return pd.DataFrame(list(dict.fromkeys(rows)), columns=["topic", "note", "source"])


Note = tuple[str, str, str]


def _assumed(
    survey: Survey,
    options: FirstFixOptions,
    marks: Sequence[Mark],
    runs: Sequence[PipeRun],
    found: Sequence[Standing],
) -> Iterator[Note]:
    practice = "common practice"
    text = "distances are on finished walls and heights above the finished floor, to the centre of the pipe"
    yield "measure", text, "definition"
    if marks:
        text = "pipes are spread over what the joint or end takes off the piece, the lowest channel's nearest to it"
        yield "place", f"{text}; half the profile's depth off the wall", practice
    for profile in dict.fromkeys(one.profile.name for one in found if not one.estimate):
        if profile in options.channel_heights_mm:
            yield "height", f'channels of "{profile}" as given', "options of first fix"
        else:
            text = f'channels of "{profile}" taken as evenly spaced over its height: check with its drawing'
            yield "height", text, practice
    for name in dict.fromkeys(run.pipe for run in runs if run.use != "trunk"):
        pipe = survey.catalogue.pipe(name)
        text = f"{left_over_m(pipe, options.left_over_m):g} m of {name} left over at each end that meets skirting"
        yield "left over", text, practice if pipe.first_fix_m is None else "catalogue"
    forked = [loop.name for loop in survey.loops if len(loop.arms) > 1]
    for loop in forked:
        text = f'loop "{loop}": its tails fork to two valve ends; the fork counts for nothing beyond their length'
        yield "tails", text, "survey"


def _warnings(survey: Survey, marks: Sequence[Mark], found: Sequence[Standing]) -> Iterator[Note]:
    crowded = [mark for mark in marks if mark.crowded]
    for count, outside_m in dict.fromkeys((len(mark.pipes), mark.outside_m) for mark in crowded):
        own = [mark.number for mark in crowded if (len(mark.pipes), mark.outside_m) == (count, outside_m)]
        text = (
            f"{'mark' if len(own) == 1 else 'marks'} {_listed(own)}: {count} pipes of {outside_m * 1000.0:g} mm have "
            "less room than a fitting on each needs: stand them one behind the other, or take more off the piece"
        )
        yield "crowded", text, "common practice"
    for room in dict.fromkeys(one.piece.room for one in found if one.estimate):
        yield "estimate", f"{room}: no marks before its survey; its pipe is in the runs", "survey"
    stated = [loop.name for loop in survey.loops if loop.tails.flow_m + loop.tails.return_m <= 0.0]
    for loop in stated:
        yield "tails", f'loop "{loop}": its tails have no length in the survey', "survey"
    text = (
        "before a hole is made locate cables, water and gas; holes and notches in joists, fire stopping and pipes in "
        "screed follow the local code; test the pipes under pressure before they are covered"
    )
    yield "caution", text, "common practice"


def _listed(marks: Sequence[int]) -> str:
    return ", ".join(map(str, marks))
