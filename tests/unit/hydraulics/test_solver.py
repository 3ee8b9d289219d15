"""Random systems, ordinary and pathological: all settle, and every balance closes.

A hundred in every run; HEATLOOP_EXAMPLES=2000 (say) tries as many.
"""

import os
from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.model import Characteristic
from heatloop.hydraulics.network.build import Levels, PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead, PumpCurveAtSpeed
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.hydraulics.solver.problem import CLOSED_KG_S
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Trunk
from tests.helpers.dwelling import PIPES, loop_path

EXAMPLES = int(os.environ.get("HEATLOOP_EXAMPLES", "100"))
WATER = plain_water()
KINDS = (
    "ordinary", "near zero flow", "laminar to turbulent in one loop", "valve almost shut", "one loop very long",
    "pump too small", "strong link and tiny flow", "cold water", "no film, no link",
)  # fmt: skip


def random_system(seed):
    """A network, its flow temperature and its pump, of the kind the seed falls on."""
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    link = 50.0 if kind == "strong link and tiny flow" else float(rng.choice([0.0, 2.0, 5.0, 10.0]))
    film = bool(rng.random() < 0.5)
    if kind == "no film, no link":
        film, link = False, 0.0
    law = Characteristic(float(rng.uniform(0.5, 2.0)), float(rng.uniform(1.0, 1.4)), link)
    count = int(rng.integers(1, 13))
    trunks = [Trunk("a", "trunk 28", float(rng.uniform(1, 15)))]
    for i in range(int(rng.integers(0, 4))):
        trunks.append(
            Trunk(f"b{i}", "trunk 22", float(rng.uniform(1, 15)), from_trunk=str(rng.choice([t.name for t in trunks])))
        )
    paths = []
    for i in range(count):
        length = float(rng.uniform(0.3, 2.5))
        if kind == "one loop very long" and i == 0:
            length *= 100.0 / 9.0
        kv = float(rng.uniform(0.1, 1.3))
        if kind == "valve almost shut" and i == 0:
            kv = 10.0 ** float(rng.uniform(-6, -3))
        rooms = tuple(float(t) for t in rng.uniform(15, 24, int(rng.integers(1, 4))))
        paths.append(
            loop_path(
                f"loop {i}", str(rng.choice([t.name for t in trunks])), length, pieces=int(rng.integers(3, 10)),
                tail_m=float(rng.uniform(0.5, 8)), kv_m3_h=kv, rooms_c=rooms, law=law, film=film,
                one_way=bool(rng.random() < 0.4),
            )
        )  # fmt: skip
    head = {
        "near zero flow": 10.0 ** rng.uniform(-4, 0),
        "pump too small": 10.0 ** rng.uniform(0, 2),
        "laminar to turbulent in one loop": 10.0 ** rng.uniform(2.5, 4),
        "strong link and tiny flow": 10.0 ** rng.uniform(1, 3),
    }.get(kind, 10.0 ** rng.uniform(3, 4.7))
    supply = float(rng.uniform(4, 12)) if kind == "cold water" else float(rng.uniform(30, 80))
    pump = PumpCurveAtSpeed((0.0, 1e-4, 4e-4), (float(head), 0.9 * float(head), 0.3 * float(head)))
    return kind, build_network(paths, PipeworkInput(trunks, PIPES)), supply, pump


@pytest.mark.parametrize("lot", range(10))
def test_every_random_system_settles_and_balances(lot):
    for seed in range(lot, EXAMPLES, 10):
        kind, system, supply, pump = random_system(seed)
        state = solve_state(system, OperatingConditions(np.full(len(system.loops), supply), [pump]), WATER)
        where = f"seed {seed}, {kind}"
        assert state.residual_mass < 1e-8, where
        assert state.residual_head < 1e-8, where
        assert state.residual_inlet < 1e-8, where
        assert state.residual_energy < 1e-8, where
        shut = state.loop_flow_kg_s == 0.0
        assert not shut.any() or kind in ("near zero flow", "valve almost shut"), where
        links = np.zeros(system.graph.start.size)
        links[system.elements.link] = state.flow_kg_s
        assert np.all(links[system.loop_link][~shut] > CLOSED_KG_S), where
        on_curve = pump.head_pa(np.array([state.total_flow_kg_s / WATER.density_kg_m3(supply)]))[0][0]
        assert state.head_pa == pytest.approx(on_curve, rel=1e-8), where


@pytest.mark.parametrize("one_way", [True, False])
def test_tiny_flows_and_a_strong_link_solve_and_flows_rise_with_head(one_way):
    law = Characteristic(1.0, 1.28, 50.0)
    system = build_network([loop_path("loop", None, 1.4, law=law, one_way=one_way, kv_m3_h=0.02)])
    heads = np.geomspace(200.0, 40e3, 9)
    states = [
        solve_state(system, OperatingConditions(np.array([50.0]), [ConstantHead(float(head))]), WATER) for head in heads
    ]
    flows = [float(state.loop_flow_kg_s[0]) for state in states]
    outputs = [float(sum(arm.emitted_w.sum() for arm in state.arms)) for state in states]
    assert min(flows) < 0.001
    assert np.all(np.diff(flows) > 0.0)
    assert np.all(np.diff(outputs) > 0.0)
    assert max(max(s.residual_energy, s.residual_inlet, s.residual_head, s.residual_mass) for s in states) < 1e-8


def test_a_loop_shut_by_hand_gives_nothing_and_the_others_go_on():
    _kind, system, supply, pump = random_system(0)
    shut = np.where(np.arange(len(system.loops)) == 0, 0.0, np.inf)
    state = solve_state(system, OperatingConditions(np.full(len(system.loops), supply), [pump], held_kg_s=shut), WATER)
    own = [arm for arm, loop in zip(state.arms, system.arm_loop, strict=True) if loop == 0]
    assert state.loop_flow_kg_s[0] == 0.0
    assert sum(float(arm.emitted_w.sum()) for arm in own) == 0.0
    assert all(
        np.all(arm.node_c[0][1:] == [cell.room_c for cell in path.cells])
        for arm, path in zip(own, system.arms, strict=False)
    )
    assert len(system.loops) == 1 or np.all(state.loop_flow_kg_s[1:] > 0.0)
    assert max(state.residual_mass, state.residual_head, state.residual_energy) < 1e-8


def test_a_held_flow_is_kept_where_there_is_pressure_for_it_and_not_forced_where_there_is_none():
    _kind, system, supply, pump = random_system(9)
    temps = np.full(len(system.loops), supply)
    free = solve_state(system, OperatingConditions(temps, [pump]), WATER)
    half = solve_state(system, OperatingConditions(temps, [pump], held_kg_s=0.5 * free.loop_flow_kg_s), WATER)
    assert half.loop_flow_kg_s == pytest.approx(0.5 * free.loop_flow_kg_s, rel=1e-12)
    assert half.throttled.all()
    more = solve_state(system, OperatingConditions(temps, [pump], held_kg_s=2.0 * free.loop_flow_kg_s), WATER)
    assert more.loop_flow_kg_s == pytest.approx(free.loop_flow_kg_s, rel=1e-9)
    assert not more.throttled.any()


def test_water_that_would_run_backwards_is_said_by_name():
    """Two loops on different levels and no pump: warm water drives the upper one back through the lower."""
    upper = loop_path("upper", None, 1.0)
    lower = loop_path("lower", None, 1.0)
    rename = {"upper": 6.0, "lower": -6.0}
    paths = []
    for path in (upper, lower):
        arm = path.arms[0]
        channels = tuple(tuple(replace(e, room=path.loop.name) for e in channel) for channel in arm.channels)
        cells = tuple(replace(cell, room=path.loop.name) for cell in arm.cells)
        paths.append(replace(path, arms=(replace(arm, channels=channels, cells=cells),)))
    system = build_network(paths, levels=Levels(rename))
    with pytest.raises(ArithmeticError, match='loop "lower": flow is reversed'):
        solve_state(system, OperatingConditions(np.array([60.0, 60.0]), [ConstantHead(1.0)]), WATER)
