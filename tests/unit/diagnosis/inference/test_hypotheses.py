"""Hypotheses: priors add up, and faults that exclude each other are not combined."""

from __future__ import annotations

import pytest

from heatloop.diagnosis import fault_types
from heatloop.diagnosis.inference.hypotheses import FAULTLESS, TWO_FAULTS, single_faults, two_faults
from tests.helpers.diagnosis.exact_site import day, exact_site


def test_priors_and_weights_add_up(model):
    readings, _ = exact_site(model)
    singles = single_faults(model, day(model, readings))
    assert sum(one.prior for one in singles) == pytest.approx(FAULTLESS + (1.0 - FAULTLESS) * (1.0 - TWO_FAULTS))
    for one in singles:
        assert one.weight.sum() == pytest.approx(1.0)
        assert one.points.count == one.weight.size
    pairs = two_faults(singles, singles[1:])
    assert sum(one.prior for one in pairs) < (1.0 - FAULTLESS) * TWO_FAULTS
    for one in pairs[:20]:
        assert one.weight.sum() == pytest.approx(1.0)
        assert len(one.faults) == 2
    assert len({frozenset(one.faults) for one in pairs}) == len(pairs)


def test_no_two_faults_that_cannot_stand_together(model):
    readings, _ = exact_site(model)
    singles = single_faults(model, day(model, readings))
    for one in two_faults(singles, singles[1:]):
        found = {fault.kind for fault in one.faults}
        same_loop = len({fault.loop for fault in one.faults}) == 1
        assert found != {fault_types.LITTLE_HEAD, fault_types.MUCH_HEAD}
        assert found != {fault_types.TOO_COOL, fault_types.TOO_WARM}
        if same_loop and one.faults[0].loop >= 0 and all(fault.arm < 0 for fault in one.faults):
            assert found != {fault_types.LITTLE_WATER, fault_types.MUCH_WATER}
