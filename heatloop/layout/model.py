"""Values of a layout: pieces, joints, crossings and ends in water order.

All values are frozen and calculated from the survey alone, before any water temperature. Positions along a wall are in
metres from its left-hand end, facing it from inside the room.
"""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.findings.assumption import Assumption
from heatloop.survey.catalogue import EndKind, JointKind
from heatloop.survey.room_geometry import RoomGeometry


@dataclass(frozen=True)
class Segment:
    """A stretch of a piece with one output factor (1 if open, less where covered).

    `wall` is its wall; a piece on two walls that are one straight has a segment on each.
    """

    length_m: float
    factor: float = 1.0
    wall: int = 0


@dataclass(frozen=True)
class Piece:
    """One straight length of profile.

    `from_m < to_m`: its measured positions on the wall. `cut_m`: this length less the cut deductions at both ends.
    `segments`: their sum is the heated length, in water order; it includes the length of joints that are heated
    themselves. `rightward`: the water of the outward channels flows from left to right, facing the wall. Where walls
    are one straight, `wall` is the one with the left-hand end of the piece, and `to_m` may be beyond its length. `wall`
    is 0 in a room that has not been surveyed.
    """

    label: str
    room: str
    wall: int
    from_m: float
    to_m: float
    cut_m: float
    segments: tuple[Segment, ...]
    rightward: bool
    floor_section: str | None = None

    @property
    def tape_m(self) -> float:
        return self.to_m - self.from_m

    @property
    def heated_m(self) -> float:
        return sum(segment.length_m for segment in self.segments)


@dataclass(frozen=True)
class PlacedJoint:
    """A joint between two pieces: a catalogue joint, where it is and the turn it makes.

    `joint` is the catalogue name; a `kind` of floor section is a transition between wall and floor. `wall` and `at_m`
    are where the water enters it. `joint` is empty for a transition to the floor that the catalogue does not have.
    """

    kind: JointKind
    joint: str
    room: str
    wall: int
    at_m: float
    turn_deg: float
    zeta: float
    reason: str = ""


@dataclass(frozen=True)
class PlacedCrossing:
    """Plain pipe past a doorway, a unit or through a wall: one pipe for each channel, `length_m` one way.

    `zeta`: local losses of its bends, for each pipe. `heats`: the room to which its heat is given. The water enters at
    `from_m` on `wall` and leaves at `to_m` on `to_wall` (another wall where it passes a corner). `depth_m`: depth at
    each side, included in `length_m`. All positions are None where the survey states only a length.
    """

    reason: str
    pipe: str
    length_m: float
    zeta: float
    heats: str
    room: str
    wall: int | None = None
    from_m: float | None = None
    to_m: float | None = None
    to_wall: int | None = None
    depth_m: float | None = None


@dataclass(frozen=True)
class PlacedEnd:
    """End of a run; `end` is the name in the catalogue."""

    kind: EndKind
    end: str
    room: str
    wall: int | None
    at_m: float | None
    zeta: float


RunElement = Piece | PlacedJoint | PlacedCrossing | PlacedEnd


@dataclass(frozen=True)
class Arm:
    """One run of skirting in water order, from the tails to its far end (one-way: to the return)."""

    elements: tuple[RunElement, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple(e for e in self.elements if isinstance(e, Piece))


@dataclass(frozen=True)
class LoopLayout:
    """The runs of one loop: one arm, two when it is centre-fed, none where it has no skirting."""

    loop: str
    arms: tuple[Arm, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple(piece for arm in self.arms for piece in arm.pieces)

    @property
    def heated_length_m(self) -> float:
        return sum(piece.heated_m for piece in self.pieces)


@dataclass(frozen=True)
class RoomLayout:
    """Use of the walls of a room. `geometry` is None for a room without walls.

    `heated_length_m`: all skirting in the room, of every loop. `spare_wall_m`: length of wall suitable for skirting but
    without it, in stretches of at least the shortest piece. `estimate`: the skirting of the room is estimated from a
    length, before its survey.
    """

    room: str
    geometry: RoomGeometry | None
    heated_length_m: float
    spare_wall_m: float
    estimate: bool = False


@dataclass(frozen=True)
class Layout:
    """The layout of the whole survey, with its assumptions."""

    loops: tuple[LoopLayout, ...]
    rooms: tuple[RoomLayout, ...]
    assumptions: tuple[Assumption, ...] = ()

    def loop(self, name: str) -> LoopLayout:
        """The layout of that loop; KeyError if there is none."""
        return {item.loop: item for item in self.loops}[name]

    def room(self, name: str) -> RoomLayout:
        """The layout of that room; KeyError if there is none."""
        return {item.room: item for item in self.rooms}[name]


def floor_areas_m2(layout: Layout) -> dict[str, float]:
    """Floor area of every room whose walls are known."""
    return {room.room: room.geometry.floor_area_m2 for room in layout.rooms if room.geometry is not None}
