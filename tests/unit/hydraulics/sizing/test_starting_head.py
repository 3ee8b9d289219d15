"""Loops that rising water could drive by itself: the pump has a head that starts them, and they carry their flow."""

import numpy as np
import pytest

import heatloop as hl
from heatloop.hydraulics.sizing.balancing import STARTING_SHARE
from tests.helpers.random_systems import every_table, random_survey, worst_residual


@pytest.mark.parametrize("seed", [49, 189])
def test_water_that_rises_by_itself_still_gets_a_head_to_start(seed):
    """At no head, water that stands still is a solution too: nothing would make it warm."""
    design = hl.size(random_survey(seed))
    system = design.system
    sized = np.array([one.flow_kg_s for one in system.sizing.loops])
    assert system.state.loop_flow_kg_s == pytest.approx(sized, rel=1e-6)
    heads_pa = system.balance.heads_pa[system.state.network.loop_circuit]
    assert np.all(heads_pa >= STARTING_SHARE * np.array([one.alone.head_pa for one in system.sizing.loops]))
    assert worst_residual(design) <= 1e-9
    assert every_table(design)["rooms"]["heat_to_rooms_w"].gt(0.0).all()
