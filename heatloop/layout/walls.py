"""Parts of a wall for skirting: interruptions, covered stretches and free stretches.

Positions are in metres from the left-hand end of a wall, facing it. The functions of plain numbers do not depend on
rooms; those of a wall read the values of the survey.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.profiles import Profile
from heatloop.survey.room_geometry import corner_kind

EPS_M = 1e-6
"""Lengths that differ by less than this are equal: tolerance for rounding in sums of measured lengths."""

Interval = tuple[float, float]


def rounded_length(value_m: float) -> float:
    """A length (m) rounded to the nanometre, so that sums do not depend on the order of their terms.

    >>> rounded_length(0.1 + 0.2)
    0.3
    """
    return round(value_m, 9) + 0.0  # no minus zero


@dataclass(frozen=True)
class WallFeature:
    """A stretch of wall that does not carry ordinary skirting, and the reason.

    `kind` is crossing (the run passes as plain pipe), stop (it cannot pass) or floor section (the profile is in the
    floor). `depth_m`: depth of a crossing at each side, None for that of the loop.
    """

    from_m: float
    to_m: float
    kind: Literal["crossing", "stop", "floor section"]
    what: str
    depth_m: float | None = None


def interrupts_skirting(opening: Opening, profile: Profile) -> bool:
    """True if the opening extends down into the height that the profile and its clearance require.

    An opening whose sill is exactly at the height of profile and clearance does not interrupt.
    """
    return opening.sill_m < (profile.height_mm + profile.clearance_mm) / 1000.0 - EPS_M


def wall_features(wall: Wall, profile: Profile, floor_sections: Iterable[str] = ()) -> tuple[WallFeature, ...]:
    """Interruptions of one wall from left to right, clipped to its length (m).

    An interrupting opening named in `floor_sections` is a floor section, any other a crossing; obstacles cross or
    stop as the survey states.
    """
    named = set(floor_sections)
    features = [
        WallFeature(
            o.start_m, o.end_m, "floor section" if o.name in named else "crossing", o.name or o.kind, o.crossing_depth_m
        )
        for o in wall.openings
        if interrupts_skirting(o, profile)
    ]
    features += [WallFeature(o.start_m, o.end_m, o.run, o.kind, o.crossing_depth_m) for o in wall.obstacles]
    clipped = (
        WallFeature(max(m.from_m, 0.0), min(m.to_m, wall.length_m), m.kind, m.what, m.depth_m)
        for m in features
        if m.to_m > EPS_M and m.from_m < wall.length_m - EPS_M
    )
    return tuple(sorted(clipped, key=lambda m: (m.from_m, m.to_m)))


def free_stretches(length_m: float, taken: Iterable[Interval], min_piece_m: float = 0.0) -> tuple[Interval, ...]:
    """Free parts of a straight of `length_m` between the `taken` intervals (m), left to right.

    Stretches shorter than `min_piece_m` are left out. Intervals may overlap and have any order.

    >>> free_stretches(5.0, [(1.0, 1.8), (4.9, 5.0)], 0.25)
    ((0.0, 1.0), (1.8, 4.9))
    """
    free: list[Interval] = []
    at = 0.0
    for start, end in [*sorted(taken), (length_m, length_m)]:
        stop = min(start, length_m)
        if stop - at > EPS_M and stop - at >= min_piece_m - EPS_M:
            free.append((at, stop))
        at = max(at, end)
    return tuple(free)


def factor_stretches(
    from_m: float, to_m: float, covers: Sequence[tuple[float, float, float]]
) -> tuple[tuple[float, float, float], ...]:
    """`from_m` to `to_m` cut where a cover starts or ends, each part with its output factor.

    `covers` are (from_m, to_m, factor); where covers overlap the smallest factor counts, and
    neighbouring parts of one factor are one.

    >>> factor_stretches(0.0, 3.0, [(1.0, 2.0, 0.6)])
    ((0.0, 1.0, 1.0), (1.0, 2.0, 0.6), (2.0, 3.0, 1.0))
    """
    edges = {e for start, end, _ in covers for e in (start, end) if from_m + EPS_M < e < to_m - EPS_M}
    cuts = distinct_positions([from_m, to_m, *edges])
    parts: list[tuple[float, float, float]] = []
    for start, end in pairwise(cuts):
        middle = (start + end) / 2.0
        factor = min([f for a, b, f in covers if a < middle < b], default=1.0)
        if parts and parts[-1][2] == factor:
            parts[-1] = (parts[-1][0], end, factor)
        else:
            parts.append((start, end, factor))
    return tuple(parts)


def distinct_positions(values: Iterable[float]) -> list[float]:
    """The values in rising order, those within 1e-6 of the one before left out."""
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > EPS_M:
            kept.append(value)
    return kept


def straight_runs(walls: Sequence[Wall]) -> tuple[tuple[int, ...], ...]:
    """Wall numbers (from 1) grouped clockwise into straights: a turn of 0 joins a wall to the next.

    >>> straight_runs([Wall(2.0, turn_deg=0.0), Wall(1.0), Wall(2.0), Wall(3.0), Wall(2.0)])
    ((1, 2), (3,), (4,), (5,))
    """
    count = len(walls)
    starts = [i for i in range(count) if not is_straight(walls[i - 1].turn_deg)]
    runs = []
    for position, start in enumerate(starts):
        following = starts[(position + 1) % len(starts)]
        size = (following - start - 1) % count + 1
        runs.append(tuple((start + k) % count + 1 for k in range(size)))
    return tuple(sorted(runs))


def is_straight(turn_deg: float) -> bool:
    """True where two walls are one straight, within the accuracy of a protractor (0.5 degrees)."""
    return corner_kind(turn_deg) == "straight"


def wall_parts(room: Room, wall: int, from_m: float, to_m: float) -> tuple[tuple[int, float, float], ...]:
    """A stretch that starts on `wall`, as (wall, from_m, to_m) on each of its walls.

    A `to_m` beyond the length of the wall continues along the next one.
    """
    parts = []
    while True:
        length_m = room.walls[wall - 1].length_m
        if min(to_m, length_m) - from_m > EPS_M:
            parts.append((wall, from_m, min(to_m, length_m)))
        if to_m <= length_m + EPS_M:
            return tuple(parts)
        from_m, to_m = 0.0, to_m - length_m
        wall = wall % len(room.walls) + 1


def spare_wall_m(room: Room, profile: Profile, used: Iterable[tuple[int, float, float]]) -> float:
    """Length of wall (m) suitable for the profile but without it, in stretches of at least its shortest piece.

    `used`: (wall, from_m, to_m) with skirting, each within one wall. Covered stretches are included: skirting can run
    behind them.
    """
    used = tuple(used)
    total = 0.0
    for run in straight_runs(room.walls):
        taken: list[Interval] = []
        offset = 0.0
        for number in run:
            wall = room.walls[number - 1]
            taken += [(offset + m.from_m, offset + m.to_m) for m in wall_features(wall, profile)]
            taken += [(offset + a, offset + b) for w, a, b in used if w == number]
            offset += wall.length_m
        total += sum(b - a for a, b in free_stretches(offset, taken, profile.min_piece_m))
    return total
