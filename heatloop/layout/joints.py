"""Selection of the joint between two pieces: by the turn between them, from the catalogue.

Where the catalogue has no entry for a crossing or a transition to the floor, four bends of zeta 1.0 and a transition of
zeta 1.2 are assumed (common practice). Neither has a cut deduction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from heatloop.layout.walls import is_straight
from heatloop.survey.catalogue import Catalogue, EndKind, Joint, JointKind

SQUARE: tuple[JointKind, ...] = ("inside corner", "outside corner")
BETWEEN_PIECES: tuple[JointKind, ...] = (*SQUARE, "angle", "straight")
"""Kinds of joint that connect two pieces on the wall."""

CROSSING_BENDS = 4
BEND_ZETA = 1.0
FLOOR_JOINT_ZETA = 1.2


Kind = TypeVar("Kind", bound=str, covariant=True)


@dataclass(frozen=True)
class PieceFit(Generic[Kind]):
    """Effect of a joint or an end on its pieces: `cut_deduction_m` off each of them.

    `name`: name in the catalogue; empty where it has no such entry. A `heated` joint gives heat over its own cut
    deductions. `zeta` refers to the velocity in a channel (of a crossing: in its pipe).
    """

    kind: Kind
    name: str
    cut_deduction_m: float
    zeta: float
    heated: bool = False


JointFit = PieceFit[JointKind]
EndFit = PieceFit[EndKind]
AnyFit = PieceFit[JointKind | EndKind]


def joint_fits_turn(joint: Joint, turn_deg: float) -> bool:
    """True if the joint makes a turn of `turn_deg` (degrees, positive at an inside corner)."""
    low, high = joint.turn_deg
    if is_straight(turn_deg):
        return joint.kind == "straight" and low <= 0.0 <= high
    return low - 1e-9 <= turn_deg <= high + 1e-9


def joint_for(catalogue: Catalogue, turn_deg: float) -> JointFit | None:
    """The joint between two pieces that meet at `turn_deg`, or None if no joint makes that turn.

    Square joints are tried first, then the others, the narrowest range of turns first.
    """
    candidates = [j for j in catalogue.joints if j.kind in BETWEEN_PIECES and joint_fits_turn(j, turn_deg)]
    if not candidates:
        return None
    best = min(candidates, key=lambda j: (j.kind not in SQUARE, j.turn_deg[1] - j.turn_deg[0]))
    return select_joint(best)


def crossing_for(catalogue: Catalogue) -> JointFit:
    """The two sides of a crossing: cut deduction at each, zeta of the whole crossing in its pipe."""
    entry = _of_kind(catalogue, "crossing")
    return select_joint(entry) if entry else JointFit("crossing", "", 0.0, CROSSING_BENDS * BEND_ZETA)


def floor_joint_for(catalogue: Catalogue, turn_deg: float) -> JointFit | None:
    """The transition between a piece on the wall and one in the floor; None if it cannot make this turn."""
    entry = _of_kind(catalogue, "floor section")
    if entry is None:
        return JointFit("floor section", "", 0.0, FLOOR_JOINT_ZETA)
    if not is_straight(turn_deg) and not joint_fits_turn(entry, turn_deg):
        return None
    return select_joint(entry)


def select_joint(joint: Joint) -> JointFit:
    """Data of a catalogue joint, with the cut deduction in metres."""
    return JointFit(joint.kind, joint.name, joint.cut_deduction_mm / 1000.0, joint.zeta, joint.heated)


def _of_kind(catalogue: Catalogue, kind: JointKind) -> Joint | None:
    return next((j for j in catalogue.joints if j.kind == kind), None)
