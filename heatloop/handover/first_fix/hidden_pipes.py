"""Places of pipes out of sight: at the tails and crossings of loops, and skirting in floors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.positions import pipe_position, pipe_risers
from heatloop.layout.model import Layout, Piece, PlacedCrossing, RunElement
from heatloop.layout.piece_ends import placed_pieces
from heatloop.survey.survey import SurveyData

DRILL_CLEAR_M = 0.1
"""Length beside rising pipes, at each end of a crossing or tail, in which there must be no holes either."""


@dataclass(frozen=True)
class HiddenPipe:
    """Pipes out of sight in a room: their loop, and their place in words; distances from the left-hand end of a
    wall."""

    room: str
    loop: str
    place: str


@dataclass(frozen=True)
class PipePlace:
    """A place on a wall where pipes go into the floor or the wall; `at_m`: middle of its pipes from the left-hand end
    of the wall."""

    room: str
    loop: str
    wall: int
    at_m: float


def hidden_pipes(survey: SurveyData, layout: Layout) -> Iterator[HiddenPipe]:
    """Every place of pipes out of sight, loop by loop: tails, crossings and skirting in the floor."""
    tails = list(_tails(survey, layout))
    for loop in layout.loops:
        yield from (tail for tail in tails if tail.loop == loop.loop)
        for arm in loop.arms:
            for place, element in enumerate(arm.elements):
                if isinstance(element, PlacedCrossing):
                    beside = _pieces_beside(arm.elements, place)
                    yield HiddenPipe(element.room, loop.loop, _along(element, beside))
                    if None in (element.wall, element.from_m, element.to_m):
                        yield from _other_sides(element, loop.loop, beside)
            for piece in arm.pieces:
                if piece.floor_section is not None:
                    words = f"skirting in the floor in front of {piece.floor_section}"
                    yield HiddenPipe(piece.room, loop.loop, words)


def pipe_places(survey: SurveyData, layout: Layout) -> tuple[PipePlace, ...]:
    """Where pipes rise to skirting, as in the first fix; none in rooms without a survey of their walls."""
    return tuple(
        PipePlace(position.room, position.loop, end.wall, end.at_m)
        for position in (
            pipe_position(survey, FirstFixOptions(), 0, rise)
            for placed in placed_pieces(survey, layout)
            if not placed.estimate
            for rise in pipe_risers(layout, placed)
        )
        for end in (position.pipes[len(position.pipes) // 2],)
    )


def route_is_unknown(survey: SurveyData) -> bool:
    """Whether there are pipes to the heat source: the survey states the length of tails and trunks, not their
    route."""
    return bool(survey.trunks) or any(loop.tails.flow_m + loop.tails.return_m > 0.0 for loop in survey.loops)


def _tails(survey: SurveyData, layout: Layout) -> Iterator[HiddenPipe]:
    """Pipes to the heat source at the end of the skirting; those that a crossing continues are there as a crossing."""
    for placed in placed_pieces(survey, layout):
        for rise in pipe_risers(layout, placed):
            if rise.crossing is not None:
                continue
            if placed.estimate:
                words = "pipes to the heat source, at a place that is not surveyed yet"
                yield HiddenPipe(placed.piece.room, placed.loop, words)
                continue
            position = pipe_position(survey, FirstFixOptions(), 0, rise)
            walls = dict.fromkeys(end.wall for end in position.pipes)
            at = " and ".join(
                _stretch(wall, [end.at_m for end in position.pipes if end.wall == wall]) for wall in walls
            )
            yield HiddenPipe(placed.piece.room, placed.loop, f"{at}, to source")


def _stretch(wall: int, at_m: Sequence[float]) -> str:
    """The stretch of a wall with pipes at those positions, and what is to be kept clear beside them."""
    return f"wall {wall}, {max(min(at_m) - DRILL_CLEAR_M, 0.0):.2f} to {max(at_m) + DRILL_CLEAR_M:.2f} m"


def _pieces_beside(elements: Sequence[RunElement], place: int) -> tuple[tuple[Piece, float], ...]:
    """The pieces before and after an element of an arm, each with its end beside it on its wall, m; fewer at the ends
    of the arm, and none where walls have not been surveyed."""
    before = [
        (item, item.to_m if item.rightward else item.from_m) for item in elements[:place] if isinstance(item, Piece)
    ]
    after = [
        (item, item.from_m if item.rightward else item.to_m)
        for item in elements[place + 1 :]
        if isinstance(item, Piece)
    ]
    return tuple((piece, at_m) for piece, at_m in (*before[-1:], *after[:1]) if piece.wall)


def _other_sides(crossing: PlacedCrossing, loop: str, beside: Sequence[tuple[Piece, float]]) -> Iterator[HiddenPipe]:
    """The ends of a crossing, given by its length, in rooms other than its own."""
    for piece, at_m in beside:
        if piece.room != crossing.room:
            yield HiddenPipe(piece.room, loop, f"{_stretch(piece.wall, (at_m,))}, to {crossing.room}")


def _along(crossing: PlacedCrossing, beside: Sequence[tuple[Piece, float]] = ()) -> str:
    """Where a crossing is; `beside`: the pieces at its ends, each with the position of that end on its wall, m."""
    if crossing.wall is None or crossing.from_m is None or crossing.to_m is None:
        ends = [_stretch(piece.wall, (at_m,)) if piece.room == crossing.room else piece.room for piece, at_m in beside]
        pipe = f"{crossing.length_m:.1f} m of pipe"
        return f"{', to '.join(ends)}: {pipe}" if ends else pipe
    low, high = sorted((crossing.from_m, crossing.to_m))
    at = f"{'in the floor at' if crossing.depth_m else 'at'} {crossing.reason}"
    if crossing.to_wall not in (None, crossing.wall):
        return f"from wall {crossing.wall} round the corner to wall {crossing.to_wall}, {at}"
    return f"{_stretch(crossing.wall, (low, high))}, {at}"
