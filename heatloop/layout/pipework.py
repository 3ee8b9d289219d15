"""Plain pipe of a design: trunks, tails and crossings, with what is left over at first fix."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from heatloop.layout.model import Layout, PlacedCrossing, PlacedEnd
from heatloop.survey.catalogue import Pipe
from heatloop.survey.survey import SurveyData

PipeSide = Literal["flow", "return"]

PIPE_ALLOWANCE_M = 0.15
"""Left over at each end that meets skirting, of a pipe whose catalogue entry states none (common practice)."""


@dataclass(frozen=True)
class PipeLength:
    """Several parallel pipes, each `length_m` long as fitted, and longer before second fix.

    `ends` of each pipe meet skirting; at each of these ends `end_m` is left over and cut off at second fix. `use` is
    trunk, tail or crossing; `side` is flow or return of a tail. For a crossing, `room`, `wall` and the positions (m)
    are where it leaves the skirting and returns to it; None where the survey states only its length.
    """

    use: Literal["trunk", "tail", "crossing"]
    pipe: str
    pipes: int
    length_m: float
    ends: int
    end_m: float
    description: str
    loop: str = ""
    room: str = ""
    wall: int | None = None
    from_m: float | None = None
    to_wall: int | None = None
    to_m: float | None = None
    depth_m: float | None = None
    side: PipeSide | None = None

    @property
    def allowance_m(self) -> float:
        """Allowance of one of its pipes at first fix, m."""
        return self.ends * self.end_m

    @property
    def total_m(self) -> float:
        """Length of all its pipes as fitted, m."""
        return self.pipes * self.length_m

    @property
    def total_allowance_m(self) -> float:
        """Allowance of all its pipes at first fix, m."""
        return self.pipes * self.allowance_m


def allowance_at_end_m(pipe: Pipe, otherwise_m: float = PIPE_ALLOWANCE_M) -> float:
    """Allowance of a pipe at each end that meets skirting, m: the catalogue's, or else `otherwise_m`."""
    return otherwise_m if pipe.allowance_m is None else pipe.allowance_m


def pipe_lays(survey: SurveyData, layout: Layout, otherwise_m: float = PIPE_ALLOWANCE_M) -> tuple[PipeLength, ...]:
    """All plain pipe of the survey: trunks, then tails and crossings of each loop in water order.

    Parts list and first fix both use this count. An end counts where it meets skirting: both ends of a crossing between
    two pieces, one end of a crossing that joins the tails, and every valve end to which a tail divides. `otherwise_m`:
    allowance of pipes whose catalogue entry states no `allowance_m`.
    """
    return (*_trunks(survey), *_loops(survey, layout, otherwise_m))


def _trunks(survey: SurveyData) -> Iterator[PipeLength]:
    for trunk in survey.trunks:
        description = f"trunk {trunk.name}, flow and return"
        yield PipeLength("trunk", trunk.pipe, 2, trunk.length_m, 0, 0.0, description)


def _loops(survey: SurveyData, layout: Layout, otherwise_m: float) -> Iterator[PipeLength]:
    for loop in survey.loops:
        arms = layout.loop(loop.name).arms
        tail = loop.tails.pipe
        end_m = allowance_at_end_m(survey.catalogue.pipe(tail), otherwise_m)
        one_way = loop.arrangement == "one-way"
        tails: tuple[tuple[PipeSide, float], ...] = (("flow", loop.tails.flow_m), ("return", loop.tails.return_m))
        for side, length_m in tails:
            outer = -1 if one_way and side == "return" else 0
            ends = sum(isinstance(arm.elements[outer], PlacedEnd) for arm in arms) if arms else 1  # at the emitter
            yield PipeLength("tail", tail, 1, length_m, ends, end_m, f"{side} tail", loop.name, side=side)
        channels = len(survey.catalogue.profile(loop.profile).channels) if loop.profile else 0
        for arm in arms:
            for index, element in enumerate(arm.elements):
                if isinstance(element, PlacedCrossing):
                    beside = (*arm.elements[max(index - 1, 0) : index], *arm.elements[index + 1 : index + 2])
                    ends = sum(not isinstance(other, PlacedCrossing) for other in beside)
                    end_m = allowance_at_end_m(survey.catalogue.pipe(element.pipe), otherwise_m)
                    yield _crossing(loop.name, channels, element, ends, end_m)


def _crossing(loop: str, channels: int, crossing: PlacedCrossing, ends: int, end_m: float) -> PipeLength:
    return PipeLength(
        "crossing", crossing.pipe, channels, crossing.length_m, ends, end_m, crossing.reason, loop, crossing.room,
        crossing.wall, crossing.from_m, crossing.to_wall, crossing.to_m, crossing.depth_m,
    )  # fmt: skip
