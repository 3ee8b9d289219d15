"""One coupled solve of heat and flow against the reference libraries' solver calls, as ratios in one run.

Like for like it is not: pandapipes solves flow and temperature with losses in proportion to the excess, at
its own tolerances, and knows no channels that pass heat to each other; EPANET solves the flow alone. Building the
peers' networks is not counted, their solver calls are. Times are the best of several, in process seconds.
"""

import time
import warnings

import numpy as np
import pandapipes
import pytest
from wntr.epanet.toolkit import ENepanet

from heatloop.circuit.solve import operate
from heatloop.physics.water import plain_water

from .dwelling import HEAD_PA, SUPPLY_C, dwelling, epanet_file, pandapipes_dwelling, plain_pipes

WATER = plain_water()
AT_45 = tuple(float(f(45.0)) for f in (WATER.density_kg_m3, WATER.heat_capacity_j_kgk, WATER.viscosity_pa_s))


def best_of(times, call):
    """The least process seconds of some calls."""
    best = np.inf
    for _ in range(times):
        start = time.process_time()
        call()
        best = min(best, time.process_time() - start)
    return best


@pytest.fixture(scope="module")
def system():
    return dwelling()


@pytest.fixture(scope="module")
def peer(system):
    return plain_pipes(system)


def ours(system, loops=12):
    return operate(system, np.full(loops, SUPPLY_C), WATER, head_pa=HEAD_PA)


def test_the_dwelling_is_the_one_that_is_told_of(system):
    assert len(system.loops) == 12
    assert sum(place.loop >= 0 for place in system.places) == 480


def test_coupled_solve_against_pandapipes_and_epanet(system, peer, benchmark):
    state = benchmark(ours, system)
    mine = best_of(15, lambda: ours(system))

    net = pandapipes_dwelling(peer, HEAD_PA, AT_45)

    def pandapipes_call():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            pandapipes.pipeflow(net, mode="bidirectional", friction_model="colebrook", iter=100)

    pandapipes_call()
    theirs = best_of(5, pandapipes_call)

    with open("dwelling.inp", "w", encoding="utf-8") as file:
        file.write(epanet_file(peer, HEAD_PA, AT_45))
    epanet = ENepanet()
    epanet.ENopen("dwelling.inp", "dwelling.rpt", "dwelling.bin")
    epanet.ENopenH()

    def epanet_call():
        epanet.ENinitH(0)
        epanet.ENrunH()

    hydraulics = best_of(15, epanet_call)
    total = float(np.sum(state.loop_flow_kg_s))
    print(f"\none coupled solve of 12 loops, 480 elements: {1000 * mine:.1f} ms here")
    print(f"  pandapipes, bidirectional {1000 * theirs:.1f} ms: {theirs / mine:.1f} times ours")
    print(f"  EPANET, hydraulics only {1000 * hydraulics:.2f} ms: {hydraulics / mine:.2f} times ours")
    print(f"  pandapipes' total flow {abs(net.res_ext_grid.mdot_kg_per_s.iloc[0]) / total - 1:+.2%} from ours")
    assert theirs / mine > 1.5
    assert state.residual_head < 1e-9
    assert state.residual_energy < 1e-9
