"""Places where pipes rise to the skirting: ends of pieces, and the position of every pipe there."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from heatloop.handover.first_fix.floors import floor_at_pipes
from heatloop.handover.first_fix.model import Direction, FirstFixOptions, PipeEnd, PipePosition, Side
from heatloop.hydraulics.loop_paths import channel_directions
from heatloop.layout.build import VALVE_END, piece_letters
from heatloop.layout.model import Layout, Piece, PlacedCrossing, PlacedEnd, RunElement
from heatloop.layout.piece_ends import Meets, PlacedPiece, cut_deduction_mm
from heatloop.layout.pipework import allowance_at_end_m
from heatloop.layout.walls import EPS_M, rounded_length, straight_runs
from heatloop.survey.building import Room
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData

BETWEEN_MM = 5.0
"""Minimum gap between two bare pipes side by side, so that a fitting can be made on each (common practice)."""


@dataclass(frozen=True)
class PipeRiser:
    """One end of a piece to which pipes rise.

    `crossing` is None for tails. `entering`: the water of the outward channels enters the piece here.
    """

    placed: PlacedPiece
    meets: Meets
    side: Side
    crossing: PlacedCrossing | None
    entering: bool


def channel_heights_m(profile: Profile, given_mm: Mapping[str, Sequence[float]]) -> tuple[float, ...]:
    """Height in m of the centre of each channel above the finished floor, in the order of the catalogue.

    As in `given_mm` by profile; else evenly distributed over the height of the profile. The channels are listed from
    the top down, or from the bottom up where the first is called lower. Common practice.
    """
    if profile.name in given_mm:
        return tuple(height / 1000.0 for height in given_mm[profile.name])
    count = len(profile.channels)
    heights = [profile.height_mm / 1000.0 * (count - i - 0.5) / count for i in range(count)]
    rising = profile.channels[0].role.lower() in ("lower", "bottom")
    return tuple(reversed(heights)) if rising else tuple(heights)


def pipe_positions_m(
    edge_m: float, inward: int, cut_deduction_m: float, count: int, outside_m: float
) -> tuple[float, ...]:
    """Centres of `count` pipes in a cut deduction, the one nearest the profile first, m along the wall.

    `edge_m` is the outer end of the cut deduction, `inward` +1 or -1 the way from there to the profile. Where
    nothing is taken off the pipes are side by side from the edge inwards. To the millimetre: no pipe is set
    nearer.

    >>> pipe_positions_m(0.6, -1, 0.05, 2, 0.015)
    (0.563, 0.588)
    """
    spread_m = cut_deduction_m if cut_deduction_m > EPS_M else count * (outside_m + BETWEEN_MM / 1000.0)
    at_m = (edge_m + inward * spread_m * (count - i - 0.5) / count for i in range(count))
    return tuple(rounded_length(math.floor(x * 1000.0 + 0.5 + EPS_M) / 1000.0) for x in at_m)


def pipe_risers(layout: Layout, placed: PlacedPiece) -> Iterator[PipeRiser]:
    """Ends of a piece to which pipes rise, start of the water first."""
    start: Side = "left" if placed.piece.rightward else "right"
    end: Side = "right" if placed.piece.rightward else "left"
    for meets, side, begins in ((placed.start, start, True), (placed.end, end, False)):
        if isinstance(meets, PlacedCrossing):
            yield PipeRiser(placed, meets, side, meets, begins)
        elif isinstance(meets, PlacedEnd) and meets.kind == VALVE_END:
            elements = layout.loop(placed.loop).arms[placed.arm - 1].elements
            yield PipeRiser(placed, meets, side, _beyond(elements, meets, begins), begins)


def _beyond(elements: Sequence[RunElement], end: PlacedEnd, begins: bool) -> PlacedCrossing | None:
    """The crossing by which the tails reach a valve end, if the route has one there."""
    at = next(i for i, element in enumerate(elements) if element is end)
    outer = elements[max(at - 1, 0) : at] if begins else elements[at + 1 : at + 2]
    return outer[0] if outer and isinstance(outer[0], PlacedCrossing) else None


def riser_position(survey: SurveyData, rise: PipeRiser) -> tuple[int, float]:
    """First wall of the straight with this riser, and its distance in m from the left-hand corner."""
    run, _, edge_m = _along(survey.room(rise.placed.piece.room), rise.placed.piece, rise.side)
    return run[0], edge_m


def _along(room: Room, piece: Piece, side: Side) -> tuple[tuple[int, ...], float, float]:
    """The straight of a piece, its whole length, and the position in m of that end of the piece on it."""
    run = next(run for run in straight_runs(room.walls) if piece.wall in run)
    before_m = sum(room.walls[wall - 1].length_m for wall in run[: run.index(piece.wall)])
    length_m = sum(room.walls[wall - 1].length_m for wall in run)
    return run, length_m, before_m + (piece.from_m if side == "left" else piece.to_m)


def pipe_position(survey: SurveyData, options: FirstFixOptions, number: int, rise: PipeRiser) -> PipePosition:
    """The position of that number at a riser, with its pipes from left to right."""
    placed, crossing = rise.placed, rise.crossing
    room, loop = survey.room(placed.piece.room), survey.loop(placed.loop)
    pipe = survey.catalogue.pipe(crossing.pipe if crossing else loop.tails.pipe)
    outside_m, lagged_m = pipe.outside_mm / 1000.0, (pipe.outside_mm + 2.0 * pipe.insulation_mm) / 1000.0
    taken_m = lagged_m if survey.first_fix.opening == "lagged" else outside_m
    run, length_m, edge_m = _along(room, placed.piece, rise.side)
    served = _served(survey, options, rise)
    cut_deduction_m = cut_deduction_mm(survey.catalogue, rise.meets) / 1000.0
    inward = 1 if rise.side == "left" else -1
    centres = pipe_positions_m(edge_m, inward, cut_deduction_m, len(served), outside_m)
    ends = sorted(zip(centres, served, strict=True), key=lambda pair: pair[0])
    pipes = []
    for i, (s, (channel, direction, height_m)) in enumerate(ends):
        name = f"{number}{piece_letters(i)}" if len(ends) > 1 else f"{number}"
        pipes.append(
            PipeEnd(
                name,
                *_on_wall(room, run, s),
                rounded_length(s),
                rounded_length(length_m - s),
                height_m,
                channel,
                direction,
            )
        )
    return PipePosition(
        number=number,
        use="crossing" if crossing else "tail",
        loop=placed.loop,
        room=room.name,
        level_m=room.level_m,
        straight=run,
        piece=placed.piece.label,
        side=rise.side,
        past=crossing.reason if crossing else "",
        pipe=pipe.name,
        outside_m=outside_m,
        off_wall_m=placed.profile.depth_mm / 2000.0,
        lagged_m=lagged_m,
        opening_m=taken_m + options.hole_clearance_mm / 1000.0,
        word=floor_at_pipes(survey, room).word,
        depth_m=math.nan if crossing is None or crossing.depth_m is None else crossing.depth_m,
        allowance_m=allowance_at_end_m(pipe, options.pipe_allowance_m),
        crowded=cut_deduction_m < len(served) * (outside_m + BETWEEN_MM / 1000.0) - EPS_M,
        pipes=tuple(pipes),
    )


def _served(survey: SurveyData, options: FirstFixOptions, rise: PipeRiser) -> list[tuple[str, Direction, float]]:
    """Channel and direction of each pipe of a riser, the pipe nearest the profile (lowest channel) first.

    Channel, direction, and height in m.
    """
    placed = rise.placed
    loop, profile = survey.loop(placed.loop), placed.profile
    signs = channel_directions(profile, loop)
    heights = channel_heights_m(profile, options.channel_heights_mm)
    if placed.piece.floor_section is not None:
        heights = (math.nan,) * len(heights)
    ways: list[Direction] = ["flow" if sign > 0 else "return" for sign in signs]
    order = sorted(
        range(len(signs)), key=lambda i: (heights[i], -i) if placed.piece.floor_section is None else (0.0, -i)
    )
    if rise.crossing is not None:
        roles = [channel.role or f"channel {i}" for i, channel in enumerate(profile.channels, start=1)]
        return [(roles[i], ways[i], heights[i]) for i in order]
    if loop.arrangement == "one-way":
        return [("", "flow" if rise.entering else "return", math.fsum(heights) / len(heights))]
    tails: list[tuple[str, Direction, float]] = []
    for way in dict.fromkeys(ways[i] for i in order):
        own = [heights[i] for i in order if ways[i] == way]
        tails.append(("", way, math.fsum(own) / len(own)))
    return tails


def _on_wall(room: Room, run: Sequence[int], s: float) -> tuple[int, float]:
    """(wall, m from its left-hand end) of a distance in m along a straight from its left-hand corner."""
    for wall in run[:-1]:
        length_m = room.walls[wall - 1].length_m
        if s <= length_m + EPS_M:
            return wall, rounded_length(s)
        s -= length_m
    return run[-1], rounded_length(s)
