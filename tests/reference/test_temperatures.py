"""Water temperatures of one-way plain pipe with a loss in proportion to the excess, against pandapipes.

The only heat that pandapipes and this library both model: one channel, exponent 1, no link, no film. Water has the
same constant properties in both, flows are turbulent, and both solve flow and heat together.
"""

from __future__ import annotations

import os

import numpy as np
import pandapipes
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from heatloop.hydraulics.model import ArmPath, Cell, Characteristic, LoopPath, PathElement
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.physics.ducts import round_duct
from heatloop.physics.heat_transfer import pipe_loss_w_mk
from heatloop.physics.water import Fluid
from heatloop.survey.catalogue import Pipe
from heatloop.survey.loops import Loop, Tails
from heatloop.survey.profiles import Channel, OutputRating, Profile
from heatloop.survey.water_system import Trunk
from tests.helpers.agreement import assert_agrees
from tests.helpers.reference_networks import DENSITY_KG_M3, HOUSE, VISCOSITY_PA_S, head_for, plans
from tests.helpers.reference_solvers import TIGHT, pandapipes_net

EXAMPLES = int(os.environ.get("HEATLOOP_EXAMPLES", "6"))
HEAT_CAPACITY_J_KGK = 4180.0
SUPPLY_C, ROOM_C = 60.0, 18.0
LAW = Characteristic(1.7, 1.0, 0.0)
PROFILE = Profile("plain", 100, 20, (Channel(13.0),), OutputRating(100.0, 1.0), (5.0,))


def constant_water():
    """A fluid whose properties are the same at every temperature."""
    start, step = 0.0, 60.0
    columns = np.zeros((21, 4))
    columns[:4] = np.array([[DENSITY_KG_M3], [HEAT_CAPACITY_J_KGK], [VISCOSITY_PA_S], [0.6]])
    columns[4] = HEAT_CAPACITY_J_KGK * (start + step * np.arange(-1.0, 3.0))
    columns[9] = HEAT_CAPACITY_J_KGK * step
    return Fluid("constant", 2.5e5, start, 120.0, start, step, columns)


WATER = constant_water()


def loop_of(number, pipe, trunk):
    """A loop of one pipe as this library has it: the pipe is its only channel, in one cell."""
    duct = round_duct(pipe.bore_m)
    element = PathElement(
        "piece", "pipe", "room", 1, 1, "flow", duct, pipe.roughness_m, pipe.length_m, pipe.zeta, node_in=0, node_out=1
    )
    cell = Cell("room", ROOM_C, pipe.length_m, LAW, 1.0, "pipe", film=False)

    def tail(direction):
        return PathElement("tail", "tail", "", 0, 0, direction, duct, 0.0)

    return LoopPath(
        loop=Loop(f"loop {number}", PROFILE.name, "one-way", (), Tails("", 0.0, 0.0), trunk),
        profile=PROFILE,
        tail_flow=(tail("flow"),),
        arms=(ArmPath((1,), (duct,), (cell,), ((element,),)),),
        tail_return=(tail("return"),),
    )


def system_of(plan, lose_to_c=None):
    """The plan with its loops giving heat, and its trunks losing it where `lose_to_c` is given."""
    pipes = {
        f"pipe {i}": Pipe(f"pipe {i}", 1000.0 * t.bore_m, 1000.0 * t.bore_m + 2.0, 1000.0 * t.roughness_m)
        for i, t in enumerate(plan.trunks)
    }
    trunks = [
        Trunk(f"trunk {i}", f"pipe {i}", t.length_m, None if t.parent < 0 else f"trunk {t.parent}", zeta=t.zeta)
        for i, t in enumerate(plan.trunks)
    ]
    loops = [loop_of(i, pipe, None if pipe.parent < 0 else f"trunk {pipe.parent}") for i, pipe in enumerate(plan.loops)]
    return build_network(loops, PipeworkInput(trunks, pipes, lose_to_c=lose_to_c))


def compare(plan, head_pa, lossy=False):
    """Maximum differences: return temperatures of loops, K, their flows, relative, and the return temperature, K."""
    system = system_of(plan, ROOM_C if lossy else None)
    state = solve_state(system, OperatingConditions(np.full(len(plan.loops), SUPPLY_C), [ConstantHead(head_pa)]), WATER)
    bores = np.array([pipe.bore_m for pipe in plan.loops])
    net = pandapipes_net(plan, head_pa, SUPPLY_C, 0.0, ROOM_C, HEAT_CAPACITY_J_KGK)
    first = 2 * len(plan.trunks)
    net.pipe.loc[net.pipe.index[first:], "u_w_per_m2k"] = LAW.k_w_mkn / (np.pi * bores)
    if lossy:  # flows first, then returns, each in the order of the trunks
        loss_w_mk = [pipe_loss_w_mk(1000.0 * trunk.bore_m + 2.0, 0.0) for trunk in plan.trunks]
        u_w_m2k = np.array(loss_w_mk) / (np.pi * np.array([trunk.bore_m for trunk in plan.trunks]))
        net.pipe.loc[net.pipe.index[:first], "u_w_per_m2k"] = np.tile(u_w_m2k, 2)
    pandapipes.pipeflow(
        net, mode="bidirectional", friction_model="colebrook", max_iter_colebrook=100, use_numba=False,
        max_iter_bidirect=200, tol_T=1e-8, **TIGHT,
    )  # fmt: skip
    result = net.res_pipe.iloc[first:]
    kelvin = np.abs(state.return_c - (result["t_outlet_k"].to_numpy() - 273.15)).max()
    flow = np.abs(state.loop_flow_kg_s / result["mdot_from_kg_per_s"].to_numpy() - 1.0).max()
    mixed_c = float((result["t_outlet_k"] * result["mdot_from_kg_per_s"]).sum() / result["mdot_from_kg_per_s"].sum())
    if lossy:  # what the return pipes lose comes off at the source
        back = state.network.shared_pipework.links
        lost_w = sum(w for w, link in zip(state.main_loss_w, back, strict=True) if not link.is_flow)
        assert state.main_loss_w.min() > 0.0
        mixed_c -= float(lost_w) / (HEAT_CAPACITY_J_KGK * float(result["mdot_from_kg_per_s"].sum()))
    return kelvin, flow, abs(state.source_return_c - (mixed_c - 273.15))


def assert_within(kelvin, flow, mixed):
    """Temperatures within a hundredth of a kelvin, flows within a ten thousandth."""
    assert_agrees("pandapipes", "return of every loop, heat and flow solved together", kelvin, 0.01, "K")
    assert_agrees("pandapipes", "water that comes back to the source", mixed, 0.01, "K")
    assert_agrees("pandapipes", "flow of every loop, heat and flow solved together", flow, 1e-4)


@pytest.mark.parametrize("lossy", [False, True])
def test_house_cools_its_water_as_pandapipes_has_it(lossy):
    assert_within(*compare(HOUSE, head_for(HOUSE, np.min, 4500.0), lossy))


@settings(
    max_examples=EXAMPLES, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)  # fmt: skip
@given(plans(loops=(1, 15)), st.floats(4100.0, 9000.0), st.booleans())
def test_random_networks_cool_their_water_as_pandapipes_has_it(plan, minimum, lossy):
    assert_within(*compare(plan, head_for(plan, np.min, minimum), lossy))
