"""A site with faults put in: its heat balances, and a fault that cannot be put in is refused."""

from __future__ import annotations

from importlib import import_module

import numpy as np
import pytest

from heatloop.diagnosis import fault_types
from heatloop.diagnosis.simulated_site import SiteDeviations, SiteFault
from heatloop.diagnosis.site_model.as_commissioned import commissioned_site
from tests.helpers.diagnosis.exact_site import TRUE, exact_site
from tests.helpers.diagnosis.sites import FROM_MIDDLE, ONE_WAY, quick_design


@pytest.mark.parametrize("kind", [fault_types.NO_FAULT, fault_types.SWAPPED, fault_types.LITTLE_WATER])
def test_settled_rooms_lose_what_they_get(model, kind):
    loop = model.network.loops[0].loop.name
    faults = [] if kind == fault_types.NO_FAULT else [SiteFault(kind, loop, 0.0)]
    module = import_module("heatloop.diagnosis.simulated_site")
    design = model.site.system
    site = module.SimulatedSite(
        design, faults, np.random.default_rng(3), SiteDeviations(), design.survey.project.flow_temp_c, 2.0
    )
    answer = site.solve_steady()
    given = site.room_w(answer)
    for room, heat_w in given.items():
        lost = site.loss_w_k[room] * (site.room_c[room] - 2.0)
        assert heat_w + site.gain_w[room] == pytest.approx(lost, abs=0.02 * max(lost, 50.0))
    if kind == fault_types.LITTLE_WATER:
        assert site.loop_kg_s(answer)[0] == 0.0


@pytest.mark.parametrize("seed", [ONE_WAY, FROM_MIDDLE, 9012])
def test_a_swapped_loop_still_gives_the_heat_its_water_loses(seed):
    module = import_module("heatloop.diagnosis.simulated_site")
    design = quick_design(seed, 4)
    water = commissioned_site(design, thermostatic_heads_removed=True).fluid
    for path in design.state.network.loops:
        faults = [SiteFault(fault_types.SWAPPED, path.loop.name)]
        site = module.SimulatedSite(design, faults, np.random.default_rng(1), TRUE, 50.0, 2.0)
        answer = site._solve()
        index = site.network.temperatures
        head, foot = answer.temp_c[index.head, 0], answer.temp_c[index.foot, 0]
        lost = float((site.loop_kg_s(answer) * (water.enthalpy_j_kg(head) - water.enthalpy_j_kg(foot))).sum())
        emitted = sum(float(heat.channels.emitted_w.sum()) for heat in answer.heats)
        assert emitted == pytest.approx(lost, rel=1e-3)


def test_a_fault_that_cannot_be_put_in_is_not_passed_over(model):
    with pytest.raises(ValueError, match="is not in list"):
        exact_site(model, SiteFault(fault_types.LITTLE_WATER, "Ballroom", 0.5))
