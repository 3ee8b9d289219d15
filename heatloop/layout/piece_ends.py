"""Every piece with the joint, crossing or end at each of its ends, and the reason for this joint.

The layout lists a run in water order. Here the two ends of each piece are its left and its right, facing the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.layout.joints import SQUARE, crossing_for
from heatloop.layout.model import Layout, Piece, PlacedCrossing, PlacedEnd, PlacedJoint, RunElement
from heatloop.survey.catalogue import Catalogue, EndKind, JointKind
from heatloop.survey.profiles import Profile
from heatloop.survey.survey import SurveyData

Meets = PlacedJoint | PlacedCrossing | PlacedEnd
"""Joints, crossings and ends at an end of a piece."""

OUT_OF_SQUARE_DEG = 20.0
"""A corner that deviates from square by less than this is reported as square, otherwise as an angle. This is a
convention of the report only; `turn_deg` of the catalogue determines the joint."""


@dataclass(frozen=True)
class PlacedPiece:
    """A piece with its loop, arm (from 1), profile and finish, and what is at both ends in water order."""

    loop: str
    arm: int
    profile: Profile
    piece: Piece
    start: Meets
    end: Meets
    finish: str | None = None

    @property
    def estimate(self) -> bool:
        """True in a room whose skirting is estimated from a length, before its survey."""
        return self.piece.wall == 0

    @property
    def stock(self) -> str:
        """The bar from which it is cut: its profile, with the finish of its loop if there is one."""
        return f"{self.profile.name}, {self.finish}" if self.finish else self.profile.name

    @property
    def left(self) -> Meets:
        """The joint, crossing or end at its left-hand end, facing the wall."""
        return self.start if self.piece.rightward else self.end

    @property
    def right(self) -> Meets:
        """The joint, crossing or end at its right-hand end, facing the wall."""
        return self.end if self.piece.rightward else self.start


@dataclass(frozen=True)
class JointPosition:
    """A joint, crossing or end of a run, with the pieces before and after it in water order (empty where
    there is none)."""

    loop: str
    arm: int
    profile: Profile
    meets: Meets
    before: str
    after: str


def placed_pieces(survey: SurveyData, layout: Layout) -> tuple[PlacedPiece, ...]:
    """Every piece of the layout, loop by loop in water order.

    Raises ValueError, all errors in one line, where an end of a piece has no joint or end, or touches another piece.
    """
    placed: list[PlacedPiece] = []
    faults: list[str] = []
    for loop, arm, profile, elements in _arms(survey, layout):
        for index, element in enumerate(elements):
            if not isinstance(element, Piece):
                continue
            start, end = _at(elements, index - 1), _at(elements, index + 1)
            for side, meets in (("start", start), ("end", end)):
                if meets is None or isinstance(meets, Piece):
                    neighbour = "nothing" if meets is None else f"piece {meets.label!r}"
                    faults.append(f"loop {loop!r}, piece {element.label!r}: its {side} meets {neighbour}")
            if start is None or end is None or isinstance(start, Piece) or isinstance(end, Piece):
                continue
            placed.append(PlacedPiece(loop, arm, profile, element, start, end, survey.loop(loop).finish))
    if faults:
        raise ValueError("layout: " + "; ".join(faults) + "; must be one joint, crossing or end at each")
    return tuple(placed)


def joint_positions(survey: SurveyData, layout: Layout) -> tuple[JointPosition, ...]:
    """Every joint, crossing and end of the layout, loop by loop in water order."""
    positions: list[JointPosition] = []
    for loop, arm, profile, elements in _arms(survey, layout):
        for index, element in enumerate(elements):
            if isinstance(element, Piece):
                continue
            before, after = _at(elements, index - 1), _at(elements, index + 1)
            positions.append(JointPosition(loop, arm, profile, element, _label(before), _label(after)))
    return tuple(positions)


def kind_and_name(catalogue: Catalogue, meets: Meets) -> tuple[JointKind | EndKind, str]:
    """Kind of a joint or end, and its name in the catalogue (empty where the catalogue has none)."""
    if isinstance(meets, PlacedCrossing):
        return "crossing", crossing_for(catalogue).name
    if isinstance(meets, PlacedJoint):
        return meets.kind, meets.joint
    return meets.kind, meets.end


def end_term(meets: Meets) -> str:
    """The trade's word for the joint or end that a piece meets: an angle with its direction, seen from the room."""
    if isinstance(meets, PlacedCrossing):
        return "crossing"
    if isinstance(meets, PlacedJoint) and meets.kind == "angle":
        return "inside angle" if meets.turn_deg > 0 else "outside angle"
    return "floor transition" if meets.kind == "floor section" else meets.kind


def cut_deduction_mm(catalogue: Catalogue, meets: Meets) -> float:
    """Cut deduction of a joint or end in mm; 0 where the catalogue has no such entry."""
    _, name = kind_and_name(catalogue, meets)
    if not name:
        return 0.0
    return (
        catalogue.end(name).cut_deduction_mm if isinstance(meets, PlacedEnd) else catalogue.joint(name).cut_deduction_mm
    )


def machining(catalogue: Catalogue, meets: Meets) -> str:
    """Machining of the end of a piece at this joint or end, in the words of the catalogue."""
    _, name = kind_and_name(catalogue, meets)
    if not name:
        return ""
    return catalogue.end(name).machining if isinstance(meets, PlacedEnd) else catalogue.joint(name).machining


def joint_reason(catalogue: Catalogue, meets: Meets) -> str:
    """Reason for this joint, crossing or end at this place, in words."""
    if isinstance(meets, PlacedEnd):
        return f"the run {'turns' if meets.kind == 'turn end' else 'begins or ends'} here"
    if isinstance(meets, PlacedCrossing):
        return f"past {meets.reason}" if meets.wall is not None else meets.reason
    if meets.kind == "angle":
        return _angle_reason(catalogue, meets)
    if meets.kind in SQUARE and abs(abs(meets.turn_deg) - 90.0) > 0.05:
        low, high = catalogue.joint(meets.joint).turn_deg
        return f"a turn of {meets.turn_deg:g} degrees, within the {low:g} to {high:g} of the square joint"
    return meets.reason


def _angle_reason(catalogue: Catalogue, joint: PlacedJoint) -> str:
    off_deg = abs(abs(joint.turn_deg) - 90.0)
    turn = f"a turn of {joint.turn_deg:g} degrees"
    if off_deg > OUT_OF_SQUARE_DEG:
        return f"{turn}: a deliberate angle"
    required: JointKind = "inside corner" if joint.turn_deg > 0 else "outside corner"
    square = next((j for j in catalogue.joints if j.kind == required), None)
    if square is None:
        return f"{turn}: the catalogue has no {required}"
    low, high = square.turn_deg
    return (
        f"{turn}: {off_deg:.3g} degrees out of square, beyond the {low:g} to {high:g} that "
        f'the joint "{square.name}" takes'
    )


def _arms(survey: SurveyData, layout: Layout) -> list[tuple[str, int, Profile, tuple[RunElement, ...]]]:
    return [
        (loop.loop, number, survey.catalogue.profile(survey.loop(loop.loop).profile), arm.elements)
        for loop in layout.loops
        for number, arm in enumerate(loop.arms, start=1)
    ]


def _at(elements: tuple[RunElement, ...], index: int) -> RunElement | None:
    return elements[index] if 0 <= index < len(elements) else None


def _label(element: RunElement | None) -> str:
    return element.label if isinstance(element, Piece) else ""
