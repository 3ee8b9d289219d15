"""Parts list of a design: parts, pieces, cuts, joints, movement, first fix.

Every quantity follows from the layout and the rules of the catalogue, without prices. Parts of a room that is
estimated before a survey are marked as estimates and are in no cut list.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.handover.cutting.model import CutPiece, CutPlan, CutProgress, CuttingOptions, Offcut, Stock
from heatloop.handover.cutting.plan import plan_cuts
from heatloop.handover.parts import tables
from heatloop.handover.parts.model import KINDS, Part, PartsOptions
from heatloop.handover.parts.packaging import PackCount, fill_packs, round_up_to_whole
from heatloop.handover.parts.quantities import (
    Fitted,
    ItemQuantity,
    direct_quantities,
    occurrences,
    rule_counts,
    rule_text,
)
from heatloop.handover.parts.summaries import PARTS_SUMMARY, parts_summary
from heatloop.handover.parts.whole_mm import cut_lengths_mm
from heatloop.handover.second_fix.thermal_movement import MovementPlan, hottest_c, plan_movement
from heatloop.layout.model import Layout, PlacedEnd
from heatloop.layout.piece_ends import JointPosition, PlacedPiece, joint_positions, placed_pieces
from heatloop.layout.pipework import PipeLength, pipe_lays
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import SurveyData
from heatloop.text.column import TableDescription, text_column
from heatloop.text.formatting import listing
from heatloop.text.summary import Summary
from heatloop.text.table_set import Table, TableSet, table_frame

NOTES = TableDescription(
    "parts_notes",
    "Assumptions on parts",
    "Assumptions on quantities, cutting and movement.",
    (text_column("topic", "Topic"), text_column("note", "Note"), text_column("source", "Source")),
)


@dataclass(frozen=True, eq=False, repr=False)
class PartsListResult(TableSet):
    """The result of the parts count: frozen values, and tables of them as fresh copies.

    `cut_plan` is None where there is nothing to cut.
    """

    survey: SurveyData
    options: PartsOptions
    part_lines: tuple[Part, ...]
    standings: tuple[PlacedPiece, ...]
    places: tuple[JointPosition, ...]
    movement_plan: MovementPlan
    pipe_lays: tuple[PipeLength, ...]
    cut_plan: CutPlan | None
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    _internal = frozenset({"part_lines", "standings", "places", "movement_plan", "pipe_lays"})

    def summary_block(self) -> Summary:
        """Order and cuts, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").parts().summary_block().title
        'Mill Annexe, parts'
        """
        return parts_summary(self.facts, self.frames["parts"])

    def __repr__(self) -> str:
        return f"<Handover of {self.facts['project']!r}: {len(self.part_lines)} items>"

    summary_columns = PARTS_SUMMARY
    parts = Table(tables.PARTS)
    pieces = Table(tables.PIECES)
    cuts = Table(tables.CUTS)
    joints = Table(tables.JOINTS)
    thermal_movement = Table(tables.MOVEMENT)
    expansion_gaps = Table(tables.GAPS)
    pipework = Table(tables.PIPES)
    parts_notes = Table(NOTES)


def parts_list_from(
    survey: SurveyData,
    layout: Layout,
    water_l: float,
    options: PartsOptions | None = None,
    progress: CutProgress | None = None,
) -> PartsListResult:
    """Parts, pieces, cuts and movement of a survey with its layout, with `water_l` in the whole system.

    Raises InputError for impossible options: an installation temperature above the hottest, a trim that leaves no stock
    long enough."""
    options = options or PartsOptions()
    faults = option_faults(survey, options)
    if faults:
        raise InputError(faults)
    all_placed = placed_pieces(survey, layout)
    joints = joint_positions(survey, layout)
    movement = plan_movement(survey, all_placed, options.installation_temp_c, options.min_gap_mm)
    lays = pipe_lays(survey, layout, options.pipe_allowance_m)
    plan = cut_plan(survey, all_placed, options, progress)
    features = occurrences(survey, layout, Fitted(all_placed, joints, movement), water_l, options.estimate_piece_m)
    counted = (*direct_quantities(survey, features, lays), *rule_counts(survey.catalogue, features))
    lines = [
        *_profiles(all_placed, plan, options),
        *(_part(survey.catalogue, count) for count in counted if count.quantity),
    ]
    parts = tuple(sorted(lines, key=lambda part: KINDS.index(part.kind)))
    frames = {
        "parts": tables.parts_table(parts),
        "pieces": tables.pieces_table(survey.catalogue, all_placed, movement),
        "cuts": tables.cuts_table(plan),
        "joints": tables.joints_table(survey.catalogue, joints),
        "thermal_movement": tables.movement_table(movement),
        "expansion_gaps": tables.gaps_table(movement),
        "pipework": tables.pipes_table(lays),
        "parts_notes": table_frame(NOTES, dict.fromkeys(_notes(survey, all_placed, joints, movement, options))),
    }
    facts = _facts(survey, all_placed, movement, plan, parts)
    return PartsListResult(survey, options, parts, all_placed, joints, movement, lays, plan, frames, facts)


def option_faults(survey: SurveyData, options: PartsOptions) -> list[InputIssue]:
    """Issues of the options for this survey."""
    coolest = min((hottest_c(survey, loop), loop.name) for loop in survey.loops)
    fitting = f'-40 to {coolest[0]:g}, the greatest flow temperature of loop "{coolest[1]}"'
    faults = []
    for name, minimum, maximum, words in (
        ("installation_temp_c", -40.0, coolest[0], fitting),
        ("min_gap_mm", 0.0, 100.0, "0 to 100"),
        ("estimate_piece_m", 0.1, 100.0, "0.1 to 100"),
        ("assumed_waste_percent", 0.0, 100.0, "0 to 100"),
        ("pipe_allowance_m", 0.0, 2.0, "0 to 2"),
    ):
        value = getattr(options, name)
        if not (is_number(value) and minimum <= value <= maximum):
            faults.append(
                InputIssue("parts list", name, f"{value:g}" if is_number(value) else quoted_value(value), words)
            )
    if not isinstance(options.cutting, CuttingOptions):
        faults.append(InputIssue("parts list", "cutting", quoted_value(options.cutting), "CuttingOptions"))
    offcuts = options.offcuts
    if not (isinstance(offcuts, list | tuple) and all(isinstance(offcut, Offcut) for offcut in offcuts)):
        faults.append(InputIssue("parts list", "offcuts", quoted_value(offcuts), "a tuple of Offcut"))
    return faults


def cut_plan(
    survey: SurveyData, all_placed: Sequence[PlacedPiece], options: PartsOptions, progress: CutProgress | None = None
) -> CutPlan | None:
    """Cuts of all surveyed pieces from the stock lengths of their profile, by finish; None without surveyed pieces.

    Raises InputError for impossible options of cutting.
    """
    surveyed = [placed for placed in all_placed if not placed.estimate]
    if not surveyed:
        return None
    lengths_m = {placed.stock: sorted(set(placed.profile.stock_m)) for placed in surveyed}
    stock = [Stock(length_m * 1000.0, name) for name, lengths in lengths_m.items() for length_m in lengths]
    lengths_mm = cut_lengths_mm(surveyed)
    pieces = [CutPiece(placed.piece.label, mm, placed.stock) for placed, mm in zip(surveyed, lengths_mm, strict=True)]
    try:
        return plan_cuts(pieces, stock, options.offcuts, options.cutting, progress)
    except ValueError as error:
        faults = str(error).removeprefix("cutting list: ").split("; ")
        worded = [fault.partition(", must be ") for fault in faults]
        raise InputError(
            [survey.fault("cut list", found, required or "pieces that fit the stock") for found, _, required in worded]
        ) from error


def _profiles(all_placed: Sequence[PlacedPiece], plan: CutPlan | None, options: PartsOptions) -> Iterator[Part]:
    """Profile by stock length, as in the cut plan; then the estimated part, in metres."""
    bars = [] if plan is None else [bar for bar in plan.bars if not bar.offcut_label]
    for grain, length_mm in dict.fromkeys((bar.grain, bar.length_mm) for bar in bars):
        own = [bar for bar in bars if (bar.grain, bar.length_mm) == (grain, length_mm)]
        labels = {cut.label for bar in own for cut in bar.cuts}
        loops = tuple(dict.fromkeys(placed.loop for placed in all_placed if placed.piece.label in labels))
        net_m = sum(cut.length_mm for bar in own for cut in bar.cuts) / 1000.0
        kept_m = sum(bar.remainder_mm for bar in own if bar.usable) / 1000.0
        pack = PackCount(f"length of {length_mm / 1000.0:g} m", length_mm / 1000.0, len(own))
        note = f"{sum(len(bar.cuts) for bar in own)} pieces by the cut list; {kept_m:.2f} m of offcuts to keep"
        yield Part(grain, "profile", "m", net_m, pack.quantity - net_m, pack.quantity, (pack,), loops, 0.0, note)
    for profile in dict.fromkeys(placed.stock for placed in all_placed if placed.estimate):
        estimated = [placed for placed in all_placed if placed.estimate and placed.stock == profile]
        net_m = sum(placed.piece.tape_m for placed in estimated)
        waste_m = net_m * options.assumed_waste_percent / 100.0
        loops = tuple(dict.fromkeys(placed.loop for placed in estimated))
        rooms = ", ".join(dict.fromkeys(placed.piece.room for placed in estimated))
        note = (
            f"estimate from the wall length of {rooms}, {options.assumed_waste_percent:g} % waste: not in the cut list"
        )
        yield Part(profile, "profile", "m", net_m, waste_m, net_m + waste_m, (), loops, net_m, note)


def _part(catalogue: Catalogue, count: ItemQuantity) -> Part:
    """A quantity as a line to order, in the packs of the catalogue; pieces are rounded up to whole pieces."""
    net = round_up_to_whole(count.quantity) if count.unit == "piece" else count.quantity
    required = net + count.allowance
    sizes = [pack for pack in catalogue.packs if pack.item == count.item]
    packs = fill_packs(required, sizes) if sizes else ()
    ordered = (
        sum(pack.quantity for pack in packs)
        if sizes
        else (round_up_to_whole(required) if count.unit == "piece" else required)
    )
    note = count.note
    if count.estimated:
        note = "; ".join(filter(None, (note, f"{count.estimated:g} of this estimated")))
    return Part(
        count.item, count.kind, count.unit, net, count.allowance, ordered, packs, count.loops, count.estimated, note
    )


def _notes(
    survey: SurveyData,
    all_placed: Sequence[PlacedPiece],
    positions: Sequence[JointPosition],
    movement: MovementPlan,
    options: PartsOptions,
) -> Iterator[tuple[str, str, str]]:
    hottest = " or ".join(dict.fromkeys(f"{move.hottest_c:g}" for move in movement.moves))
    if hottest:
        text = (
            f"each straight length warms from {options.installation_temp_c:g} °C when fitted to the maximum "
            f"temperature of its loop, {hottest} °C; no gap is smaller than {options.min_gap_mm:g} mm when fitted"
        )
        yield "movement", text, "linear expansion of the profile; maximum flow temperature of the survey"
        yield (
            "movement",
            "one end of each straight length is free, the other is fixed",
            "common practice; free ends by the catalogue",
        )
    cutting = options.cutting
    yield (
        "cutting",
        f"kerf {cutting.kerf_mm:g} mm, offcuts are kept from {cutting.min_offcut_mm:g} mm",
        "common practice",
    )
    for room in dict.fromkeys(placed.piece.room for placed in all_placed if placed.estimate):
        text = (
            f"{room}: estimate from its wall length, as pieces of {options.estimate_piece_m:g} m with inside corners; "
            "no cut list before its survey"
        )
        yield "estimate", text, "common practice"
    staying = [f"{item.emitter} in {item.room}" for loop in survey.loops for item in loop.emitters if item.existing]
    if staying:
        yield "emitters", f"{listing(staying)}: existing, not included in the order or the price", "the survey"
    turns = [(place.meets, place.loop) for place in positions if isinstance(place.meets, PlacedEnd)]
    turn_loops = {meets.end: loop for meets, loop in turns if meets.kind == "turn end"}
    for name, loop in turn_loops.items():
        end = survey.catalogue.end(name)
        if not (end.vent and end.drain):
            text = f'"{name}" has no {"vent" if not end.vent else "drain"} in the catalogue: add one at the far end'
            yield "vent and drain", text, f"common practice; for example loop {loop}"
    rules = (*survey.catalogue.fittings, *survey.catalogue.fixings, *survey.catalogue.consumables)
    if not rules:
        yield "counts", "no rules in the catalogue: fittings, fixings and consumables are not counted", "catalogue"
    for rule in rules:
        source = rule.source or ("invented in the catalogue" if rule.invented else "catalogue")
        yield "counts", f"{rule.item}: {rule_text(rule)}", source


def _facts(
    survey: SurveyData,
    all_placed: Sequence[PlacedPiece],
    movement: MovementPlan,
    plan: CutPlan | None,
    parts: Sequence[Part],
) -> dict[str, Any]:
    surveyed = [placed for placed in all_placed if not placed.estimate]
    facts: dict[str, Any] = {
        "project": survey.project.name,
        "pieces": len(surveyed),
        "profile_m": sum(placed.piece.cut_m for placed in surveyed),
        "straights": len(movement.moves),
        "restrained_straight_lengths": sum(move.choice == "stuck" for move in movement.moves),
        "anchors": sum(move.anchored for move in movement.moves),
        "movement_possible": movement.possible,
        "installation_temp_c": movement.installation_temp_c,
        "items": len(parts),
        "is_estimate": any(placed.estimate for placed in all_placed),
        "estimate_m": sum(placed.piece.tape_m for placed in all_placed if placed.estimate),
    }
    if plan is not None:
        used_mm = plan.pieces_mm + plan.kerf_mm + plan.trims_mm + plan.offcuts_mm + plan.waste_mm
        facts |= {
            "bars": len(plan.bars),
            "stock_m": plan.stock_mm / 1000.0,
            "kerf_m": plan.kerf_mm / 1000.0,
            "offcuts_m": plan.offcuts_mm / 1000.0,
            "waste_m": (plan.waste_mm + plan.trims_mm) / 1000.0,
            "cut_balance_mm": plan.stock_mm - used_mm,
            "cut_proved": plan.proved,
            "cut_message": plan.message,
        }
    return facts
