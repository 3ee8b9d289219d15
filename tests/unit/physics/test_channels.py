"""Steps of the channel solver: what is divided again, how fast Newton's method is, walls behind the film."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from heatloop.physics.channels.accuracy import ACCURACY, emission_check_w, refinement_needed
from heatloop.physics.channels.grid import ChannelRuns, subdivide
from heatloop.physics.channels.newton import ChannelNewtonSolver
from heatloop.physics.channels.solver import solve_channels

CELLS = 4
INLET_C = np.array([60.0, 50.0])


def runs(direction: tuple[int, ...], film: bool = False) -> ChannelRuns:
    """Two runs of four cells of half a metre, in rooms at 20 and 18 °C."""
    count, cells = len(direction), 2 * CELLS
    return ChannelRuns(
        start=np.array([0, CELLS, cells]),
        length_m=np.full(cells, 0.5),
        emission_w_mkn=np.full((count, cells), 0.5),
        exponent=np.full(cells, 1.3),
        link_w_mk=np.full((count - 1, cells), 4.0),
        room_c=np.repeat([20.0, 18.0], CELLS),
        direction=direction,
        film_mk_w=np.full((count, cells), 0.05) if film else None,
    )


def capacity(direction: tuple[int, ...], w_k: float = 60.0) -> np.ndarray:
    """As much water goes out as comes back."""
    out, back = (sum(d == sign for d in direction) for sign in (1, -1))
    each = [w_k / out if d > 0 else w_k / back for d in direction]
    return np.repeat(np.array(each)[:, None], 2 * CELLS, axis=1)


@pytest.mark.parametrize("direction", [(1,), (1, -1), (1, 1), (1, 1, -1), (1, -1, -1), (1, 1, -1, -1)])
def test_newtons_method_doubles_its_digits(direction: tuple[int, ...]) -> None:
    """Also where out-going channels mix at the far end: five or six full steps reach rounding."""
    solver = ChannelNewtonSolver(runs(direction), capacity(direction), INLET_C)
    moved = [solver.step() for _ in range(8)]
    assert moved[5] < 1e-8
    found = solver.result()
    assert found.residual_k < 1e-9
    assert found.balances(1e-6)
    assert (found.temp_c[0, [0, CELLS + 1]] == INLET_C).all()


@pytest.mark.parametrize("direction", [(1,), (1, -1)])
def test_walls_behind_a_film_are_cooler_than_the_water_and_stand_at_every_node(direction: tuple[int, ...]) -> None:
    film = np.full((len(direction), 2 * CELLS), 0.05)
    solver = ChannelNewtonSolver(runs(direction), capacity(direction), INLET_C, film_mk_w=film)
    for _ in range(12):
        solver.step()
    found = solver.result()
    count, cells = len(direction), 2 * CELLS
    assert found.wall_ends_c.shape == (count, 2, cells)
    assert found.surface_c.shape == found.temp_c.shape == (count, cells + 2)
    assert (found.surface_c < found.temp_c - 0.5).all()
    left = found.runs.left_node
    assert found.surface_c[:, left + 1] == pytest.approx(found.wall_ends_c[:, 1])
    firsts = left[[0, CELLS]]
    assert found.surface_c[:, firsts] == pytest.approx(found.wall_ends_c[:, 0][:, [0, CELLS]])
    bare = ChannelNewtonSolver(runs(direction), capacity(direction), INLET_C)
    for _ in range(12):
        bare.step()
    without = bare.result()
    assert without.given_w.sum() > 1.01 * found.given_w.sum()
    assert without.surface_c == pytest.approx(without.temp_c)


def solution(cells: int, emitted_w: float = 10.0, runs_of: int = 2) -> SimpleNamespace:
    """Runs of so many cells, every cell of two channels giving 5 W each."""
    start = np.arange(runs_of + 1) * cells
    return SimpleNamespace(runs=SimpleNamespace(start=start), emitted_w=np.full((2, runs_of * cells), emitted_w / 2.0))


@pytest.mark.parametrize("cells", [4, 8, 20])
def test_cells_that_are_off_by_half_their_part_of_the_accuracy_are_divided_in_four(cells: int) -> None:
    """Of a run whose sum of errors is beyond the accuracy; a run may spread it over eight cells at most."""
    whole_w = 10.0 * cells
    limit_w = 0.5 * ACCURACY * whole_w / min(cells, 8)
    errors = np.zeros(2 * cells)
    errors[0] = 1.01 * ACCURACY * whole_w
    errors[1], errors[2] = 1.01 * limit_w, 0.99 * limit_w
    errors[cells] = 1.01 * limit_w  # of the other run, which is accurate as a whole
    channels = solution(cells)
    check_w = channels.emitted_w.sum(axis=0) + errors
    parts = refinement_needed(channels, check_w)  # type: ignore[arg-type]
    assert parts is not None
    expected = np.ones(2 * cells, int)
    expected[[0, 1, cells]] = 4
    assert parts.tolist() == expected.tolist()


def test_runs_within_the_accuracy_are_left_as_they_are() -> None:
    channels = solution(8)
    for share, divided in ((0.99, False), (1.01, True)):
        errors = np.zeros(16)
        errors[8:] = share * ACCURACY * 80.0 / 8.0 * np.array([1, -1, 1, -1, 1, -1, 1, -1])
        found = refinement_needed(channels, channels.emitted_w.sum(axis=0) - errors)  # type: ignore[arg-type]
        assert (found is not None) is divided


def test_the_film_of_a_run_is_that_of_its_cells() -> None:
    film = replace(runs((1,)), film_mk_w=np.full((1, 2 * CELLS), 0.05))
    assert film.some(1, 2).film_mk_w is not None
    assert film.some(1, 2).room_c.tolist() == [18.0] * CELLS


def test_what_is_left_to_move_shrinks_as_the_last_step_did():
    runs = ChannelRuns(
        start=np.array([0, 1]),
        length_m=np.array([5.0]),
        emission_w_mkn=np.array([[2.0]]),
        exponent=np.array([1.3]),
        link_w_mk=np.zeros((0, 1)),
        room_c=np.array([20.0]),
        direction=(1,),
    )
    iteration = ChannelNewtonSolver(runs, np.array([[100.0]]), np.array([60.0]))
    assert iteration.step() == np.inf
    assert iteration.step() < 1.0
    assert iteration.iterations == 2
    iteration.moved_k, iteration.moved_before_k = 1e-3, 1e-1
    assert iteration.left_k == pytest.approx(1e-5, rel=1e-12)
    iteration.moved_before_k = 1e-4  # it grew: no less is left than it has moved
    assert iteration.left_k == 1e-3
    iteration.moved_before_k = np.inf
    assert iteration.left_k == 1e-3


def test_a_linear_run_with_loss_against_its_closed_form():
    """Exponent 1: the outlet is an exponential in K + l, and the loss takes its share l / (K + l)."""
    k, loss, length, capacity = 1.2, 0.3, 8.0, 60.0
    run = ChannelRuns(
        start=np.array([0, 1]),
        length_m=np.array([length]),
        emission_w_mkn=np.array([[k]]),
        exponent=np.array([1.0]),
        link_w_mk=np.zeros((0, 1)),
        room_c=np.array([20.0]),
        direction=(1,),
        loss_w_mk=np.array([[loss]]),
    )
    inlet = np.array([50.0])
    fine, parts = subdivide(run, np.full((1, 1), capacity), inlet)
    solved = solve_channels(fine, np.full((1, int(parts.sum())), capacity), inlet)
    excess = 30.0 * np.exp(-(k + loss) * length / capacity)
    assert solved.return_c[0, 0] == pytest.approx(20.0 + excess, abs=1e-9)
    given = capacity * (30.0 - excess)
    assert solved.emitted_w.sum() == pytest.approx(given, rel=1e-10)
    assert solved.lost_w.sum() == pytest.approx(given * loss / (k + loss), rel=1e-9)
    assert emission_check_w(solved)[0] == pytest.approx(given, rel=1e-9)
