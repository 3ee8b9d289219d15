"""A lot as sized: every array is that of its dwellings, each sized by itself."""

from dataclasses import fields, replace

import numpy as np
import pytest

from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.lots.lot_state import LotState
from heatloop.hydraulics.lots.room_heat import room_states
from heatloop.hydraulics.lots.size_lot import size_lot
from heatloop.layout.model import Piece
from heatloop.workflows.size import sized_system
from tests.helpers.lot_systems import lot_survey

SEEDS = {"drop": (302, 304, 311, 314, 316, 329), "loss": (303, 307)}
CLOSE = 1e-6


@pytest.fixture(scope="module", params=list(SEEDS))
def pairs(request):
    """Lots of dwellings of one kind, with the states of their dwellings sized by themselves."""
    kinds: dict[object, list[LotDwelling]] = {}
    for seed in SEEDS[request.param]:
        dwelling = LotDwelling.of(lot_survey(seed, request.param))
        if dwelling.alone_because() is None:
            kinds.setdefault(dwelling.of_one_kind_with(), []).append(dwelling)
    lots = [size_lot(some) for some in kinds.values()]
    assert sum(lot.count for lot in lots) >= 2
    return [(lot, [LotState.of_system(sized_system(own.survey)) for own in lot.dwellings]) for lot in lots]


def test_dwellings_with_and_without_mixed_water_are_of_two_kinds():
    """One loop at a flow temperature of its own makes the difference; one with the temperature of all makes none."""
    plain = lot_survey(303)
    assert all(loop.flow_temp_c is None for loop in plain.loops)
    cooler = replace(
        plain, loops=(replace(plain.loops[0], flow_temp_c=plain.project.flow_temp_c - 5.0), *plain.loops[1:])
    )
    kinds = [LotDwelling.of(survey).of_one_kind_with() for survey in (plain, lot_survey(303), cooler)]
    assert kinds[0] == kinds[1] != kinds[2]


def apart(mine, other):
    """Greatest difference of two arrays as a share of the greatest figure; infinite where they are not alike."""
    finite = np.isfinite(other)
    if mine.shape != other.shape or not np.array_equal(np.isfinite(mine), finite):
        return np.inf
    if not np.array_equal(mine[~finite], other[~finite], equal_nan=True):
        return np.inf
    scale = max(np.abs(other[finite]).max(initial=0.0), 1e-9)
    return np.abs(mine[finite] - other[finite]).max(initial=0.0) / scale


def deviations(part, others, dwelling, owns):
    """Of each array of one part of a state, its greatest deviation from those of the dwellings sized by themselves.

    `owns`: the elements of each dwelling that its lot has too.
    """
    return {
        field.name: max(
            apart(getattr(part, field.name)[dwelling == k].astype(float), getattr(other, field.name)[own].astype(float))
            for k, (other, own) in enumerate(zip(others, owns, strict=True))
        )
        for field in fields(part)
        if field.name not in ("dwelling", "index_loop", "label", "name")
    }


def test_loops_are_those_of_their_dwellings(pairs):
    for lot, alone in pairs:
        found = deviations(lot.loops, [one.loops for one in alone], lot.loops.dwelling, [slice(None)] * len(alone))
        assert len(found) == 7
        assert max(found.values()) <= CLOSE, found


def test_elements_of_loops_are_those_of_their_dwellings(pairs):
    for lot, alone in pairs:
        dwelling, owns = lot.loops.dwelling[lot.element_loop], [one.element_loop >= 0 for one in alone]
        found = deviations(lot.elements, [one.elements for one in alone], dwelling, owns)
        assert len(found) == 7
        assert max(found.values()) <= CLOSE, found


def test_rooms_are_those_of_their_dwellings(pairs):
    for lot, alone in pairs:
        rooms, _ = room_states(lot)
        found = deviations(rooms, [room_states(one)[0] for one in alone], rooms.dwelling, [slice(None)] * len(alone))
        assert len(found) == 3
        assert max(found.values()) <= CLOSE, found


def test_pieces_with_heat_are_those_of_skirting(pairs):
    """Not the pipes of crossings; all the heat of the pieces of a room reaches it."""
    for lot, _ in pairs:
        rooms, pieces = room_states(lot)
        for k, (dwelling, by_label_w) in enumerate(zip(lot.dwellings, pieces.by_label_w, strict=True)):
            arms = [arm for loop in dwelling.layout.loops for arm in loop.arms]
            laid = {item.label for arm in arms for item in arm.elements if isinstance(item, Piece)}
            assert set(by_label_w) == laid
            assert 0.0 <= sum(by_label_w.values()) <= rooms.to_rooms_w[rooms.dwelling == k].sum() * (1.0 + 1e-9)


def test_trunks_pumps_and_sources_are_those_of_their_dwellings(pairs):
    mixed = trunks = bypassed = 0
    for lot, alone in pairs:
        whole = [slice(None)] * len(alone)
        found = {
            **deviations(lot.trunks, [one.trunks for one in alone], lot.trunks.dwelling, whole),
            **deviations(lot.pumps, [one.pumps for one in alone], lot.pumps.dwelling, whole),
            **{
                f"source {name}": by
                for name, by in deviations(
                    lot.sources, [one.sources for one in alone], np.arange(lot.count), whole
                ).items()
            },
        }
        assert max(found.values()) <= CLOSE, found
        for k, one in enumerate(alone):
            names = [name for name, own in zip(lot.pumps.name, lot.pumps.dwelling, strict=True) if own == k]
            labels = [label for label, own in zip(lot.trunks.label, lot.trunks.dwelling, strict=True) if own == k]
            assert (names, labels) == (list(one.pumps.name), list(one.trunks.label))
        mixed += lot.pumps.dwelling.size - lot.count
        trunks += len(lot.trunks.label)
        bypassed += int((lot.sources.bypass_kg_s > 0.0).sum())
    assert mixed > 0
    assert trunks > 0
    assert bypassed > 0
