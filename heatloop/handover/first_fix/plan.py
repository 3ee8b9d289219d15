"""First fix: position of every pipe before the floors are closed, and lengths of plain pipe.

A position is one place where pipes rise to the end of a piece: a side of a crossing, or a valve end with its tails. The
pipes of a position are in what the joint or end takes off the piece, evenly spread, the one of the lowest channel
nearest the profile so that none has to pass another. Distances are measured to the centre of the pipe on the finished
wall, from the left-hand corner of the straight, facing it from inside the room. The distance to the right-hand corner
is a check. Corners are real corners, not the points at which the survey divides one straight wall into two parts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, check_given, is_number, quoted_value
from heatloop.findings.verdict import Verdict
from heatloop.handover.first_fix import tables
from heatloop.handover.first_fix.checks import first_fix_checks
from heatloop.handover.first_fix.model import FirstFixOptions, PipeEnd, PipePosition, PipeRun
from heatloop.handover.first_fix.positions import PipeRiser, pipe_position, pipe_risers, riser_position
from heatloop.layout.model import Layout, PlacedCrossing
from heatloop.layout.piece_ends import placed_pieces
from heatloop.layout.pipework import PipeLength, pipe_lays
from heatloop.survey.survey import SurveyData
from heatloop.text.column import Column, count_column, number_column, text_column
from heatloop.text.formatting import cell_text, plural
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet

__all__ = ["FirstFixResult", "FirstFixOptions", "PipePosition", "PipeEnd", "PipeRun", "plan_first_fix"]


FIRST_FIX_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    count_column("positions", "Positions"),
    count_column("pipes", "Pipes at positions"),
    count_column("crowded", "Crowded positions"),
    number_column("total_m", "Plain pipe", "m", 1, "with allowances and cutting waste"),
)


@dataclass(frozen=True, eq=False, repr=False)
class FirstFixResult(TableSet):
    """Pipes built before the floors are closed: frozen values, and tables of them as fresh copies.

    `verdict` is that of the design, None where the layout was planned without one.
    """

    survey: SurveyData
    layout: Layout
    options: FirstFixOptions
    positions: tuple[PipePosition, ...]
    runs: tuple[PipeRun, ...]
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]
    verdict: Verdict | None = None

    summary_columns = FIRST_FIX_SUMMARY
    _internal = frozenset({"positions", "runs"})
    pipe_positions = Table(tables.FIRST_FIX)
    pipe_runs = Table(tables.PIPE_RUNS)
    pipe_totals = Table(tables.PIPE_TOTALS)
    notes = Table(tables.FIRST_FIX_NOTES)
    first_fix_checks = Table(tables.FIRST_FIX_CHECKS)

    def summary_block(self) -> Summary:
        """Positions and pipe lengths, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").first_fix().summary_block().title
        'Mill Annexe, first fix'
        """
        facts = {column.name: cell_text(column, self.facts[column.name]) for column in FIRST_FIX_SUMMARY}
        crowded = self.facts["crowded"]
        sentences = [
            f"{plural(self.facts['positions'], 'position')} with {plural(self.facts['pipes'], 'pipe')}; "
            f"{facts['total_m']} m of plain pipe in total.",
            f"{plural(crowded, 'position is', 'positions are')} crowded." if crowded else "No position is crowded.",
        ]
        shown = grid("Total pipe length", self.pipe_totals.to_dict("records"), tables.PIPE_TOTALS.columns)
        return Summary(f"{facts['project']}, first fix", tuple(sentences), (shown,))

    def __repr__(self) -> str:
        return f"<FirstFix of {self.facts['project']!r}: {len(self.positions)} positions>"


def plan_first_fix(survey: SurveyData, layout: Layout, options: FirstFixOptions | None = None) -> FirstFixResult:
    """Positions, pipe runs and totals of a survey and its layout.

    Positions are numbered level by level and room by room in the order of the survey, clockwise round each room. Rooms
    estimated before a survey have no positions; their pipe is counted. Raises InputError for options out of range.
    """
    check_given("first fix", survey=(survey, SurveyData, "a Survey"), layout=(layout, Layout, "its Layout"),
                options=(options, FirstFixOptions | None, "FirstFixOptions"))  # fmt: skip
    options = options or FirstFixOptions()
    faults = _option_faults(survey, options)
    if faults:
        raise InputError(faults)
    pieces = placed_pieces(survey, layout)
    order = {room.name: (room.level_m, i) for i, room in enumerate(survey.rooms)}
    surveyed = (rise for placed in pieces if not placed.estimate for rise in pipe_risers(layout, placed))
    risen = sorted(surveyed, key=lambda rise: (*order[rise.placed.piece.room], *riser_position(survey, rise)))
    positions = tuple(pipe_position(survey, options, number, rise) for number, rise in enumerate(risen, start=1))
    runs = tuple(_runs(survey, layout, options, risen))
    frames = {
        "pipe_positions": tables.pipe_positions_table(survey, positions),
        "pipe_runs": tables.runs_table(runs),
        "pipe_totals": tables.totals_table(survey.catalogue, runs),
        "first_fix_notes": tables.first_fix_notes_table(survey, options, positions, runs, pieces),
        "first_fix_checks": tables.checks_table(first_fix_checks(survey, positions)),
    }
    facts = {
        "project": survey.project.name,
        "positions": len(positions),
        "pipes": sum(len(position.pipes) for position in positions),
        "crowded": sum(position.crowded for position in positions),
        "total_m": float(frames["pipe_totals"]["total_m"].sum()),
    }
    return FirstFixResult(survey, layout, options, positions, runs, frames, facts)


def _option_faults(survey: SurveyData, options: FirstFixOptions) -> list[InputIssue]:
    faults = []
    for name, value, maximum in (
        ("pipe_allowance_m", options.pipe_allowance_m, 2.0),
        ("hole_clearance_mm", options.hole_clearance_mm, 50.0),
    ):
        if not (is_number(value) and 0.0 <= value <= maximum):
            found = f"{value:g}" if is_number(value) else quoted_value(value)
            faults.append(InputIssue("first fix", name, found, f"0 to {maximum:g}"))
    if not isinstance(options.channel_heights_mm, Mapping):
        required = "heights of the channels in mm by the name of a profile"
        return [
            *faults,
            InputIssue("first fix", "channel_heights_mm", quoted_value(options.channel_heights_mm), required),
        ]
    profiles = {profile.name: profile for profile in survey.catalogue.profiles}
    for name, heights in options.channel_heights_mm.items():
        where = f'channel_heights_mm, "{name}"'
        if name not in profiles:
            known = ", ".join(f'"{known}"' for known in profiles)
            faults.append(InputIssue("first fix", where, "a profile the catalogue has not", f"one of {known}"))
            continue
        count, top = len(profiles[name].channels), profiles[name].height_mm
        required = f"{count} heights from 0 to {top:g} mm, one for each channel"
        if not (isinstance(heights, list | tuple) and all(is_number(height) for height in heights)):
            faults.append(InputIssue("first fix", where, quoted_value(heights), required))
        elif len(heights) != count or not all(0.0 <= height <= top for height in heights):
            found = ", ".join(f"{height:g}" for height in heights) or "no heights"
            faults.append(InputIssue("first fix", where, found, required))
    return faults


def _runs(
    survey: SurveyData, layout: Layout, options: FirstFixOptions, risen: Sequence[PipeRiser]
) -> Iterator[PipeRun]:
    """Every set of pipes of :func:`heatloop.layout.pipework.pipe_lays` with the positions that it connects."""
    lays = pipe_lays(survey, layout, options.pipe_allowance_m)
    crossings = iter(
        (loop, element)
        for loop in layout.loops
        for arm in loop.arms
        for element in arm.elements
        if isinstance(element, PlacedCrossing)
    )
    for number, lay in enumerate(lays, start=1):
        if lay.use == "trunk":
            yield _run(number, lay)
        elif lay.use == "tail":
            positions = _tail_positions(survey, risen, lay)
            yield (
                _run(number, lay, to_positions=positions)
                if lay.side == "flow"
                else _run(number, lay, from_positions=positions)
            )
        else:
            loop, crossing = next(crossings)
            if (loop.loop, crossing.reason) != (lay.loop, lay.description):
                raise ValueError(f"pipe lay {lay.description!r} of loop {lay.loop!r} is not the layout's next crossing")
            own = [(i, rise) for i, rise in enumerate(risen, start=1) if rise.crossing is crossing]
            yield _run(number, lay, *_sides(own))


def _sides(risers: Iterable[tuple[int, PipeRiser]]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Positions where the water leaves the skirting for a crossing, and where it returns to it."""
    leaves = tuple(number for number, rise in risers if not rise.entering)
    enters = tuple(number for number, rise in risers if rise.entering)
    return leaves, enters


def _tail_positions(survey: SurveyData, risen: Sequence[PipeRiser], tail: PipeLength) -> tuple[int, ...]:
    """Positions of the tail of a loop on its side: both at one valve end, or at the two ends of a one-way loop."""
    one_way = survey.loop(tail.loop).arrangement == "one-way"
    return tuple(
        number
        for number, rise in enumerate(risen, start=1)
        if rise.crossing is None
        and rise.placed.loop == tail.loop
        and (not one_way or rise.entering == (tail.side == "flow"))
    )


def _run(
    number: int, lay: PipeLength, from_positions: tuple[int, ...] = (), to_positions: tuple[int, ...] = ()
) -> PipeRun:
    drops, depth_m = (0, math.nan) if lay.depth_m is None else (2, lay.depth_m)
    return PipeRun(
        number, lay.use, lay.loop, lay.description, lay.pipe, lay.pipes, lay.length_m,
        drops, depth_m, lay.total_allowance_m, from_positions, to_positions,
    )  # fmt: skip
