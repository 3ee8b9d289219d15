"""Plain pipe of a design: trunks, tails and crossings, with what is left over at first fix."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from heatloop.layout.model import CrossingAt, Layout
from heatloop.survey.model import Survey

CROSSING_ENDS, TAIL_ENDS = 2, 1
"""Ends of one pipe that meet skirting: both of a crossing's, one of a tail's."""


@dataclass(frozen=True)
class PipeLay:
    """So many pipes side by side, each `length_m` and `first_fix_m` more left over to be cut at second fix.

    `use` tells a trunk from a tail or a crossing; of a crossing `room`, `wall` and the positions (m) are
    where it leaves the skirting and comes back to it, None where the survey states only its length.
    """

    use: Literal["trunk", "tail", "crossing"]
    pipe: str
    pipes: int
    length_m: float
    first_fix_m: float
    what: str
    loop: str = ""
    room: str = ""
    wall: int | None = None
    from_m: float | None = None
    to_wall: int | None = None
    to_m: float | None = None

    @property
    def total_m(self) -> float:
        """Length of all its pipes as fitted, m."""
        return self.pipes * self.length_m

    @property
    def left_over_m(self) -> float:
        """What all its pipes are longer at first fix, m."""
        return self.pipes * self.first_fix_m


def pipe_lays(survey: Survey, layout: Layout) -> tuple[PipeLay, ...]:
    """All plain pipe of the survey: trunks, then each loop's tails and crossings in water order."""
    return (*_trunks(survey), *_loops(survey, layout))


def _trunks(survey: Survey) -> Iterator[PipeLay]:
    for trunk in survey.trunks:
        what = f"trunk {trunk.name}, flow and return"
        yield PipeLay("trunk", trunk.pipe, 2, trunk.length_m, 0.0, what)


def _loops(survey: Survey, layout: Layout) -> Iterator[PipeLay]:
    for loop in survey.loops:
        spare_m = survey.catalogue.pipe(loop.tails.pipe).first_fix_m * TAIL_ENDS
        for side, length_m in (("flow", loop.tails.flow_m), ("return", loop.tails.return_m)):
            yield PipeLay("tail", loop.tails.pipe, 1, length_m, spare_m, f"{side} tail", loop.name)
        channels = len(survey.catalogue.profile(loop.profile).channels)
        for arm in layout.loop(loop.name).arms:
            for element in arm.elements:
                if isinstance(element, CrossingAt):
                    yield _crossing(survey, loop.name, channels, element)


def _crossing(survey: Survey, loop: str, channels: int, crossing: CrossingAt) -> PipeLay:
    spare_m = survey.catalogue.pipe(crossing.pipe).first_fix_m * CROSSING_ENDS
    return PipeLay(
        "crossing", crossing.pipe, channels, crossing.length_m, spare_m, crossing.reason, loop, crossing.room,
        crossing.wall, crossing.from_m, crossing.to_wall, crossing.to_m,
    )  # fmt: skip
