"""Handed-over values as tables: stable columns, a unit in every name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.handover.cutting.model import CutPlan
from heatloop.handover.second_fix.brackets import fixing_positions_m
from heatloop.handover.second_fix.thermal_movement import Move, MovementPlan, Straight
from heatloop.layout.model import CrossingAt, JointAt
from heatloop.layout.piece_ends import Meets, Place, Standing, kind_and_name, machining, reason
from heatloop.layout.pipework import PipeLay
from heatloop.physics.thermal_expansion import free_end_gap_mm
from heatloop.survey.catalogue import Catalogue

if TYPE_CHECKING:
    from heatloop.handover.parts.model import Part

GAP_TEMPS_C = (0, 5, 10, 15, 20, 25, 30)
"""Temperatures of the fitting day in the table of gaps, degC."""

PARTS = [
    "item", "kind", "unit", "net_quantity", "allowance", "order_quantity", "pack", "packs", "for_loops", "estimate",
    "note",
]  # fmt: skip
PIECES = [
    "loop", "arm", "label", "room", "wall", "tape_m", "cut_mm", "left_end", "right_end", "free_end", "profile", "laid",
    "machining", "fixings_mm",
]  # fmt: skip
CUTS = [
    "bar", "profile", "stock_mm", "from", "cut", "label", "start_mm", "length_mm", "remainder_mm", "remainder_is",
]  # fmt: skip
JOINTS = [
    "loop", "arm", "position", "kind", "joint", "room", "wall", "at_m", "turn_deg", "channels", "before", "after",
    "reason",
]  # fmt: skip
MOVEMENT = [
    "loop", "room", "wall", "straight", "length_m", "growth_mm", "free_end", "held_end", "gap_mm", "verdict", "reason",
    "remedy",
]  # fmt: skip
FIRST_FIX = [
    "use", "loop", "room", "wall", "from_m", "to_wall", "to_m", "past", "pipe", "pipes", "length_m", "first_fix_m",
    "total_m",
]  # fmt: skip


def parts_table(parts: Iterable[Part]) -> pd.DataFrame:
    """The parts list, one row an item."""
    rows = [
        {
            "item": part.item,
            "kind": part.kind,
            "unit": part.unit,
            "net_quantity": part.net_quantity,
            "allowance": part.allowance,
            "order_quantity": part.order_quantity,
            "pack": part.pack_words,
            "packs": sum(pack.count for pack in part.packs) if part.packs else pd.NA,
            "for_loops": ", ".join(part.loops),
            "estimate": part.estimate,
            "note": part.note,
        }
        for part in parts
    ]
    return pd.DataFrame(rows, columns=PARTS).astype({"packs": "Int64"})


def pieces_table(catalogue: Catalogue, pieces: Sequence[Standing], movement: MovementPlan) -> pd.DataFrame:
    """Second fix: one row a surveyed piece. Left and right as one faces the wall; `fixings_mm` are positions
    from its left-hand end, by the catalogue's rules of spacing."""
    free = dict(_free_ends(movement))
    rows = [
        {
            "loop": one.loop,
            "arm": one.arm,
            "label": one.piece.label,
            "room": one.piece.room,
            "wall": one.piece.wall,
            "tape_m": one.piece.tape_m,
            "cut_mm": round(one.piece.cut_m * 1000.0, 1),
            "left_end": kind_and_name(catalogue, one.left)[0],
            "right_end": kind_and_name(catalogue, one.right)[0],
            "free_end": free.get(id(one), ""),
            "profile": one.profile.name,
            "laid": f"sill: {one.piece.sill}" if one.piece.sill else "wall",
            "machining": _machining(catalogue, one),
            "fixings_mm": _fixings(catalogue, one),
        }
        for one in pieces
        if not one.estimate
    ]
    return pd.DataFrame(rows, columns=PIECES)


def cuts_table(plan: CutPlan | None) -> pd.DataFrame:
    """The cut list, one row a cut; what remains of a bar is told at its last cut."""
    rows: list[dict[str, Any]] = []
    for number, bar in enumerate(() if plan is None else plan.bars, start=1):
        for place, cut in enumerate(bar.cuts, start=1):
            last = place == len(bar.cuts)
            rows.append(
                {
                    "bar": number,
                    "profile": bar.grain,
                    "stock_mm": bar.length_mm,
                    "from": bar.source,
                    "cut": place,
                    "label": cut.label,
                    "start_mm": cut.start_mm,
                    "length_mm": cut.length_mm,
                    "remainder_mm": bar.remainder_mm if last else float("nan"),
                    "remainder_is": ("offcut to keep" if bar.usable else "waste") if last else "",
                }
            )
    return pd.DataFrame(rows, columns=CUTS)


def joints_table(catalogue: Catalogue, places: Sequence[Place]) -> pd.DataFrame:
    """Joints, crossings and ends in water order; `channels` pass each of them."""
    rows: list[dict[str, Any]] = []
    position = 0
    for index, place in enumerate(places):
        arm = (place.loop, place.arm)
        position = 1 if index == 0 or arm != (places[index - 1].loop, places[index - 1].arm) else position + 1
        meets = place.meets
        kind, name = kind_and_name(catalogue, meets)
        rows.append(
            {
                "loop": place.loop,
                "arm": place.arm,
                "position": position,
                "kind": kind,
                "joint": name,
                "room": meets.room,
                "wall": pd.NA if meets.wall is None else meets.wall,
                "at_m": meets.from_m if isinstance(meets, CrossingAt) else meets.at_m,
                "turn_deg": meets.turn_deg if isinstance(meets, JointAt) else 0.0,
                "channels": len(place.profile.channels),
                "before": place.before,
                "after": place.after,
                "reason": reason(catalogue, meets),
            }
        )
    frame = pd.DataFrame(rows, columns=JOINTS)
    return frame.astype({"wall": "Int64", "at_m": "float64"})


def movement_table(movement: MovementPlan) -> pd.DataFrame:
    """One row a straight. `gap_mm` is to be left at each free end at the fitting temperature."""
    rows = []
    for move in movement.moves:
        straight = move.straight
        first = straight.pieces[0 if straight.rightward else -1].piece
        rows.append(
            {
                "loop": straight.loop,
                "room": first.room,
                "wall": first.wall,
                "straight": straight.label,
                "length_m": straight.length_m,
                "growth_mm": move.growth_mm,
                "free_end": " and ".join(_sides(straight, move.free)) or "none",
                "held_end": _held(move),
                "gap_mm": move.gap_mm if move.free else float("nan"),
                "verdict": "fail" if move.choice == "stuck" else "pass",
                "reason": move.reason,
                "remedy": "; or ".join(move.remedies),
            }
        )
    return pd.DataFrame(rows, columns=MOVEMENT)


def gaps_table(movement: MovementPlan) -> pd.DataFrame:
    """Gap to leave at each free end, mm, for several temperatures of the fitting day."""
    columns = ["loop", "straight", "free_end", *(f"at_{temp_c}_c_mm" for temp_c in GAP_TEMPS_C)]
    rows = []
    for move in movement.moves:
        if not move.free:
            continue
        straight = move.straight
        row: dict[str, Any] = {"loop": straight.loop, "straight": straight.label}
        row["free_end"] = " and ".join(_sides(straight, move.free))
        expansion = straight.pieces[0].profile.expansion_1_k
        length_m = straight.length_m / len(move.free)
        for temp_c in GAP_TEMPS_C:
            gap = float("nan")
            if temp_c <= move.hottest_c:
                gap = movement.clearance_mm
                if expansion > 0.0:
                    gap = free_end_gap_mm(length_m, expansion, temp_c, move.hottest_c, movement.clearance_mm)
            row[f"at_{temp_c}_c_mm"] = gap
        rows.append(row)
    return pd.DataFrame(rows, columns=columns)


def pipes_table(lays: Sequence[PipeLay]) -> pd.DataFrame:
    """Plain pipe to lay before the profile; `length_m` and `first_fix_m` (left over) are of one pipe."""
    rows = [
        {
            "use": lay.use,
            "loop": lay.loop,
            "room": lay.room,
            "wall": pd.NA if lay.wall is None else lay.wall,
            "from_m": lay.from_m,
            "to_wall": pd.NA if lay.to_wall is None else lay.to_wall,
            "to_m": lay.to_m,
            "past": lay.what,
            "pipe": lay.pipe,
            "pipes": lay.pipes,
            "length_m": lay.length_m,
            "first_fix_m": lay.first_fix_m,
            "total_m": lay.total_m + lay.left_over_m,
        }
        for lay in lays
    ]
    frame = pd.DataFrame(rows, columns=FIRST_FIX)
    return frame.astype({"wall": "Int64", "to_wall": "Int64", "from_m": "float64", "to_m": "float64"})


def notes_table(rows: Iterable[tuple[str, str, str]]) -> pd.DataFrame:
    """What was assumed: topic, note, source."""
    return pd.DataFrame(list(dict.fromkeys(rows)), columns=["topic", "note", "source"])


def _free_ends(movement: MovementPlan) -> Iterator[tuple[int, str]]:
    """Which ends of a piece are free, by the piece: left, right or both."""
    for move in movement.moves:
        rightward = move.straight.rightward
        sides: dict[int, list[str]] = {}
        first, last = move.straight.pieces[0], move.straight.pieces[-1]
        if move.choice in ("start", "anchor"):
            sides.setdefault(id(first), []).append("left" if rightward else "right")
        if move.choice in ("end", "anchor"):
            sides.setdefault(id(last), []).append("right" if rightward else "left")
        for piece, named in sides.items():
            yield piece, named[0] if len(named) == 1 else "both"


def _sides(straight: Straight, ends: Iterable[Meets]) -> list[str]:
    """Ends in words: the side as one faces the wall, and what is there."""
    words = []
    for meets in ends:
        left = (meets is straight.start) == straight.rightward
        kind = "crossing" if isinstance(meets, CrossingAt) else meets.kind
        words.append(f"{'left' if left else 'right'}: {kind}")
    return words


def _held(move: Move) -> str:
    if move.anchored:
        return f"anchor {move.straight.length_m / 2.0:.2f} m from its left end"
    words = " and ".join(_sides(move.straight, move.held))
    return f"{words}, whose give takes the growth" if move.choice == "give" else words


def _machining(catalogue: Catalogue, one: Standing) -> str:
    told = ((side, machining(catalogue, meets)) for side, meets in (("left", one.left), ("right", one.right)))
    return "; ".join(f"{side}: {words}" for side, words in told if words)


def _fixings(catalogue: Catalogue, one: Standing) -> str:
    """Positions of spaced fixings from the left-hand end of the piece, mm."""
    kind = "sill" if one.piece.sill is not None else "wall"
    told = []
    for rule in catalogue.fixings:
        if rule.per != "spacing" or rule.spacing_m is None:
            continue
        if (rule.at and kind not in rule.at) or (rule.profiles and one.profile.name not in rule.profiles):
            continue
        at_m = fixing_positions_m(one.piece.cut_m, rule.spacing_m, rule.end_m)
        told.append(f"{rule.item}: {', '.join(f'{1000.0 * x:.0f}' for x in at_m)}")
    return "; ".join(told)
