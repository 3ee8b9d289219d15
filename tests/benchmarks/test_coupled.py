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

from heatloop.circuit.scenarios import Scenarios, solve_scenarios
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
        epanet.ENinitH(10)  # flows begun anew, as ours are
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


SCENARIOS = 1000


def drawn(system):
    """Flow temperatures, heads, room temperatures and settings of the balancing valves, drawn at random."""
    chance = np.random.default_rng(11)
    valves = [
        i for i, place in enumerate(system.places)
        if place.element.kind == "valve" and place.element.direction == "return"
    ]  # fmt: skip
    return Scenarios(
        flow_temp_c=chance.uniform(35.0, 65.0, SCENARIOS),
        head_pa=chance.uniform(4e3, 25e3, SCENARIOS),
        room_c={"room": chance.uniform(17.0, 23.0, SCENARIOS)},
        kv_m3_h={place: chance.uniform(0.15, 1.0, SCENARIOS) for place in valves},
    )


def test_many_scenarios_against_epanet_one_by_one(system, peer):
    asked = drawn(system)
    guess = ours(system).loop_flow_kg_s
    found = solve_scenarios(system, asked, WATER, guess)
    mine = best_of(3, lambda: solve_scenarios(system, asked, WATER, guess)) / SCENARIOS

    with open("scenarios.inp", "w", encoding="utf-8") as file:
        file.write(epanet_file(peer, HEAD_PA, AT_45))
    epanet = ENepanet()
    epanet.ENopen("scenarios.inp", "scenarios.rpt", "scenarios.bin")
    theirs = best_of(30, epanet.ENsolveH)

    exact = solve_scenarios(system, asked.some(slice(0, 60)), WATER, guess, settled=1e-11)
    error = float(np.abs(found.output_w[:, :60] / exact.output_w - 1.0).max())
    print(f"\n{SCENARIOS} scenarios of 12 loops at once: {1000 * mine:.2f} ms each here, heat within {error:.0e}")
    print(f"  EPANET, one hydraulic solve {1000 * theirs:.2f} ms: {theirs / mine:.1f} times ours")
    assert error < 1e-6
    assert theirs / mine > 0.5


def test_cost_rises_in_step_with_the_loops():
    times = {}
    for loops in (100, 1000):
        system = dwelling(loops)
        state = ours(system, loops)
        assert max(state.residual_mass, state.residual_head, state.residual_energy) < 1e-8
        times[loops] = best_of(4, lambda system=system, loops=loops: ours(system, loops))
    exponent = float(np.log10(times[1000] / times[100]))
    print(f"\n100 loops {1000 * times[100]:.0f} ms, 1,000 loops {1000 * times[1000]:.0f} ms: exponent {exponent:.2f}")
    assert exponent < 1.2
