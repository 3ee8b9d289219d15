"""Places of pipes out of sight: at the tails and crossings of loops, and skirting in floors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.positions import pipe_position, pipe_risers
from heatloop.layout.model import Layout, Piece, PlacedCrossing, RunElement
from heatloop.layout.piece_ends import placed_pieces
from heatloop.layout.walls import wall_parts
from heatloop.survey.building import Room
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import listing

Stretch = tuple[int, float, float]
"""A stretch of a wall: its number, and from where to where in m from its left-hand end."""

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
                    yield HiddenPipe(element.room, loop.loop, _along(survey, element, beside))
                    if None in (element.wall, element.from_m, element.to_m):
                        yield from _other_sides(survey, element, loop.loop, beside)
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


def unknown_routes(survey: SurveyData, layout: Layout) -> Iterator[str]:
    """Pipes whose length the survey states and not their route: those to the heat source, and crossings without a wall.

    Each in words, as "from Hall to Study (1.8 m)".
    """
    if survey.trunks or any(loop.tails.flow_m + loop.tails.return_m > 0.0 for loop in survey.loops):
        yield "between the skirting and the heat source"
    for loop in layout.loops:
        for arm in loop.arms:
            for place, element in enumerate(arm.elements):
                if isinstance(element, PlacedCrossing) and None in (element.wall, element.from_m, element.to_m):
                    yield _between_rooms(element, _neighbours(arm.elements, place))


def _neighbours(elements: Sequence[RunElement], place: int) -> tuple[str, ...]:
    """Rooms of the skirting before and after an element of an arm, also where walls have not been surveyed."""
    before = [item.room for item in elements[:place] if isinstance(item, Piece)]
    after = [item.room for item in elements[place + 1 :] if isinstance(item, Piece)]
    return tuple(dict.fromkeys((*before[-1:], *after[:1])))


def _between_rooms(crossing: PlacedCrossing, rooms: Sequence[str]) -> str:
    """A crossing without a wall by the rooms at its ends."""
    between = f"from {rooms[0]} to {rooms[1]}" if len(rooms) == 2 else f"in {crossing.room}"
    return f"{between} ({crossing.length_m:.1f} m)"


def _tails(survey: SurveyData, layout: Layout) -> Iterator[HiddenPipe]:
    """Pipes to the heat source at the ends of the skirting, one place for each loop and room.

    Those that a crossing continues are there as a crossing.
    """
    places: dict[tuple[str, str], list[Stretch]] = {}
    for placed in placed_pieces(survey, layout):
        for rise in pipe_risers(layout, placed):
            if rise.crossing is not None:
                continue
            if placed.estimate:
                words = "pipes to the heat source: at a place that is not surveyed yet"
                yield HiddenPipe(placed.piece.room, placed.loop, words)
                continue
            pipes = pipe_position(survey, FirstFixOptions(), 0, rise).pipes
            spread_m = pipes[-1].from_left_corner_m - pipes[0].from_left_corner_m
            room = survey.room(placed.piece.room)
            places.setdefault((room.name, placed.loop), []).extend(
                _kept_clear(room, pipes[0].wall, pipes[0].at_m, pipes[0].at_m + spread_m)
            )
    for (room_name, loop), stretches in places.items():
        yield HiddenPipe(room_name, loop, f"pipes to the heat source: {_in_words(_joined(stretches))}")


def _kept_clear(room: Room, wall: int, from_m: float, to_m: float) -> tuple[Stretch, ...]:
    """The stretch between two positions with what is to be kept clear beside them, wall by wall.

    Both are in m from the left-hand end of `wall`; what is beyond an end of it is on the next wall, round the corner.
    """
    low_m, high_m = from_m - DRILL_CLEAR_M, to_m + DRILL_CLEAR_M
    while low_m < 0.0:
        wall = (wall - 2) % len(room.walls) + 1
        low_m, high_m = low_m + room.walls[wall - 1].length_m, high_m + room.walls[wall - 1].length_m
    return wall_parts(room, wall, low_m, high_m)


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches with those of a wall that overlap as one."""
    joined: list[Stretch] = []
    for wall in dict.fromkeys(wall for wall, _, _ in stretches):
        for _, from_m, to_m in sorted(stretch for stretch in stretches if stretch[0] == wall):
            if joined and joined[-1][0] == wall and from_m <= joined[-1][2]:
                joined[-1] = (wall, joined[-1][1], max(joined[-1][2], to_m))
            else:
                joined.append((wall, from_m, to_m))
    return joined


def _in_words(stretches: Sequence[Stretch]) -> str:
    """Stretches as "wall 8 from 0.60 to 0.80 m", without those shorter than can be read there."""
    return listing(
        f"wall {wall} from {from_m:.2f} to {to_m:.2f} m"
        for wall, from_m, to_m in stretches
        if f"{from_m:.2f}" != f"{to_m:.2f}"
    )


def _round_corners(room: Room, crossing: PlacedCrossing) -> tuple[int, float, float]:
    """Left-hand wall of a crossing, and its ends in m from the left-hand end of that wall.

    A crossing that ends on another wall passes one or more corners, the shorter way round the room.
    """
    wall, to_wall = crossing.wall or 0, crossing.to_wall or crossing.wall or 0
    from_m, to_m = crossing.from_m or 0.0, crossing.to_m or 0.0
    if wall == to_wall:
        return wall, min(from_m, to_m), max(from_m, to_m)
    ways = []
    for left, start_m, right, end_m in ((wall, from_m, to_wall, to_m), (to_wall, to_m, wall, from_m)):
        count = (right - left) % len(room.walls)
        passed_m = sum(room.walls[(left - 1 + step) % len(room.walls)].length_m for step in range(count))
        ways.append((left, start_m, passed_m + end_m))
    return min(ways, key=lambda way: way[2] - way[1])


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


def _other_sides(
    survey: SurveyData, crossing: PlacedCrossing, loop: str, beside: Sequence[tuple[Piece, float]]
) -> Iterator[HiddenPipe]:
    """The ends of a crossing, given by its length, in rooms other than its own."""
    for piece, at_m in beside:
        if piece.room != crossing.room:
            yield HiddenPipe(piece.room, loop, f"pipe to {crossing.room}: {_beside(survey, piece, at_m)}")


def _beside(survey: SurveyData, piece: Piece, at_m: float) -> str:
    """The stretch of wall at the end of a piece."""
    return _in_words(_kept_clear(survey.room(piece.room), piece.wall, at_m, at_m))


def _along(survey: SurveyData, crossing: PlacedCrossing, beside: Sequence[tuple[Piece, float]] = ()) -> str:
    """Where a crossing is; `beside`: the pieces at its ends, each with the position of that end on its wall, m."""
    if crossing.wall is None or crossing.from_m is None or crossing.to_m is None:
        own = listing(_beside(survey, piece, at_m) for piece, at_m in beside if piece.room == crossing.room)
        others = listing(dict.fromkeys(piece.room for piece, _ in beside if piece.room != crossing.room))
        pipe = f"pipe of {crossing.length_m:.1f} m{f' to {others}' if others else ''}, its route unknown"
        return f"{pipe}: {own}" if own else pipe
    at = f"{'in the floor past' if crossing.depth_m else 'past'} {crossing.reason}"
    room = survey.room(crossing.room)
    return f"{_in_words(_kept_clear(room, *_round_corners(room, crossing)))}, {at}"
