"""Flows of heating networks against EPANET, pandapipes and closed forms.

A few random networks in every run; HEATLOOP_EXAMPLES=200 (say) tries as many of each kind.
"""

import os

import numpy as np
import pytest
from fluids.friction import Colebrook, Swamee_Jain_1976
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.helpers.agreement import assert_agrees
from tests.helpers.reference_networks import DENSITY_KG_M3, HOUSE, VISCOSITY_PA_S, Pipe, Plan, head_for, plans, solved
from tests.helpers.reference_solvers import closed_form_flows_kg_s, epanet_flows_kg_s, pandapipes_flows_kg_s

EXAMPLES = int(os.environ.get("HEATLOOP_EXAMPLES", "15"))
quick = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])


PANDAPIPES = ("pandapipes", "flow of every pipe, Re from 4050")
CLOSED_FORM = ("closed form", "flow of every loop, laminar, without local losses")


def assert_agrees_with_epanet(plan, head):
    """EPANET has Swamee and Jain's friction above Re 4000, up to 3 per cent from Colebrook's: a flow may differ
    by what friction differs in the pipe where it does most (it changes less: friction goes with flow to the power 1.75
    to 2). Laminar friction is the same in both."""
    found = solved(plan, head)
    flow_miss = miss(found.flow_kg_s, epanet_flows_kg_s(plan, head))
    if found.reynolds.max() < 2000.0:
        assert_agrees("EPANET", "flow of every pipe, Re to 1950", flow_miss, 0.005)
    else:
        relative = [pipe.roughness_m / pipe.bore_m for _, _, pipe in plan.pipes()]
        friction = [
            Swamee_Jain_1976(re, e) / Colebrook(re, e) - 1.0 for re, e in zip(found.reynolds, relative, strict=True)
        ]
        assert_agrees(
            "EPANET", "flow of every pipe, Re from 4050, by the difference in friction",
            flow_miss / float(np.abs(friction).max()), 1.0, "of that difference",
        )  # fmt: skip


def miss(found, required):
    """Greatest relative difference."""
    return float(np.max(np.abs(found - required) / np.abs(required)))


@pytest.mark.parametrize("reynolds", [4100.0, 6000.0, 12000.0])
def test_house_shares_its_water_as_pandapipes_has_it(reynolds):
    head = head_for(HOUSE, np.min, reynolds)
    assert_agrees(*PANDAPIPES, miss(solved(HOUSE, head).flow_kg_s, pandapipes_flows_kg_s(HOUSE, head)), 1e-4)


@pytest.mark.parametrize(("measure", "reynolds"), [(np.max, 1900.0), (np.min, 4100.0), (np.min, 7100.0)])
def test_house_shares_its_water_as_epanet_has_it(measure, reynolds):
    head = head_for(HOUSE, measure, reynolds)
    assert_agrees_with_epanet(HOUSE, head)


@quick
@given(plans(), st.floats(4050.0, 20000.0))
def test_turbulent_networks_agree_with_pandapipes(plan, minimum):
    head = head_for(plan, np.min, minimum)
    found = solved(plan, head)
    assume(found.reynolds.max() < 9e5)
    assert_agrees(*PANDAPIPES, miss(found.flow_kg_s, pandapipes_flows_kg_s(plan, head)), 1e-4)


@quick
@given(plans(), st.floats(4050.0, 20000.0))
def test_turbulent_networks_agree_with_epanet(plan, minimum):
    head = head_for(plan, np.min, minimum)
    assume(solved(plan, head).reynolds.max() < 9e5)
    assert_agrees_with_epanet(plan, head)


@quick
@given(plans(), st.floats(200.0, 1950.0))
def test_laminar_networks_agree_with_epanet(plan, maximum):
    head = head_for(plan, np.max, maximum)
    assert_agrees_with_epanet(plan, head)


@quick
@given(plans(zeta=False), st.floats(1e-3, 1950.0))
def test_laminar_networks_agree_with_resistances_in_series_and_parallel(plan, maximum):
    head = head_for(plan, np.max, maximum)
    flows = solved(plan, head).flow_kg_s[2 * len(plan.trunks) :]
    assert_agrees(*CLOSED_FORM, miss(flows, closed_form_flows_kg_s(plan, head)), 1e-9)


def test_epanet_is_given_roughness_in_its_own_unit():
    """Rough pipes at a high Reynolds number: a thousand times the roughness would be seen at once."""
    rough = Plan((Pipe(-1, 20.0, 0.05, roughness_m=2.5e-4),), (Pipe(0, 20.0, 0.05, roughness_m=2.5e-4),))
    head = head_for(rough, np.min, 3e5)
    found = epanet_flows_kg_s(rough, head)
    re = found[0] * 0.05 / (np.pi * 0.05**2 / 4.0 * VISCOSITY_PA_S)
    swamee_jain = 0.25 / np.log10(2.5e-4 / 0.05 / 3.7 + 5.74 / re**0.9) ** 2
    velocity = found[0] / (DENSITY_KG_M3 * np.pi * 0.05**2 / 4.0)
    assert swamee_jain * 60.0 / 0.05 * DENSITY_KG_M3 * velocity**2 / 2.0 == pytest.approx(head, rel=1e-4)
