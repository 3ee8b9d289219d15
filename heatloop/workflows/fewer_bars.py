"""Additional straight joints that save bars: a piece is divided so that each half fits the remainder of another bar.

A straight joint is part of the water path: it shortens the profile, has its own pressure drop and can change which end
slides. The cut list alone therefore cannot add it. The joints found here are added to the survey
(`straight_joints` of a loop), and the survey is sized again, so that layout, pressure drop, movement, labels and order
belong to one design.

How a joint is found
    One piece is left out and the others are cut. If this saves a bar and two bars have long enough remainders, the
    piece is divided between these two remainders, as near its middle as possible. This is tried for every piece on a
    wall that can be divided, with the least stock and with the fewest bars. The best joint is applied (least new stock,
    then the longest short half), and the search continues with the new plan. Each joint saves at least one bar and
    adds no stock length. Each straight length is divided at most once. Two joints that save a bar only together
    are not searched for.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass, replace
from itertools import permutations
from typing import Any

from heatloop.findings.input_errors import InputError, check_given
from heatloop.handover.cutting.model import CutPlan, Offcut
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import cut_plan, option_faults
from heatloop.handover.second_fix.thermal_movement import plan_movement
from heatloop.layout.build import build_layout
from heatloop.layout.joints import joint_for
from heatloop.layout.model import Layout, PlacedJoint
from heatloop.layout.piece_ends import PlacedPiece, cut_deduction_mm, placed_pieces
from heatloop.layout.walls import wall_parts
from heatloop.results.design import DesignResult
from heatloop.survey.loops import StraightJoint
from heatloop.survey.survey import SurveyData
from heatloop.text.column import count_column, number_column, text_column
from heatloop.text.formatting import number, plural
from heatloop.text.summary import HasSummary, Summary, grid
from heatloop.workflows.size import size_survey

SPARE_MM = 0.2
"""Margin by which a half is shorter than its remainder: cuts are planned on a grid of 0.1 mm."""
AT_STEP_MM = 0.1
"""Resolution of the position of a joint."""
ADDED = (
    text_column("loop", "Loop"),
    text_column("room", "Room"),
    count_column("wall", "Wall"),
    number_column("at_m", "From its left-hand end", "m", 4),
)


@dataclass(frozen=True, eq=False, repr=False)
class BarSavingResult(HasSummary):
    """Straight joints that save bars: the design with them, the joints, and the cutting plans before and after."""

    design: DesignResult
    added: tuple[tuple[str, StraightJoint], ...]
    before: CutPlan | None
    after: CutPlan | None
    searched: bool

    @property
    def summary(self) -> dict[str, Any]:
        """Joints added, bars and metres of new stock before and after, and what is saved."""
        bars = [0 if plan is None else plan.new_bars for plan in (self.before, self.after)]
        stock_m = [0.0 if plan is None else plan.new_stock_mm / 1000.0 for plan in (self.before, self.after)]
        return {
            "joints_added": len(self.added),
            "bars_before": bars[0],
            "bars_after": bars[1],
            "bars_saved": bars[0] - bars[1],
            "new_stock_before_m": stock_m[0],
            "new_stock_after_m": stock_m[1],
            "stock_saved_m": stock_m[0] - stock_m[1],
            "all_tried": self.searched,
        }

    @property
    def survey_lines(self) -> tuple[str, ...]:
        """Lines for the survey that add these joints, one for each loop."""
        lines = []
        for loop in self.design.survey.loops:
            if loop.name in {name for name, _ in self.added}:
                items = (
                    f"{{ room = {json.dumps(j.room, ensure_ascii=False)}, wall = {j.wall}, at_m = {j.at_m:.10g} }}"
                    for j in loop.straight_joints
                )
                lines.append(f'loop "{loop.name}": straight_joints = [{", ".join(items)}]')
        return tuple(lines)

    def summary_block(self) -> Summary:
        """Summary of the added joints and the stock that they save, as printed and as shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").save_bars().summary_block().title
        'Fewer bars'
        """
        figures = self.summary
        sentences = ["No additional straight joint saves a bar."]
        if self.added:
            joints = plural(len(self.added), "additional straight joint")
            sentences = [
                f"{joints} {'saves' if len(self.added) == 1 else 'save'} {plural(figures['bars_saved'], 'bar')} and "
                f"{number(figures['stock_saved_m'], 2)} m of stock: {plural(figures['bars_before'], 'bar')} before, "
                f"{figures['bars_after']} now."
            ]
        if not self.searched:
            sentences.append("Not every straight length could be tried within the time limit.")
        rows = [
            {"loop": loop, "room": joint.room, "wall": joint.wall, "at_m": joint.at_m} for loop, joint in self.added
        ]
        grids = (grid("Joints to add to the survey as straight_joints", rows, ADDED),) if rows else ()
        return Summary("Fewer bars", tuple(sentences), grids)


def save_bars(design: DesignResult, options: PartsOptions | None = None) -> BarSavingResult:
    """Size the design again with one additional straight joint wherever that saves a bar.

    Use the same `options` for `parts` afterwards. The search stops after the time limit of their cutting. Raises
    InputError as `parts` does. Rooms without a survey have no pieces to divide.
    """
    check_given("save_bars", design=(design, DesignResult, "a Design, as heatloop.size gives it"),
                options=(options, PartsOptions | None, "PartsOptions"))  # fmt: skip
    options = options or PartsOptions()
    faults = option_faults(design.survey, options)
    if faults:
        raise InputError(faults)
    search = find_joints(design.survey, design.layout, options)
    changed = size_survey(search.survey) if search.added else design
    return BarSavingResult(changed, search.added, search.before, search.after, search.searched)


@dataclass(frozen=True)
class JointSearch:
    """The survey with the joints that save bars, those added, and the cut plans without and with them."""

    survey: SurveyData
    added: tuple[tuple[str, StraightJoint], ...]
    before: CutPlan | None
    after: CutPlan | None
    searched: bool


def find_joints(survey: SurveyData, layout: Layout, options: PartsOptions) -> JointSearch:
    """Straight joints that save bars in a survey with its present layout; the survey itself where there is none."""
    deadline = time.monotonic() + options.cutting.time_limit_s
    all_placed = placed_pieces(survey, layout)
    before = plan = cut_plan(survey, all_placed, options)
    added: list[tuple[str, StraightJoint]] = []
    searched = True
    while plan is not None and _could_save(survey, all_placed, plan, options):
        partings: list[_Parting] = []
        candidates = list(_candidates(survey, all_placed))
        for left, candidate in zip(range(len(candidates), 0, -1), candidates, strict=True):
            left_s = deadline - time.monotonic()
            if left_s <= 0.0:
                searched = False
                break
            partings += _partings(survey, all_placed, candidate, plan, options, left_s / (2.0 * left))
        tried = (
            _taken(survey, all_placed, candidate, plan, options) for candidate in sorted(partings, key=lambda p: p.rank)
        )
        better = next((taken for taken in tried if taken is not None), None)
        if better is None:
            break
        parting, survey, all_placed, plan = better
        added.append((parting.loop, parting.joint))
    return JointSearch(survey, tuple(added), before, plan, searched)


@dataclass(frozen=True)
class _Parting:
    """A piece divided at a joint; the other joints of its straight length are kept. New stock and short half in mm."""

    loop: str
    joint: StraightJoint
    kept: tuple[StraightJoint, ...]
    new_stock_mm: float
    short_mm: float

    @property
    def rank(self) -> tuple[float, float, str, int, float]:
        """Order of preference: least new stock, then the longest short half, then a reproducible order."""
        return round(self.new_stock_mm, 3), -self.short_mm, self.joint.room, self.joint.wall, self.joint.at_m


def _on_hand(stock: str, options: PartsOptions) -> tuple[Offcut, ...]:
    """Offcuts from which a stock may be cut."""
    return tuple(offcut for offcut in options.offcuts if options.cutting.use_offcuts and offcut.grain == stock)


def _could_save(survey: SurveyData, all_placed: Sequence[PlacedPiece], plan: CutPlan, options: PartsOptions) -> bool:
    """False if the total length, with one more joint, requires all present bars of every stock."""
    straight = joint_for(survey.catalogue, 0.0)
    if straight is None:
        return False
    trim_mm, kerf_mm = 2.0 * options.cutting.end_trim_mm, options.cutting.kerf_mm
    for stock in {placed.stock for placed in all_placed if not placed.estimate}:
        own = [placed for placed in all_placed if placed.stock == stock and not placed.estimate]
        longest_mm = 1000.0 * max(own[0].profile.stock_m) - trim_mm + kerf_mm
        new = [bar for bar in plan.bars if bar.grain == stock and not bar.offcut_label]
        need_mm = math.fsum(1000.0 * placed.piece.cut_m + kerf_mm for placed in own)
        need_mm += kerf_mm - 2000.0 * straight.cut_deduction_m
        need_mm -= math.fsum(offcut.length_mm + kerf_mm for offcut in _on_hand(stock, options))
        if math.ceil(need_mm / longest_mm - 1e-9) < len(new):
            return True
    return False


def _candidates(survey: SurveyData, all_placed: Sequence[PlacedPiece]) -> Iterator[PlacedPiece]:
    """Pieces on a wall that are long enough to divide, in straight lengths not yet divided; equal pieces once."""
    seen: set[tuple[str, float, float, float]] = set()
    for placed in all_placed:
        piece = placed.piece
        ends_mm = (cut_deduction_mm(survey.catalogue, placed.left), cut_deduction_mm(survey.catalogue, placed.right))
        like = (placed.stock, round(piece.cut_m, 4), *ends_mm)
        if placed.estimate or piece.floor_section is not None or like in seen:
            continue
        parted = set(survey.loop(placed.loop).straight_joints).intersection(_kept(placed, all_placed))
        if not parted and piece.tape_m >= 2.0 * placed.profile.min_piece_m:
            seen.add(like)
            yield placed


def _partings(
    survey: SurveyData,
    all_placed: Sequence[PlacedPiece],
    placed: PlacedPiece,
    plan: CutPlan,
    options: PartsOptions,
    limit_s: float,
) -> Iterator[_Parting]:
    """Ways to divide a piece between the remainders when all others of its stock are cut, each within `limit_s`."""
    others = [other for other in all_placed if other.stock == placed.stock and other is not placed]
    on_hand = _on_hand(placed.stock, options)
    stock_bars = [bar for bar in plan.bars if bar.grain == placed.stock and not bar.offcut_label]
    stock_bars_mm = math.fsum(bar.length_mm for bar in stock_bars)
    goals = (
        (options.cutting.prefer, "fewest bars") if len(set(placed.profile.stock_m)) > 1 else (options.cutting.prefer,)
    )
    for prefer in dict.fromkeys(goals):
        # of equally good plans, one whose remainders hold half the piece: shorter ones count as waste
        half_mm = 500.0 * placed.piece.cut_m
        own = replace(options.cutting, prefer=prefer, time_limit_s=limit_s, min_offcut_mm=half_mm)
        without = cut_plan(survey, others, replace(options, cutting=own, offcuts=on_hand))
        bars = () if without is None else without.bars
        new = [bar.length_mm for bar in bars if not bar.offcut_label]
        if len(new) >= len(stock_bars) or math.fsum(new) > stock_bars_mm + 1e-6:
            continue
        used = {bar.offcut_label for bar in bars}
        over_mm = [bar.remainder_mm for bar in bars]
        over_mm += [offcut.length_mm for offcut in on_hand if offcut.label not in used]
        for left_mm, right_mm in permutations(sorted(over_mm, reverse=True)[:2], 2):
            at = _joint_at(survey, placed, left_mm - SPARE_MM, right_mm - SPARE_MM)
            if at is not None:
                yield _Parting(placed.loop, at[0], tuple(_kept(placed, all_placed)), math.fsum(new), at[1])


def _joint_at(
    survey: SurveyData, placed: PlacedPiece, left_most_mm: float, right_most_mm: float
) -> tuple[StraightJoint, float] | None:
    """Position that divides a piece into halves no longer than given, and the length of the shorter half in mm.

    The position nearest to the middle; None if there is none, or if a half would be shorter than the minimum piece.
    """
    straight = joint_for(survey.catalogue, 0.0)
    if straight is None:
        return None
    take_mm = 1000.0 * straight.cut_deduction_m
    both_mm = 1000.0 * placed.piece.cut_m - 2.0 * take_mm
    left_end_mm, right_end_mm = (cut_deduction_mm(survey.catalogue, meets) for meets in (placed.left, placed.right))
    tape_mm = 1000.0 * placed.profile.min_piece_m - take_mm
    min_mm = max(both_mm - right_most_mm, tape_mm - left_end_mm, 0.0)
    max_mm = min(left_most_mm, both_mm - max(tape_mm - right_end_mm, 0.0))
    if min_mm > max_mm:
        return None
    left_mm = min(max(both_mm / 2.0, min_mm), max_mm)
    along_mm = left_end_mm + left_mm + take_mm
    piece = placed.piece
    at_m = round((1000.0 * piece.from_m + along_mm) / AT_STEP_MM) * AT_STEP_MM / 1000.0
    wall, _, end_m = wall_parts(survey.room(piece.room), piece.wall, piece.from_m, at_m)[-1]
    if end_m >= survey.room(piece.room).walls[wall - 1].length_m:
        return None
    return StraightJoint(piece.room, wall, round(end_m, 4)), min(left_mm, both_mm - left_mm)


def _straight(placed: PlacedPiece, all_placed: Sequence[PlacedPiece]) -> tuple[PlacedPiece, ...]:
    """The pieces joined to a piece by straight joints, with the piece itself, in water order."""
    run = [other for other in all_placed if (other.loop, other.arm) == (placed.loop, placed.arm)]
    first = last = run.index(placed)
    while first and _is_straight(run[first].start) and run[first - 1].end is run[first].start:
        first -= 1
    while last < len(run) - 1 and _is_straight(run[last].end) and run[last + 1].start is run[last].end:
        last += 1
    return tuple(run[first : last + 1])


def _is_straight(meets: object) -> bool:
    return isinstance(meets, PlacedJoint) and meets.kind == "straight"


def _kept(placed: PlacedPiece, all_placed: Sequence[PlacedPiece]) -> Iterator[StraightJoint]:
    """The straight joints in the straight length of a piece, as the survey states them."""
    for other in _straight(placed, all_placed)[1:]:
        if isinstance(other.start, PlacedJoint) and other.piece.floor_section is None:
            yield StraightJoint(other.start.room, other.start.wall, other.start.at_m)


def _taken(
    survey: SurveyData, all_placed: Sequence[PlacedPiece], parting: _Parting, plan: CutPlan, options: PartsOptions
) -> tuple[_Parting, SurveyData, tuple[PlacedPiece, ...], CutPlan] | None:
    """The survey with a joint, with layout and cutting plan.

    None if the joint saves no bar, requires more stock length or restrains a straight length.
    """
    required = {*parting.kept, parting.joint}
    loops = tuple(
        replace(loop, straight_joints=tuple(sorted(required.union(loop.straight_joints), key=astuple)))
        if loop.name == parting.loop
        else loop
        for loop in survey.loops
    )
    trial = replace(survey, loops=loops)
    pieces = placed_pieces(trial, build_layout(trial))
    cut = cut_plan(trial, pieces, options)
    if cut is None or cut.new_bars >= plan.new_bars or cut.new_stock_mm > plan.new_stock_mm + 1e-6:
        return None
    if _stuck(trial, pieces, options) > _stuck(survey, all_placed, options):
        return None
    return parting, trial, pieces, cut


def _stuck(survey: SurveyData, all_placed: Sequence[PlacedPiece], options: PartsOptions) -> int:
    """Straight lengths without room for expansion."""
    moves = plan_movement(survey, all_placed, options.installation_temp_c, options.min_gap_mm).moves
    return sum(move.choice == "stuck" for move in moves)
