"""The layout of a whole survey: every loop, and the walls of every room."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations

from heatloop.findings.assumption import Assumption
from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.layout.joints import BEND_ZETA, CROSSING_BENDS, FLOOR_JOINT_ZETA, AnyFit, EndFit, JointFit, crossing_for
from heatloop.layout.model import (
    Arm,
    Layout,
    LoopLayout,
    Piece,
    PlacedCrossing,
    PlacedEnd,
    PlacedJoint,
    RoomLayout,
    RunElement,
    Segment,
)
from heatloop.layout.pieces import LoopChain, layout_chain
from heatloop.layout.routes import ChainItem, WallChain, wall_chains
from heatloop.layout.walls import spare_wall_m, wall_parts
from heatloop.survey.building import Room
from heatloop.survey.catalogue import EndKind
from heatloop.survey.editing import Survey
from heatloop.survey.entry import survey_from
from heatloop.survey.loops import Loop, RouteCrossing, RouteEstimate, RouteItem
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData
from heatloop.survey.traverse.squared_room import geometry_of_room

OVERLAP_M = 0.001

FULL_TURN_DEG = 360.0

VALVE_END: EndKind = "valve end"
TURN_END: EndKind = "turn end"


def build_layout(survey: SurveyData) -> Layout:
    """Pieces, joints, crossings and ends of every loop, and the use of the walls of each room.

    Depends only on the survey. Raises InputError with all errors: routes that are not continuous, turns without a
    joint, obstacles that stop the run, impossible floor sections, two runs on one stretch of wall, a loop without
    skirting, or an invalid bearing of a first wall.
    """
    layouts, faults = _laid(survey)
    if faults := (*faults, *_bearing_faults(survey)):
        raise InputError(faults)
    labelled = label_pieces(layouts)
    rooms = tuple(_room(survey, room, labelled) for room in survey.rooms)
    return Layout(labelled, rooms, _assumptions(survey, labelled, rooms))


def _bearing_faults(survey: SurveyData) -> list[InputIssue]:
    """Invalid bearings of first walls; files are checked before, surveys made in Python are checked here."""
    return [
        survey.fault(
            f'room "{room.name}", first_wall_bearing_deg',
            f"{room.first_wall_bearing_deg:g}",
            f"a bearing in degrees from north, -{FULL_TURN_DEG:g} to {FULL_TURN_DEG:g}",
        )
        for room in survey.rooms
        if not abs(room.first_wall_bearing_deg) <= FULL_TURN_DEG
    ]


def layout_faults(survey: SurveyData) -> tuple[InputIssue, ...]:
    """Every error that :func:`build_layout` would raise."""
    return _laid(survey)[1]


def _laid(survey: SurveyData) -> tuple[list[LoopLayout], tuple[InputIssue, ...]]:
    """The loops with a valid layout, without labels, and the errors of all loops."""
    faults: list[InputIssue] = []
    layouts: list[LoopLayout] = []
    for loop in survey.loops:
        try:
            layouts.append(_loop(survey, loop))
        except InputError as error:
            faults += error.issues
    faults += _overlaps(survey, layouts)
    return layouts, tuple(dict.fromkeys(faults))


def label_pieces(loops: Iterable[LoopLayout]) -> tuple[LoopLayout, ...]:
    """The loops with a label on every piece: room and wall, and a letter from the left where a wall has several.

    Labels do not depend on the loop, so that a new name of a loop leaves them unchanged.
    """
    loops = tuple(loops)
    on_wall: dict[tuple[str, int], list[Piece]] = defaultdict(list)
    for loop in loops:
        for piece in loop.pieces:
            on_wall[piece.room, piece.wall].append(piece)
    labels: dict[int, str] = {}
    for (room, wall), pieces in on_wall.items():
        where = str(wall) if wall else "estimate"
        for i, piece in enumerate(sorted(pieces, key=lambda p: p.from_m)):
            letter = "" if len(pieces) == 1 else (piece_letters(i) if wall else f"-{piece_letters(i)}")
            labels[id(piece)] = f"{room} {where}{letter}"

    def labelled(element: RunElement) -> RunElement:
        return replace(element, label=labels[id(element)]) if isinstance(element, Piece) else element

    return tuple(
        LoopLayout(loop.loop, tuple(Arm(tuple(map(labelled, arm.elements))) for arm in loop.arms)) for loop in loops
    )


def piece_letters(index: int) -> str:
    """a to z, then aa, ab and so on.

    >>> piece_letters(0), piece_letters(25), piece_letters(26)
    ('a', 'z', 'aa')
    """
    before = piece_letters(index // 26 - 1) if index >= 26 else ""
    return before + chr(ord("a") + index % 26)


def _loop(survey: SurveyData, loop: Loop) -> LoopLayout:
    """One loop; all its errors are raised together."""
    if loop.emitters and not loop.arms:
        return LoopLayout(loop.name, ())
    faults: list[InputIssue] = []
    arms: list[Arm] = []
    place = f'loop "{loop.name}"'
    if loop.profile not in {p.name for p in survey.catalogue.profiles}:
        required = "a profile of the catalogue"
        raise InputError([survey.fault(f"{place}, profile", f'"{loop.profile}"', required)])
    profile = survey.catalogue.profile(loop.profile)
    far_end = TURN_END if loop.arrangement == "there-and-back" else VALVE_END
    ends = {end.kind for end in survey.catalogue.ends}
    missing = [kind for kind in dict.fromkeys((VALVE_END, far_end)) if kind not in ends]
    if missing:
        raise InputError(
            survey.fault(place, f'no end of the kind "{kind}" in the catalogue', "one with its cut_deduction_mm")
            for kind in missing
        )
    if not loop.arms or not all(loop.arms):
        raise InputError([survey.fault(place, "no skirting on its route", "at least one piece")])
    for items in loop.arms:
        try:
            arms.append(_arm(survey, loop, profile, items, far_end))
        except InputError as error:
            faults += error.issues
    if not faults:
        faults += _straight_faults(survey, loop, arms, profile)
    if faults:
        raise InputError(faults)
    return LoopLayout(loop.name, tuple(arms))


def _straight_faults(survey: SurveyData, loop: Loop, arms: Sequence[Arm], profile: Profile) -> list[InputIssue]:
    """An error for every straight joint of the survey that cannot be placed where it is stated."""
    straights = [e for arm in arms for e in arm.elements if isinstance(e, PlacedJoint) and e.kind == "straight"]
    issues = []
    rooms = {room.name: room for room in survey.rooms}
    for number, required in enumerate(loop.straight_joints, start=1):
        room = rooms[required.room]
        stated_m = _along_walls_m(room, required.wall, required.at_m)
        laid_m = [_along_walls_m(room, e.wall, e.at_m) for e in straights if e.room == room.name]
        round_m = sum(wall.length_m for wall in room.walls)
        if not any((laid - stated_m + OVERLAP_M) % round_m < 2.0 * OVERLAP_M for laid in laid_m):
            place = f'loop "{loop.name}", straight joint {number}'
            words = f'{required.at_m:g} m on wall {required.wall} of room "{required.room}"'
            minimum = (
                f"a place within one of its stretches on a wall, {profile.min_piece_m:g} m or more from either end"
            )
            issues.append(survey.fault(place, words, minimum))
    return issues


def _along_walls_m(room: Room, wall: int, at_m: float) -> float:
    """Position along all walls of a room, from the start of wall 1: the end of a wall is the start of the next."""
    return sum(before.length_m for before in room.walls[: wall - 1]) + at_m


def _arm(survey: SurveyData, loop: Loop, profile: Profile, items: Sequence[RouteItem], far_end: EndKind) -> Arm:
    """One arm in water order, with the end at which it starts and its far end.

    Crossings before the first skirting are between the tails and its valve end; those after the last are between the
    far valve end of a one-way loop and its return.
    """
    parts = wall_chains(survey, loop.name, items)
    skirting = [i for i, part in enumerate(parts) if not isinstance(part, RouteCrossing)]
    place = f'loop "{loop.name}"'
    if not skirting:
        raise InputError([survey.fault(place, "no skirting on its route", "at least one piece")])
    faults: list[InputIssue] = []
    if skirting[-1] < len(parts) - 1 and far_end == TURN_END:
        required = "skirting after it: the water turns at the far end"
        faults.append(survey.fault(place, "a crossing at the far end of its route", required))
    first, last = _end_fit(survey, VALVE_END), _end_fit(survey, far_end)
    side = crossing_for(survey.catalogue)
    elements: list[RunElement] = []
    for i, part in enumerate(parts):
        if isinstance(part, RouteCrossing):
            elements.append(_stated_crossing(part, side, _room_beside(parts, i), _rooms_joined(parts, i)))
            continue
        start = first if i == skirting[0] else side
        end = last if i == skirting[-1] else side
        try:
            skirting_elements = _skirting(survey, loop, profile, part, start, end)
        except InputError as error:
            faults += error.issues
            continue
        if i == skirting[0]:
            elements.append(_end(survey, skirting_elements[0], first, True))
        elements += skirting_elements
        if i == skirting[-1]:
            elements.append(_end(survey, skirting_elements[-1], last, False))
    if faults:
        raise InputError(faults)
    return Arm(tuple(elements))


def _skirting(
    survey: SurveyData, loop: Loop, profile: Profile, part: WallChain | RouteEstimate, start: AnyFit, end: AnyFit
) -> tuple[RunElement, ...]:
    """Skirting on walls, or the estimated length in a room before its survey: corners and cut deductions unknown."""
    if isinstance(part, WallChain):
        return layout_chain(LoopChain(survey, loop, profile, part), start, end)
    length_m = part.estimated_wall_m
    return (Piece("", part.room, 0, 0.0, length_m, length_m, (Segment(length_m),), rightward=True),)


def _end_fit(survey: SurveyData, kind: EndKind) -> EndFit:
    end = survey.catalogue.end_of_kind(kind)
    return EndFit(kind, end.name, end.cut_deduction_mm / 1000.0, end.zeta)


def _end(survey: SurveyData, beside: RunElement, fit: EndFit, start: bool) -> PlacedEnd:
    """The end at the start or the far end of an arm, on the outer side of the piece `beside` it."""
    if not isinstance(beside, Piece):
        raise TypeError("skirting begins and ends with a piece")
    if not beside.wall:
        return PlacedEnd(fit.kind, fit.name, beside.room, None, None, fit.zeta)
    wall, at_m = beside.wall, beside.from_m
    if beside.rightward != start:
        wall, _, at_m = wall_parts(survey.room(beside.room), wall, beside.from_m, beside.to_m)[-1]
    return PlacedEnd(fit.kind, fit.name, beside.room, wall, at_m, fit.zeta)


def _room_beside(parts: Sequence[ChainItem], index: int) -> str:
    """The room from which the run enters the item at `index`, or else the one to which it goes."""
    before, after = _rooms_around(parts, index)
    if rooms := (*reversed(before), *after):
        return rooms[0]
    raise ValueError("a route without skirting")


def _rooms_around(parts: Sequence[ChainItem], index: int) -> tuple[list[str], list[str]]:
    """Rooms of the skirting before and after the item at `index`, in water order."""
    before, after = (
        [
            part.room.name if isinstance(part, WallChain) else part.room
            for part in some
            if not isinstance(part, RouteCrossing)
        ]
        for some in (parts[:index], parts[index:])
    )
    return before, after


def _rooms_joined(parts: Sequence[ChainItem], index: int) -> str:
    """The rooms that a crossing of the route connects, in words."""
    before, after = _rooms_around(parts, index)
    if before and after and before[-1] != after[0]:
        return f"crossing from {before[-1]} to {after[0]}"
    return f"crossing in {_room_beside(parts, index)}"


def _stated_crossing(item: RouteCrossing, side: JointFit, room: str, rooms: str) -> PlacedCrossing:
    """A crossing whose length the survey states; its heat goes to the room before it unless stated."""
    return PlacedCrossing(rooms, item.pipe, item.length_m, side.zeta, item.heats or room, room)


def _overlaps(survey: SurveyData, loops: Sequence[LoopLayout]) -> list[InputIssue]:
    """Errors for stretches of wall that are in two routes, of one loop or of two."""
    on_wall: dict[tuple[str, int], list[tuple[float, float, str]]] = defaultdict(list)
    for loop in loops:
        for room, wall, from_m, to_m in _used(survey, loop.pieces):
            on_wall[room, wall].append((from_m, to_m, loop.loop))
    overlaps = []
    for (room, wall), stretches in on_wall.items():
        for (a, b, first_stretch), (c, d, other) in combinations(stretches, 2):
            if min(b, d) - max(a, c) > OVERLAP_M:
                both = (
                    f'loop "{first_stretch}" twice'
                    if first_stretch == other
                    else f'loop "{first_stretch}" and loop "{other}"'
                )
                where = f"from {max(a, c):.3f} m to {min(b, d):.3f} m"
                place = f'room "{room}", wall {wall}'
                overlaps.append(
                    survey.fault(place, f"{both} {where}", "skirting of a single loop on each part of a wall")
                )
    return overlaps


def _used(survey: SurveyData, pieces: Iterable[Piece]) -> list[tuple[str, int, float, float]]:
    """(room, wall, from_m, to_m) of the wall behind the pieces."""
    return [
        (piece.room, *part)
        for piece in pieces
        if piece.wall
        for part in wall_parts(survey.room(piece.room), piece.wall, piece.from_m, piece.to_m)
    ]


def _room(survey: SurveyData, room: Room, loops: Sequence[LoopLayout]) -> RoomLayout:
    """Use of the walls of one room: skirting of every loop, and free wall."""
    pieces = [(loop, piece) for loop in loops for piece in loop.pieces if piece.room == room.name]
    heated_m = sum(piece.heated_m for _, piece in pieces)
    is_estimate = any(not piece.wall for _, piece in pieces) or (not room.walls and room.estimated_wall_m is not None)
    if not room.walls:
        spare_m = max((room.estimated_wall_m or 0.0) - heated_m, 0.0)
        return RoomLayout(room.name, None, heated_m, spare_m, is_estimate)
    known = [survey.catalogue.profile(survey.loop(loop.loop).profile) for loop, _ in pieces[:1]]
    profile = next(iter((*known, *survey.catalogue.profiles)), None)
    used = [(wall, a, b) for _, wall, a, b in _used(survey, (piece for _, piece in pieces))]
    spare_m = 0.0 if profile is None else spare_wall_m(room, profile, used)
    return RoomLayout(room.name, geometry_of_room(room), heated_m, spare_m, is_estimate)


def _assumptions(
    survey: SurveyData, loops: Sequence[LoopLayout], rooms: Sequence[RoomLayout]
) -> tuple[Assumption, ...]:
    """Assumptions of the layout."""
    elements = [e for loop in loops for arm in loop.arms for e in arm.elements]
    assumptions = []
    if any(isinstance(e, PlacedCrossing) for e in elements) and not crossing_for(survey.catalogue).name:
        assumptions.append(
            Assumption(
                f"the catalogue has no crossing joint: each crossing is assumed to be {CROSSING_BENDS} bends of zeta "
                f"{BEND_ZETA:g}, without a cut deduction",
                "common practice",
            )
        )
    if any(isinstance(e, PlacedJoint) and e.kind == "floor section" and not e.joint for e in elements):
        assumptions.append(
            Assumption(
                f"the catalogue has no transition to the floor: zeta {FLOOR_JOINT_ZETA:g} is assumed for each, without "
                "a cut deduction",
                "common practice",
            )
        )
    assumptions += [
        Assumption(
            f"{room.room}: an estimate, because the room has not been surveyed", "estimated_wall_m of the survey"
        )
        for room in rooms
        if room.estimate
    ]
    return tuple(assumptions)


def validated_survey(call: str, survey_or_path: object, known: SurveyData | None = None) -> Survey:
    """The survey given to the function `call`, or the one in the file of the given path; `known` as `survey_from`.

    Raises InputError for any other argument and, for a file, with all its errors and those of its catalogue. The errors
    of the layout of all readable loops are included, so that both kinds can be corrected together.
    """
    try:
        return survey_from(call, survey_or_path, known)
    except InputError as error:
        if not isinstance(error.partial, SurveyData):
            raise
        issues, more = dict.fromkeys((*error.issues, *layout_faults(error.partial))), error.more
    raise InputError(issues, more=more)
