"""Lengths that are sawn and taped: whole millimetres, and no straight longer than its wall."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.handover.parts.whole_mm import half_down_mm, nearest_half_mm


@pytest.mark.parametrize(("exact", "sawn"), [(1234.5, 1234), (1234.5000000001, 1234), (1234.6, 1235), (1234.4, 1234)])
def test_halves_go_down(exact: float, sawn: int) -> None:
    assert half_down_mm(exact) == sawn


def test_cuts_tapes_and_set_outs_are_whole_and_gaps_are_halves(alder_lodge: hl.Design) -> None:
    parts = alder_lodge.parts()
    pieces, cuts, movement = parts.pieces, parts.cuts, parts.thermal_movement
    assert (pieces["cut_length_mm"] % 1.0 == 0.0).all()
    assert dict(zip(cuts["label"], cuts["length_mm"], strict=True)) == dict(
        zip(pieces["label"], pieces["cut_length_mm"], strict=True)
    )
    assert ((1000.0 * pieces["wall_length_m"]).round(6) % 1.0 == 0.0).all()
    gaps = movement["gap_mm"].dropna()
    assert not gaps.empty
    assert (2.0 * gaps % 1.0 == 0.0).all()
    exact = [move.gap_mm for move in parts.movement_plan.moves if move.free]
    assert gaps.tolist() == [nearest_half_mm(gap) for gap in exact]
