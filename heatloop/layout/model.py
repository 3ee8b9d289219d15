"""What the layout of a survey is made of: pieces, joints, crossings and ends in water order.

All of it is frozen and computed from the survey alone, before any water temperature is calculated.
Positions along a wall count in metres from its left-hand end as you face it.
"""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.findings.assumption import Assumption
from heatloop.survey.catalogue import EndKind, JointKind
from heatloop.survey.room_geometry import RoomGeometry


@dataclass(frozen=True)
class Segment:
    """A stretch of a piece with one output factor (1 in the open, less where covered).

    `wall` is the wall it is on: a piece on two walls that are one straight has a segment on each.
    """

    length_m: float
    factor: float = 1.0
    wall: int = 0


@dataclass(frozen=True)
class Piece:
    """One straight length of profile.

    `from_m < to_m` are its tape positions on the wall; `cut_m` is the tape length less the
    cut deductions at both ends; `segments` add up to the heated length in water order (the cut length
    and the length of joints that are heated themselves). `rightward`: the water of the
    out-going channels runs left to right as you face the wall. Where walls are one straight, `wall`
    is the one with the left-hand end of the piece and `to_m` may lie beyond its length. `wall` is 0
    in a room that has not been surveyed.
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
    """Plain pipe past a doorway, a unit or through a wall: one pipe per channel, `length_m` one way.

    `zeta` are the local losses of its bends, per pipe; `heats` is the room its heat goes to. The water
    enters at `from_m` on `wall` and leaves at `to_m` on `to_wall` (another wall where it goes round a
    corner), dropping `depth_m` at each side, which `length_m` holds. All of these are None where the survey
    gives it as a length.
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
    """Where a run stops; `end` is the catalogue name."""

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
    """The runs of one loop: one arm, two when it is fed from the middle, none where it has no skirting."""

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
    """What a room's walls carry. `geometry` is None for a room without walls.

    `heated_length_m` is all skirting in the room, of every loop. `spare_wall_m` is the length of
    wall, in stretches of at least the shortest piece, that could carry skirting and does not.
    `estimate` marks a room whose skirting is estimated from a length, before its survey.
    """

    room: str
    geometry: RoomGeometry | None
    heated_length_m: float
    spare_wall_m: float
    estimate: bool = False


@dataclass(frozen=True)
class Layout:
    """The layout of the whole survey, with the assumptions it had to make."""

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
