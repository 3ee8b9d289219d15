"""When a solve has converged, and how it goes on where whole steps would not."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver import coupled, operating_state
from heatloop.hydraulics.solver.convergence import TOLERANCE, has_converged
from heatloop.hydraulics.solver.flow_state import FlowState
from heatloop.hydraulics.solver.operating_state import OperatingConditions, closed_state, solve_state
from heatloop.hydraulics.solver.problem import OperatingProblem
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Trunk
from tests.helpers.dwelling import PIPES, loop_path

WATER = plain_water()


def at_50(loops: int) -> OperatingConditions:
    return OperatingConditions(np.full(loops, 50.0), [ConstantHead(4000.0)])


def changes(*values: float) -> list[np.ndarray]:
    return [np.array([value]) for value in values]


@pytest.mark.parametrize(
    ("first", "before", "moved", "converged"),
    [
        (1e-6, 1e-8, 1e-10, True),  # a hundredth each: 1e-12 is left
        (1e-6, 1e-8, 6e-8, False),  # it has grown
        (4e-8, 2e-8, 1e-8, False),  # halved each time: as much again is left
        (4e-10, 2e-10, 1e-10, True),
        (4e-10, 2e-10, 6e-10, False),
        (1e-3, 5e-4, 2e-3, False),
        (np.inf, np.inf, 1e-11, True),  # nothing to compare with counts as 0.9: nine times as much is left
        (np.inf, np.inf, 1e-10, False),
        (0.0, 0.0, 0.0, True),
    ],
)
def test_converged_is_what_leaves_less_than_the_limit_of_a_geometric_series(
    first: float, before: float, moved: float, converged: bool
) -> None:
    assert has_converged(*changes(first, before, moved), 5e-10) is converged


def test_the_slower_of_two_ratios_counts_and_every_scenario() -> None:
    assert not has_converged(*changes(2e-9, 1.6e-9, 1.6e-10), 5e-10)
    assert has_converged(*changes(2e-9, 2e-10, 2e-11), 5e-10)
    fast, slow = changes(1e-6, 1e-8, 1e-10), changes(1e-6, 9e-7, 8e-7)
    both = [np.concatenate(pair) for pair in zip(fast, slow, strict=True)]
    assert not has_converged(*both, 5e-10)


def test_relaxed_rounds_reach_the_same_state_in_more_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half of each change of temperature halves what is left a round at best, from any start."""
    network = build_network([loop_path(f"loop {i}", None, 1.0 + 0.2 * i) for i in range(3)])
    plain = solve_state(network, at_50(3), WATER)
    monkeypatch.setattr(coupled, "RELAXED_AFTER", {2: 0.5})
    relaxed = solve_state(network, at_50(3), WATER)
    assert relaxed.loop_flow_kg_s == pytest.approx(plain.loop_flow_kg_s, rel=1e-7)
    assert relaxed.return_c == pytest.approx(plain.return_c, abs=1e-6)
    assert relaxed.iterations > plain.iterations + 5


def test_a_state_is_the_same_from_the_temperatures_of_another_in_fewer_rounds() -> None:
    """Started from the same loops with cooler water, and from the solution itself."""
    network = build_network([loop_path(f"loop {i}", None, 1.0 + 0.2 * i) for i in range(3)])
    fresh = solve_state(network, at_50(3), WATER)
    cooler = solve_state(network, replace(at_50(3), supply_c=np.full(3, 46.0)), WATER)
    for other, fewer in ((cooler, 0), (fresh, 1)):
        found = solve_state(network, at_50(3), WATER, other.loop_flow_kg_s, other.initial_temperatures)
        assert found.loop_flow_kg_s == pytest.approx(fresh.loop_flow_kg_s, rel=1e-9)
        assert found.return_c == pytest.approx(fresh.return_c, abs=1e-7)
        assert found.iterations <= fresh.iterations - fewer


def test_a_solve_ends_where_rounding_alone_moves_its_temperatures() -> None:
    """With a tolerance below the rounding of the temperatures."""
    network = build_network([loop_path(f"loop {i}", None, 1.0 + 0.2 * i) for i in range(3)])
    problem = OperatingProblem(np.full((3, 1), 50.0), np.full((1, 1), 50.0), (ConstantHead(4000.0),))
    found = coupled.solve_heat_and_flow(network, problem, WATER, tolerance=1e-30)
    assert found.rounds == coupled.ROUNDED_AFTER + 1
    assert found.moved.max() < 1e-12
    usual = coupled.solve_heat_and_flow(network, problem, WATER)
    assert found.flow_kg_s == pytest.approx(usual.flow_kg_s, rel=1e-9)


def test_a_solve_that_may_not_go_on_names_the_loop_that_moved_most(monkeypatch: pytest.MonkeyPatch) -> None:
    network = build_network([loop_path("short", None, 0.5), loop_path("long", None, 3.0)])
    monkeypatch.setattr(coupled, "ROUNDS", 2)
    with pytest.raises(ArithmeticError, match=r'loop "(short|long)": heat and flow did not converge in 2 rounds'):
        solve_state(network, at_50(2), WATER)


@pytest.mark.parametrize(("off", "closer"), [(1e-9, None), (1e-8, 0.03), (3e-8, 0.01), (1e-3, 1e-12 / TOLERANCE)])
def test_a_state_whose_heat_does_not_balance_is_solved_so_much_more_closely(
    off: float, closer: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To a third of the share by which it was off, and no closer than rounding allows."""
    asked: list[float] = []
    state = SimpleNamespace(residual_energy=off, loop_flow_kg_s=np.ones(1), initial_temperatures=None)
    monkeypatch.setattr(operating_state, "state_from_solution", lambda *_: state)
    monkeypatch.setattr(operating_state, "solve_heat_and_flow", lambda *args: asked.append(args[4]))
    assert closed_state(None, None, None, WATER) is state  # type: ignore[arg-type, comparison-overlap]
    assert asked == ([] if closer is None else [pytest.approx(closer * TOLERANCE)])


def test_water_at_the_source_or_as_cool_as_its_room_gets_no_warmer_with_flow() -> None:
    """Source at 60, coldest room at 20 °C: half-way between, viscosity falls with flow."""
    source_c, mean_c = np.array([60.0]), np.array([[60.0], [40.0], [20.0], [15.0]])
    viscosity = np.asarray(WATER.viscosity_pa_s(mean_c))
    state = SimpleNamespace(
        source_c=source_c, excess_k=np.array([40.0]), source_pa_s=WATER.viscosity_pa_s(source_c), viscosity=viscosity
    )
    found = FlowState._warming(state, mean_c, np.arange(4))[:, 0]  # type: ignore[arg-type]
    assert found[0] == pytest.approx(0.0, abs=1e-12)
    assert found[2] == pytest.approx(0.0, abs=1e-12)
    assert found[3] == pytest.approx(0.0, abs=1e-12)
    half = (1.0 - 0.5) * (1.0 + 0.5 * 0.5)  # cooled by half
    assert found[1] == pytest.approx(half * np.log(viscosity[0, 0] / viscosity[1, 0]))
    assert -0.5 < found[1] < -0.1


def test_likely_flows_of_loops_are_where_their_links_begin() -> None:
    """Trunks begin with what their loops carry."""
    trunk = Trunk("main", "trunk 28", 5.0)
    loops = [loop_path(name, "main", 1.0) for name in ("a", "b", "c")]
    network = build_network(loops, PipeworkInput((trunk,), PIPES))
    problem = OperatingProblem(np.full((3, 1), 50.0), np.full((1, 1), 50.0), (ConstantHead(4000.0),))
    guess = np.array([[0.01], [0.03], [0.05]])
    state = FlowState(network, problem, WATER, np.full(1, 30.0), guess)
    assert state.link_kg_s[network.loop_link, 0].tolist() == [0.01, 0.03, 0.05]
    assert state.link_kg_s[network.main_link, 0] == pytest.approx(0.09)
    silent = FlowState(network, problem, WATER, np.full(1, 30.0), None)
    assert silent.link_kg_s[network.loop_link, 0].tolist() == [0.02] * 3
