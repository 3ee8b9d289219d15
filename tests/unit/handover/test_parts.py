"""What holds for the parts of any room: invariants on rooms drawn at random.

The rooms and routes are those that the layout is tested with. What is expected is counted from the layout's
elements alone, by loops of its own.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from heatloop.handover.cutting.model import CuttingOptions
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsListResult, parts_list_from
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, Piece, PlacedCrossing, PlacedEnd, PlacedJoint
from heatloop.survey.building import Room
from heatloop.survey.catalogue import CountRule, PackSize
from heatloop.survey.loops import RouteWalls
from heatloop.survey.profiles import Channel
from heatloop.survey.survey import SurveyData
from heatloop.workflows.fewer_bars import find_joints
from tests.helpers import random_rooms

FITTINGS = (
    CountRule("elbow", "joint-channel", at=("inside corner", "outside corner", "angle")),
    CountRule("connector", "joint-channel", at=("straight",)),
    CountRule("adaptor", "joint-channel", 2.0, at=("crossing",)),
    CountRule("adaptor", "end-channel", at=("valve end",)),
    CountRule("turn piece", "end", at=("turn end",)),
)
FIXINGS = (
    CountRule("bracket", "spacing", at=("wall",), spacing_m=0.6, end_m=0.1, spares_percent=5.0),
    CountRule("clamp", "fixed end"),
    CountRule("slide pad", "free end"),
    CountRule("anchor bracket", "anchor"),
    CountRule("strip", "metre", unit="m"),
    CountRule("tag", "piece"),
)
SEALS = (CountRule("seal", "joint-channel", 2.0), CountRule("seal", "end-channel"))
PACKS = (PackSize("elbow", "bag of 10", 10.0), PackSize("seal", "bag of 25", 25.0), PackSize("seal", "bag of 6", 6.0))
QUICK = PartsOptions(cutting=CuttingOptions(time_limit_s=0.05))
CHANNELS = (Channel(13.0),)


def laid_out(room: Room, item: RouteWalls, channels: int, slides: tuple[str, ...]) -> tuple[SurveyData, Layout]:
    """A room laid out with the counting rules above, `slides` joints letting one side slide."""
    base = random_rooms.CATALOGUE
    joints = tuple(replace(j, free_end="one" if j.name in slides else "none", slide_mm=4.0) for j in base.joints)
    catalogue = replace(
        base,
        profiles=(replace(base.profiles[0], channels=CHANNELS * channels),),
        joints=joints,
        fittings=FITTINGS,
        fixings=FIXINGS,
        consumables=SEALS,
        packs=PACKS,
    )
    survey: SurveyData = random_rooms.survey_of(room, item, catalogue)
    layout = random_rooms.laid(survey)
    assume(layout is not None)
    return survey, layout


def quantity(handover: PartsListResult, item: str) -> float:
    return sum(part.net_quantity for part in handover.part_lines if part.item == item)


@settings(max_examples=60, deadline=None)
@given(
    case=random_rooms.cases(),
    channels=st.integers(2, 3),
    slides=st.sets(st.sampled_from(["inside corner", "angle", "straight"])).map(lambda s: tuple(sorted(s))),
)
def test_parts_balance_whatever_the_room(case: tuple[Room, RouteWalls], channels: int, slides: tuple[str, ...]) -> None:
    survey, layout = laid_out(*case, channels, slides)
    handover = parts_list_from(survey, layout, 20.0, QUICK)
    _check_balances(handover, layout, channels)
    assert list(handover.pieces["label"]) == [piece.label for loop in layout.loops for piece in loop.pieces]


@settings(max_examples=40, deadline=None)
@given(case=random_rooms.cases(), channels=st.integers(2, 3), stock_m=st.sampled_from([3.5, 4.5, 6.0]))
def test_parts_balance_with_joints_that_save_bars(case: tuple[Room, RouteWalls], channels: int, stock_m: float) -> None:
    """All of it holds with straight joints more, each of which saves a bar and leaves the other joints alone."""
    any_stock, _ = laid_out(*case, channels, ("inside corner",))
    profile = replace(any_stock.catalogue.profiles[0], stock_m=(stock_m,))
    survey = replace(any_stock, catalogue=replace(any_stock.catalogue, profiles=(profile,)))
    layout = build_layout(survey)
    found = find_joints(survey, layout, replace(QUICK, cutting=CuttingOptions(time_limit_s=0.3)))
    assert found.before is not None
    assert found.after is not None
    saved = found.before.new_bars - found.after.new_bars
    assert saved >= len(found.added)
    assert found.after.new_stock_mm <= found.before.new_stock_mm + 1e-6
    assert (found.survey is survey) == (not found.added)
    parted = build_layout(found.survey)
    _check_balances(parts_list_from(found.survey, parted, 20.0, QUICK), parted, channels)
    kinds = [
        Counter(e.kind for e in one.loops[0].arms[0].elements if isinstance(e, PlacedJoint | PlacedEnd))
        for one in (layout, parted)
    ]
    kinds[0]["straight"] += len(found.added)
    assert kinds[1] == kinds[0]
    min_m = survey.catalogue.profiles[0].min_piece_m
    before = {round(piece.tape_m, 6) for piece in layout.loops[0].pieces}
    assert all(p.tape_m >= min_m - 1e-6 or round(p.tape_m, 6) in before for p in parted.loops[0].pieces)


def _check_balances(handover: PartsListResult, layout: Layout, channels: int) -> None:
    elements = [e for arm in layout.loops[0].arms for e in arm.elements]
    joints = [e for e in elements if isinstance(e, PlacedJoint)]
    crossings = [e for e in elements if isinstance(e, PlacedCrossing)]
    ends = [e for e in elements if isinstance(e, PlacedEnd)]
    pieces = [e for e in elements if isinstance(e, Piece)]
    _ends_meet_one_thing(handover, pieces, joints, crossings, ends)
    _fittings_follow_channels(handover, channels, joints, crossings, ends)
    _cuts_balance(handover, pieces)
    _movement_holds_together(handover, pieces, joints)
    _orders_are_enough(handover)
    crossed_m = sum(channels * e.length_m for e in crossings)
    assert quantity(handover, "copper 15") == pytest.approx(4.0 + crossed_m, abs=1e-9)


def _ends_meet_one_thing(handover: PartsListResult, pieces: Any, joints: Any, crossings: Any, ends: Any) -> None:
    """Each end of every piece meets exactly one joint, crossing or end, and each of these the right number."""
    assert [one.piece for one in handover.standings] == pieces
    met = Counter(id(meets) for one in handover.standings for meets in (one.start, one.end))
    assert sum(met.values()) == 2 * len(pieces)
    assert all(met[id(e)] == 2 for e in (*joints, *crossings))
    assert all(met[id(e)] == 1 for e in ends)
    table = handover.joints
    assert len(table) == len(joints) + len(crossings) + len(ends)
    between = table[~table["kind"].isin(["valve end", "turn end"])]
    assert (between["upstream_piece"] != "").all()
    assert (between["downstream_piece"] != "").all()
    assert table["reason"].str.len().min() > 0


def _fittings_follow_channels(handover: PartsListResult, channels: int, joints: Any, crossings: Any, ends: Any) -> None:
    """Fittings are the sum over joints of the channels that pass."""
    kinds = Counter(e.kind for e in joints)
    corners = kinds["inside corner"] + kinds["outside corner"] + kinds["angle"]
    assert quantity(handover, "elbow") == channels * corners
    assert quantity(handover, "connector") == channels * kinds["straight"]
    assert quantity(handover, "adaptor") == channels * (2 * len(crossings) + 1)
    assert quantity(handover, "turn piece") == 1
    assert quantity(handover, "seal") == channels * (2 * (len(joints) + len(crossings)) + len(ends))
    stated = handover.joints
    assert (stated["channels"] == channels).all()


def _cuts_balance(handover: PartsListResult, pieces: Any) -> None:
    """Pieces + kerf + offcuts + waste = stock, and every piece is cut once at its length."""
    plan = handover.cut_plan
    assert plan is not None
    assert abs(handover.summary["cut_balance_mm"]) < 1e-6
    cuts = handover.cuts
    cut_mm = dict(zip(cuts["label"], cuts["length_mm"], strict=True))
    assert len(cuts) == len(pieces)
    assert cut_mm == pytest.approx({p.label: p.cut_m * 1000.0 for p in pieces}, abs=0.999)
    bars = [part for part in handover.part_lines if part.kind == "profile"]
    assert sum(part.order_quantity for part in bars) == pytest.approx(plan.stock_mm / 1000.0, abs=1e-9)
    assert sum(part.net_quantity for part in bars) == pytest.approx(cuts["length_mm"].sum() / 1000.0, abs=1e-9)
    assert quantity(handover, "strip") == pytest.approx(sum(p.cut_m for p in pieces))
    assert quantity(handover, "tag") == len(pieces)


def _movement_holds_together(handover: PartsListResult, pieces: Any, joints: Any) -> None:
    """Every piece is in one straight; no joint frees more sides than it can; fixings count what is held."""
    moves = handover.movement_plan.moves
    labels = [one.piece.label for move in moves for one in move.straight.pieces]
    assert sorted(labels) == sorted(p.label for p in pieces)
    freed = Counter(id(meets) for move in moves for meets in move.free)
    free_at = {j.name: {"none": 0, "one": 1}[j.free_end] for j in handover.survey.catalogue.joints}
    for joint in joints:
        assert freed[id(joint)] <= free_at.get(joint.joint, 0)
    placed = [move for move in moves if move.choice in ("start", "end")]
    assert all(len(move.free) == len(move.held) == 1 for move in placed)
    assert all(move.gap_mm <= 4.0 + 1e-9 for move in placed if isinstance(move.free[0], PlacedJoint))
    assert quantity(handover, "clamp") == sum(len(move.held) for move in moves)
    assert quantity(handover, "slide pad") == sum(len(move.free) for move in moves)
    table = handover.thermal_movement
    assert (table["verdict"] == "pass").all() == handover.movement_plan.possible
    assert (table.loc[table["verdict"] == "fail", "reason"].str.len() > 0).all()


def _orders_are_enough(handover: PartsListResult) -> None:
    """What is ordered covers what is needed, in whole packs."""
    for part in handover.part_lines:
        assert part.order_quantity >= part.net_quantity + part.allowance - 1e-9
        if part.packs:
            assert part.order_quantity == pytest.approx(math.fsum(p.holds * p.count for p in part.packs))
        elif part.unit == "piece":
            assert part.order_quantity == int(part.order_quantity)
