"""Tables of the parts list: stable columns, a unit in every name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.handover.cutting.model import CutPlan
from heatloop.handover.parts.whole_mm import cut_lengths_mm, nearest_half_mm
from heatloop.handover.second_fix.brackets import fixing_name, fixing_positions_m
from heatloop.handover.second_fix.thermal_movement import MovementPlan, StraightLength, StraightMovement
from heatloop.layout.model import PlacedCrossing, PlacedJoint
from heatloop.layout.piece_ends import JointPosition, Meets, PlacedPiece, end_term, joint_reason, kind_and_name
from heatloop.layout.piece_ends import machining as catalogue_machining
from heatloop.layout.pipework import PipeLength
from heatloop.physics.thermal_expansion import free_end_gap_mm
from heatloop.survey.catalogue import Catalogue
from heatloop.text.column import (
    Column,
    TableDescription,
    count_column,
    figure_column,
    flag_column,
    number_column,
    text_column,
)
from heatloop.text.table_set import table_frame

if TYPE_CHECKING:
    from heatloop.handover.parts.model import Part

GAP_TEMPS_C = (0, 5, 10, 15, 20, 25, 30)
"""Installation temperatures in the table of gaps, °C."""

_LOOP, _ROOM = text_column("loop", "Loop"), text_column("room", "Room")
_ARM = count_column("arm", "Arm", "1, or 2 in the second arm of a centre-fed loop")
_WALL = count_column("wall", "Wall")
_NOTE = text_column("note", "Note")
_LEFT = "from the left-hand end of the wall, as seen from inside the room"

PARTS = TableDescription(
    "parts",
    "Parts",
    "Quantities to order, in the packs of the catalogue.",
    (
        text_column("item", "Item"),
        text_column("kind", "Kind"),
        text_column("unit", "Unit"),
        figure_column("net_quantity", "Required", "quantity that the design requires, in the unit of this row"),
        figure_column("allowance", "Allowance", "waste and spares, added to the required quantity"),
        figure_column(
            "order_quantity", "Order", "smallest quantity on sale that covers required quantity and allowance"
        ),
        text_column("pack", "Pack"),
        count_column("pack_count", "Packs"),
        text_column("for_loops", "For loops"),
        flag_column("is_estimate", "Estimate", "includes rooms that have not been surveyed"),
        _NOTE,
    ),
)

PIECES = TableDescription(
    "pieces",
    "Pieces for second fix",
    "One row for each piece; left and right as seen facing the wall from inside the room.",
    (
        _LOOP,
        _ARM,
        text_column("label", "Label"),
        _ROOM,
        _WALL,
        number_column("wall_length_m", "Wall length", "m", 3, "length of wall that the piece covers"),
        number_column("cut_length_mm", "Cut length", "mm", 0, "length to which the piece is sawn"),
        text_column("left_end", "Left end", "joint or end at its left-hand end"),
        text_column("right_end", "Right end", "joint or end at its right-hand end"),
        text_column("free_end", "Free end", "the end with the gap; fix the other end first"),
        text_column("profile", "Profile"),
        text_column("mounting", "Mounting"),
        text_column("machining", "Machining"),
        text_column("bracket_positions_mm", "Bracket positions, mm", "positions from the left-hand end of the piece"),
    ),
)

CUTS = TableDescription(
    "cuts",
    "Cuts",
    "Every cut, bar by bar, from the left end.",
    (
        count_column("bar", "Bar"),
        text_column("profile", "Profile"),
        number_column("stock_mm", "Stock", "mm", 0),
        text_column("stock_source", "Stock source", "new stock, or an offcut on hand"),
        count_column("cut", "Cut"),
        text_column("label", "Piece"),
        number_column("start_mm", "Starts at", "mm", 1),
        number_column("length_mm", "Length", "mm", 0),
        number_column("remainder_mm", "Remainder", "mm", 1, "length of the bar left after its last cut"),
        text_column("remainder_use", "Use of the remainder"),
    ),
)

JOINTS = TableDescription(
    "joints",
    "Joints, crossings and ends",
    "Joints, crossings and ends in the order in which the water passes them, each with its reason.",
    (
        _LOOP,
        _ARM,
        count_column("position", "Position", "order along the water path"),
        text_column("kind", "Kind"),
        text_column("catalogue_entry", "Catalogue entry"),
        _ROOM,
        _WALL,
        number_column("at_m", "At", "m", 3, _LEFT),
        number_column("turn_deg", "Turn", "°", 1),
        count_column("channels", "Channels"),
        text_column("upstream_piece", "Upstream piece", "piece from which the water comes"),
        text_column("downstream_piece", "Downstream piece", "piece to which the water flows"),
        text_column("reason", "Reason"),
    ),
)

MOVEMENT = TableDescription(
    "thermal_movement",
    "Thermal movement",
    "One row for each straight length: its thermal expansion, its fixed end and its free end.",
    (
        _LOOP,
        _ROOM,
        _WALL,
        text_column("straight_length", "Straight length"),
        number_column("length_m", "Length", "m", 2),
        number_column("expansion_mm", "Thermal expansion", "mm", 1, "from installation to maximum temperature"),
        text_column("free_end", "Free end", "left or right, as seen facing the wall"),
        text_column("fixed_end", "Fixed end"),
        number_column("gap_mm", "Gap", "mm", 1, "to leave at each free end when fitted at 10 °C (default option)"),
        Column("verdict", "Verdict", "", "verdict"),
        text_column("reason", "Reason"),
        text_column("recommendation", "Recommendation"),
    ),
)

GAPS = TableDescription(
    "expansion_gaps",
    "Expansion gaps",
    "Gap to leave at each free end, by the temperature of the profile; a dash where this temperature is not possible.",
    (
        _LOOP,
        text_column("straight_length", "Straight length"),
        text_column("free_end", "Free end"),
        *(number_column(f"gap_at_{temp_c}_c_mm", f"At {temp_c} °C", "mm", 1) for temp_c in GAP_TEMPS_C),
    ),
)

PIPES = TableDescription(
    "pipework",
    "Pipework",
    "Plain pipe that is fitted before the profile. A length is that of one pipe, a total that of all pipes.",
    (
        text_column("use", "Use"),
        _LOOP,
        _ROOM,
        _WALL,
        number_column("from_m", "From", "m", 3, _LEFT),
        count_column("to_wall", "To wall"),
        number_column("to_m", "To", "m", 3, _LEFT),
        text_column("passes", "Passes"),
        text_column("pipe", "Pipe"),
        count_column("pipe_count", "Pipe count"),
        number_column("length_m", "Length", "m", 2, "length of one pipe"),
        number_column("allowance_m", "Allowance", "m", 2, "additional length of one pipe, cut off at second fix"),
        number_column("total_length_m", "Total length", "m", 2, "length of all pipes of the row, with allowance"),
    ),
)


def parts_table(parts: Iterable[Part]) -> pd.DataFrame:
    """The parts list, one row for each item."""
    rows = [
        {
            "item": part.item,
            "kind": part.kind,
            "unit": part.unit,
            "net_quantity": part.net_quantity,
            "allowance": part.allowance,
            "order_quantity": part.order_quantity,
            "pack": part.pack_words,
            "pack_count": sum(pack.count for pack in part.packs) if part.packs else pd.NA,
            "for_loops": ", ".join(part.loops),
            "is_estimate": part.estimate,
            "note": part.note,
        }
        for part in parts
    ]
    return table_frame(PARTS, rows).astype({"pack_count": "Int64"})


def pieces_table(catalogue: Catalogue, pieces: Sequence[PlacedPiece], movement: MovementPlan) -> pd.DataFrame:
    """Second fix: one row a surveyed piece. Left and right when facing the wall; `bracket_positions_mm` are positions
    from its left-hand end, by the catalogue's rules of spacing."""
    free = dict(_free_ends(movement))
    rows = [
        {
            "loop": placed.loop,
            "arm": placed.arm,
            "label": placed.piece.label,
            "room": placed.piece.room,
            "wall": placed.piece.wall,
            "wall_length_m": round(placed.piece.tape_m, 3),
            "cut_length_mm": float(cut_mm),
            "left_end": end_term(placed.left),
            "right_end": end_term(placed.right),
            "free_end": free.get(id(placed), ""),
            "profile": placed.profile.name,
            "mounting": f"floor section: {placed.piece.floor_section}" if placed.piece.floor_section else "wall",
            "machining": _machining(catalogue, placed),
            "bracket_positions_mm": _fixings(catalogue, placed),
        }
        for placed, cut_mm in zip(pieces, cut_lengths_mm(pieces), strict=True)
        if not placed.estimate
    ]
    return table_frame(PIECES, rows)


def cuts_table(plan: CutPlan | None) -> pd.DataFrame:
    """The cut list, one row for each cut; the remainder of a bar is in the row of its last cut."""
    rows: list[dict[str, Any]] = []
    for number, bar in enumerate(() if plan is None else plan.bars, start=1):
        for place, cut in enumerate(bar.cuts, start=1):
            last = place == len(bar.cuts)
            rows.append(
                {
                    "bar": number,
                    "profile": bar.grain,
                    "stock_mm": bar.length_mm,
                    "stock_source": bar.source,
                    "cut": place,
                    "label": cut.label,
                    "start_mm": cut.start_mm,
                    "length_mm": cut.length_mm,
                    "remainder_mm": bar.remainder_mm if last else float("nan"),
                    "remainder_use": ("offcut to keep" if bar.usable else "waste") if last else "",
                }
            )
    return table_frame(CUTS, rows)


def joints_table(catalogue: Catalogue, places: Sequence[JointPosition]) -> pd.DataFrame:
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
                "catalogue_entry": name,
                "room": meets.room,
                "wall": pd.NA if meets.wall is None else meets.wall,
                "at_m": meets.from_m if isinstance(meets, PlacedCrossing) else meets.at_m,
                "turn_deg": meets.turn_deg if isinstance(meets, PlacedJoint) else 0.0,
                "channels": len(place.profile.channels),
                "upstream_piece": place.before,
                "downstream_piece": place.after,
                "reason": joint_reason(catalogue, meets),
            }
        )
    return table_frame(JOINTS, rows).astype({"wall": "Int64", "at_m": "float64"})


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
                "straight_length": straight.label,
                "length_m": straight.length_m,
                "expansion_mm": move.expansion_mm,
                "free_end": " and ".join(_sides(straight, move.free)) or "none",
                "fixed_end": _held(move),
                "gap_mm": nearest_half_mm(move.gap_mm) if move.free else float("nan"),
                "verdict": "fail" if move.choice == "stuck" else "pass",
                "reason": move.reason,
                "recommendation": "; or ".join(move.remedies),
            }
        )
    return table_frame(MOVEMENT, rows)


def gaps_table(movement: MovementPlan) -> pd.DataFrame:
    """Gap to leave at each free end, mm, for several temperatures of the fitting day."""
    rows = []
    for move in movement.moves:
        if not move.free:
            continue
        straight = move.straight
        row: dict[str, Any] = {"loop": straight.loop, "straight_length": straight.label}
        row["free_end"] = " and ".join(_sides(straight, move.free))
        expansion = straight.pieces[0].profile.expansion_1_k
        length_m = straight.length_m / len(move.free)
        for temp_c in GAP_TEMPS_C:
            gap = float("nan")
            if temp_c <= move.hottest_c:
                gap = movement.min_gap_mm
                if expansion > 0.0:
                    gap = free_end_gap_mm(length_m, expansion, temp_c, move.hottest_c, movement.min_gap_mm)
            row[f"gap_at_{temp_c}_c_mm"] = nearest_half_mm(gap)
        rows.append(row)
    return table_frame(GAPS, rows)


def pipes_table(lays: Sequence[PipeLength]) -> pd.DataFrame:
    """Plain pipe fitted before the profile; `length_m` and `allowance_m` (left over) are of one pipe."""
    rows = [
        {
            "use": lay.use,
            "loop": lay.loop,
            "room": lay.room,
            "wall": pd.NA if lay.wall is None else lay.wall,
            "from_m": lay.from_m,
            "to_wall": pd.NA if lay.to_wall is None else lay.to_wall,
            "to_m": lay.to_m,
            "passes": lay.description,
            "pipe": lay.pipe,
            "pipe_count": lay.pipes,
            "length_m": lay.length_m,
            "allowance_m": lay.allowance_m,
            "total_length_m": lay.total_m + lay.total_allowance_m,
        }
        for lay in lays
    ]
    return table_frame(PIPES, rows).astype(
        {"wall": "Int64", "to_wall": "Int64", "from_m": "float64", "to_m": "float64"}
    )


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


def _sides(straight: StraightLength, ends: Iterable[Meets]) -> list[str]:
    """Ends in words: the side when facing the wall, and the joint or end there."""
    words = []
    for meets in ends:
        left = (meets is straight.start) == straight.rightward
        words.append(f"{'left' if left else 'right'}: {end_term(meets)}")
    return words


def _held(move: StraightMovement) -> str:
    if move.anchored:
        return f"anchor {move.straight.length_m / 2.0:.2f} m from its left end"
    words = " and ".join(_sides(move.straight, move.held))
    return f"{words}, whose elastic allowance takes the expansion" if move.choice == "give" else words


def _machining(catalogue: Catalogue, placed: PlacedPiece) -> str:
    sides = (
        (side, catalogue_machining(catalogue, meets))
        for side, meets in (("left", placed.left), ("right", placed.right))
    )
    return "; ".join(f"{side}: {words}" for side, words in sides if words)


def _fixings(catalogue: Catalogue, placed: PlacedPiece) -> str:
    """Positions of spaced fixings from the left-hand end of the piece, mm; items with the same positions together."""
    kind = "floor section" if placed.piece.floor_section is not None else "wall"
    items: dict[str, list[str]] = {}
    for rule in catalogue.fixings:
        if rule.per != "spacing" or rule.spacing_m is None:
            continue
        if (rule.at and kind not in rule.at) or (rule.profiles and placed.profile.name not in rule.profiles):
            continue
        at_m = fixing_positions_m(placed.piece.cut_m, rule.spacing_m, rule.end_m)
        items.setdefault(", ".join(f"{1000.0 * x:.0f}" for x in at_m), []).append(fixing_name(rule))
    return "; ".join(f"{', '.join(names)}: {positions}" for positions, names in items.items())
