"""A lot as sized: every array is that of its dwellings, each sized by itself."""

from dataclasses import fields

import numpy as np
import pytest

from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.lots.lot_state import LotState
from heatloop.hydraulics.lots.room_heat import room_states
from heatloop.hydraulics.lots.size_lot import size_lot
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
    return [(lot, [LotState.of_system(sized_system(own.survey)) for own in lot.dwellings]) for lot in lots]


def assert_close(mine, other, name):
    scale = np.maximum(np.abs(other).max(initial=0.0, where=np.isfinite(other)), 1e-9)
    assert mine.shape == other.shape, name
    both = np.isfinite(mine) & np.isfinite(other)
    assert np.array_equal(mine[~both], other[~both]), name
    assert np.abs(mine[both] - other[both]).max(initial=0.0) <= CLOSE * scale, name


def compare(part, others, dwelling, owns):
    """The arrays of one part of a state, dwelling by dwelling; `owns`: the elements that each has in its lot."""
    for field in fields(part):
        mine = getattr(part, field.name)
        if field.name in ("dwelling", "index_loop", "label", "name"):
            continue
        for k, (other, own) in enumerate(zip(others, owns, strict=True)):
            assert_close(mine[dwelling == k].astype(float), getattr(other, field.name)[own].astype(float), field.name)


def test_loops_are_those_of_their_dwellings(pairs):
    for lot, alone in pairs:
        compare(lot.loops, [one.loops for one in alone], lot.loops.dwelling, [slice(None)] * len(alone))


def test_elements_of_loops_are_those_of_their_dwellings(pairs):
    for lot, alone in pairs:
        dwelling = lot.loops.dwelling[lot.element_loop]
        compare(lot.elements, [one.elements for one in alone], dwelling, [one.element_loop >= 0 for one in alone])


def test_rooms_are_those_of_their_dwellings(pairs):
    for lot, alone in pairs:
        rooms, _ = room_states(lot)
        compare(rooms, [room_states(one)[0] for one in alone], rooms.dwelling, [slice(None)] * len(alone))


def test_trunks_pumps_and_sources_are_those_of_their_dwellings(pairs):
    mixed = trunks = bypassed = 0
    for lot, alone in pairs:
        whole = [slice(None)] * len(alone)
        compare(lot.trunks, [one.trunks for one in alone], lot.trunks.dwelling, whole)
        compare(lot.pumps, [one.pumps for one in alone], lot.pumps.dwelling, whole)
        compare(lot.sources, [one.sources for one in alone], np.arange(lot.count), whole)
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
