"""Coupled solves of heat and flow against the reference libraries' solver calls, as ratios in one run.

Like for like it is not: pandapipes solves flow and temperature with losses in proportion to the excess, at
its own tolerances, and knows no channels that pass heat to each other; EPANET solves the flow alone. Building the
peers' networks is not counted, their solver calls are.

Asserted are ratios that a busy machine reaches too: `docs/explanation/performance.md` states what was measured.
"""

import tracemalloc
import warnings

import numpy as np
import pandapipes
import pytest
from wntr.epanet.toolkit import ENepanet

from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.hydraulics.solver.scenarios import Scenarios, solve_scenarios
from heatloop.physics.water import plain_water
from tests.benchmarks.pandapipes_dwelling import pandapipes_dwelling
from tests.benchmarks.timing import min_s
from tests.helpers.dwelling import HEAD_PA, SUPPLY_C, dwelling, epanet_file, plain_pipes

WATER = plain_water()
AT_45 = tuple(float(f(45.0)) for f in (WATER.density_kg_m3, WATER.heat_capacity_j_kgk, WATER.viscosity_pa_s))
MIN_TO_PANDAPIPES, MIN_TO_EPANET = 8.0, 1.0
MAX_EXPONENT = 1.2


@pytest.fixture(scope="module")
def system():
    return dwelling()


@pytest.fixture(scope="module")
def peer(system):
    return plain_pipes(system)


def ours(system):
    return solve_state(
        system, OperatingConditions(np.full(len(system.loops), SUPPLY_C), [ConstantHead(HEAD_PA)]), WATER
    )


def epanet_of(peer, name):
    """EPANET with the peer's file open."""
    with open(f"{name}.inp", "w", encoding="utf-8") as file:
        file.write(epanet_file(peer, HEAD_PA, AT_45))
    epanet = ENepanet()
    epanet.ENopen(f"{name}.inp", f"{name}.rpt", f"{name}.bin")
    return epanet


def test_the_dwelling_is_the_one_that_is_told_of(system):
    assert len(system.loops) == 12
    assert sum(place.loop >= 0 for place in system.locations) == 480


def test_coupled_solve_against_pandapipes_and_epanet(system, peer):
    state = ours(system)
    filmed = dwelling(film=True)
    net = pandapipes_dwelling(peer, HEAD_PA, AT_45)

    def pandapipes_call():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            pandapipes.pipeflow(net, mode="bidirectional", friction_model="colebrook", iter=100)

    epanet = epanet_of(peer, "dwelling")
    epanet.ENopenH()

    def epanet_call():
        epanet.ENinitH(10)  # flows begun anew, as ours are
        epanet.ENrunH()

    pandapipes_call()
    mine, film, theirs, hydraulics = min_s(
        10, (lambda: ours(system), 10), (lambda: ours(filmed), 4), (pandapipes_call, 2), (epanet_call, 3)
    )
    total = float(np.sum(state.loop_flow_kg_s))
    print(
        f"\none coupled solve of 12 loops, 480 elements: {1000 * mine:.2f} ms here, with film {film / mine:.1f} times"
    )
    print(f"  pandapipes, bidirectional {1000 * theirs:.1f} ms: {theirs / mine:.1f} times ours")
    print(f"  EPANET, hydraulics only {1000 * hydraulics:.2f} ms: {hydraulics / mine:.2f} times ours")
    print(f"  pandapipes' total flow {abs(net.res_ext_grid.mdot_kg_per_s.iloc[0]) / total - 1:+.2%} from ours")
    assert max(state.residual_mass, state.residual_head, state.residual_energy, state.residual_inlet) < 1e-9
    assert theirs / mine > MIN_TO_PANDAPIPES


SCENARIOS = 1000


def drawn(system, count=SCENARIOS):
    """Flow temperatures, heads, room temperatures and settings of the balancing valves, drawn at random."""
    chance = np.random.default_rng(11)
    valves = [
        i for i, place in enumerate(system.locations)
        if place.element.kind == "valve" and place.element.direction == "return"
    ]  # fmt: skip
    return Scenarios(
        flow_temp_c=chance.uniform(35.0, 65.0, count),
        head_pa=chance.uniform(4e3, 25e3, count),
        room_c={"room": chance.uniform(17.0, 23.0, count)},
        kv_m3_h={place: chance.uniform(0.15, 1.0, count) for place in valves},
    )


def test_many_scenarios_against_epanet_one_by_one(system, peer):
    asked = drawn(system)
    guess = ours(system).loop_flow_kg_s
    found = solve_scenarios(system, asked, WATER, guess)
    epanet = epanet_of(peer, "scenarios")
    mine, theirs = min_s(3, (lambda: solve_scenarios(system, asked, WATER, guess), 1), (epanet.ENsolveH, 15))
    mine /= SCENARIOS

    exact = solve_scenarios(system, asked, WATER, guess, tolerance=1e-11)
    error = float(np.abs(found.output_w / exact.output_w - 1.0).max())
    print(f"\n{SCENARIOS} scenarios of 12 loops at once: {1000 * mine:.2f} ms each here, heat within {error:.0e}")
    print(f"  EPANET, one hydraulic solve {1000 * theirs:.2f} ms: {theirs / mine:.1f} times ours")
    assert error < 1e-6
    assert theirs / mine > MIN_TO_EPANET


def test_cost_rises_in_step_with_the_loops():
    """Single solves, and scenarios solved side by side, of systems of 100 and of 1,000 loops."""
    scenarios, alone, side_by_side = 20, {}, {}
    for loops in (100, 1000):
        system = dwelling(loops)
        state = ours(system)
        assert max(state.residual_mass, state.residual_head, state.residual_energy) < 1e-8
        asked, guess = drawn(system, scenarios), state.loop_flow_kg_s
        alone[loops], side_by_side[loops] = min_s(
            3,
            (lambda system=system: ours(system), 2),
            (lambda system=system, asked=asked, guess=guess: solve_scenarios(system, asked, WATER, guess), 1),
        )
    for name, times in (("alone", alone), (f"{scenarios} side by side", side_by_side)):
        exponent = float(np.log10(times[1000] / times[100]))
        print(
            f"\n{name}: 100 loops {1000 * times[100]:.0f} ms, 1,000 loops {1000 * times[1000]:.0f} ms: {exponent:.2f}"
        )
        assert exponent < MAX_EXPONENT


def test_memory(system):
    """Lots keep the memory of many scenarios to what one lot requires."""

    def peak_mb(call):
        tracemalloc.start()
        call()
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak / 1e6

    asked, few, guess = drawn(system), drawn(system, 100), ours(system).loop_flow_kg_s
    one = peak_mb(lambda: ours(system))
    some = peak_mb(lambda: solve_scenarios(system, few, WATER, guess))
    many = peak_mb(lambda: solve_scenarios(system, asked, WATER, guess))
    print(f"\npeak memory: one solve {one:.1f} MB, 100 scenarios {some:.0f} MB, {SCENARIOS} scenarios {many:.0f} MB")
    assert one < 10.0
    assert many < 3.0 * some  # ten times as many scenarios
