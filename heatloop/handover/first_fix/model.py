"""Values of first fix: positions, their pipes, and the runs of pipe between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from heatloop.handover.first_fix.floors import OpeningWord
from heatloop.layout.pipework import PIPE_ALLOWANCE_M

Direction = Literal["flow", "return"]
Side = Literal["left", "right"]


@dataclass(frozen=True)
class FirstFixOptions:
    """Options of the fitter for `Design.first_fix`. The defaults are common practice.

    Attributes
    ----------
    pipe_allowance_m : float, default 0.15
        Length of pipe in m above the height at which it meets the profile, cut off at second fix, where the catalogue
        states none.
    channel_heights_mm : mapping of str to sequence of float
        By profile, the height of each channel above the finished floor in mm, in the order of the catalogue; the
        channels of a profile that is left out are taken as evenly spaced.
    hole_clearance_mm : float, default 4.0
        Width of an opening in the floor beyond its pipe, in mm; the survey states whether it is for the bare pipe or
        the pipe with its insulation.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.FirstFixOptions(hole_clearance_mm=6.0).hole_clearance_mm
    6.0
    """

    pipe_allowance_m: float = PIPE_ALLOWANCE_M
    channel_heights_mm: Mapping[str, Sequence[float]] = field(default_factory=dict)
    hole_clearance_mm: float = 4.0


@dataclass(frozen=True)
class PipeEnd:
    """One pipe at a position.

    `at_m`: from the left-hand end of its `wall`. `height_m`: where it meets the profile (NaN for skirting laid in the
    floor). `channel`: role of its waterway; empty where it serves all. It is set out by `from_left_corner_m`: from the
    left-hand corner of the straight, facing the wall from inside the room. `from_right_corner_m` is a check: the sum of
    both is the measured length of the straight.
    """

    mark: str
    wall: int
    at_m: float
    from_left_corner_m: float
    from_right_corner_m: float
    height_m: float
    channel: str
    direction: Direction


@dataclass(frozen=True)
class PipePosition:
    """A place where pipes rise to one end of a piece; its pipes from left to right.

    `use` is tail or crossing; `past` is what a crossing passes. `depth_m`: depth on this side of an automatic crossing;
    NaN where the survey states a length that includes it. `off_wall_m`: from the finished wall to the centre of the
    pipe. `allowance_m`: length of pipe above its height. `opening_m`: diameter of the opening in the floor; `word`: a
    hole, a sleeve or, where the floor was not surveyed, an opening. `lagged_m`: outside diameter with insulation.
    `crowded`: the pipes have less space than they require.
    """

    number: int
    use: Literal["tail", "crossing"]
    loop: str
    room: str
    level_m: float
    straight: tuple[int, ...]
    piece: str
    side: Side
    past: str
    pipe: str
    outside_m: float
    off_wall_m: float
    lagged_m: float
    opening_m: float
    word: OpeningWord
    depth_m: float
    allowance_m: float
    crowded: bool
    pipes: tuple[PipeEnd, ...]

    @property
    def wall(self) -> int:
        """The wall of its first pipe."""
        return self.pipes[0].wall


@dataclass(frozen=True)
class PipeRun:
    """Plain pipe from one position to another: `pipes` parallel pipes, each `length_m` as fitted.

    `from_positions` and `to_positions`: numbers of the positions that it connects; empty where it ends under the floor
    or at the distribution. `length_m` includes `drops` of `depth_m` in an automatic crossing; elsewhere it is the
    length in the survey. `allowance_m`: for all its pipes and ends together.
    """

    number: int
    use: str
    loop: str
    description: str
    pipe: str
    pipes: int
    length_m: float
    drops: int
    depth_m: float
    allowance_m: float
    from_positions: tuple[int, ...] = ()
    to_positions: tuple[int, ...] = ()

    @property
    def total_m(self) -> float:
        """Length in m of all its pipes with their allowances."""
        return self.pipes * self.length_m + self.allowance_m
