"""Channels of exponent 1, whose temperatures are a matrix exponential; grids of thin layers; runs in batches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import expm

from heatloop.physics.channels.grid import MAX_EVEN_PARTS, ChannelRuns, refine, subdivide
from heatloop.physics.channels.newton import ChannelNewtonSolver
from heatloop.physics.channels.solver import solve_channels

DIRECTIONS = [(1,), (1, -1), (1, 1), (1, 1, -1), (1, -1, -1), (1, 1, -1, -1)]
ROOM_C = 20.0


def linear_run(direction: tuple[int, ...], length_m: float = 4.0, cells: int = 1, film: bool = False) -> ChannelRuns:
    """One run of exponent 1 whose channels all differ, with heat lost downwards."""
    ones, numbers = np.ones(cells), np.arange(len(direction))
    return ChannelRuns(
        start=np.array([0, cells]),
        length_m=ones * length_m / cells,
        emission_w_mkn=np.outer(1.5 + 0.3 * numbers, ones),
        exponent=ones,
        link_w_mk=np.outer(2.0 + 0.5 * numbers[:-1], ones),
        room_c=ones * ROOM_C,
        direction=direction,
        film_mk_w=np.outer(0.05 + 0.01 * numbers, ones) if film else None,
        loss_w_mk=np.outer(0.2 + 0.1 * numbers, ones),
    )


def flows_w_k(direction: tuple[int, ...], total_w_k: float) -> np.ndarray:
    """Unequal flows (C); as much comes back as goes out."""
    signs = np.array(direction)
    shares = 1.0 + 0.5 * np.arange(signs.size)
    return np.array([total_w_k * shares[i] / shares[signs == sign].sum() for i, sign in enumerate(direction)])


def exact_excess_k(run: ChannelRuns, flow_w_k: np.ndarray, inlet_excess_k: float) -> np.ndarray:
    """Excess of the water at both ends and of the wall along the length, in K and K m (3, C).

    The linear equations integrated by the matrix exponential.
    """
    signs = np.array(run.direction)
    out, back, count = np.flatnonzero(signs > 0), np.flatnonzero(signs < 0), signs.size
    conduction, film = np.diag(run.emission_w_mkn[:, 0] + run.loss_w_mk[:, 0]), np.zeros((count, count))  # type: ignore[index]
    for i, link in enumerate(run.link_w_mk[:, 0]):
        conduction[i : i + 2, i : i + 2] += link * np.array([[1.0, -1.0], [-1.0, 1.0]])
    if run.film_mk_w is not None:
        film = np.diag(run.film_mk_w[:, 0])
        conduction = np.linalg.solve(np.eye(count) + conduction @ film, conduction)
    along = expm(-conduction * (signs / flow_w_k)[:, None] * run.length_m.sum())
    mixing = np.zeros((back.size, count))
    mixing[:, out] = flow_w_k[out] / flow_w_k[out].sum()
    conditions = np.zeros((count, count))
    conditions[range(out.size), out] = 1.0
    conditions[out.size :] = along[back] - mixing @ along
    near = np.linalg.solve(conditions, np.where(np.arange(count) < out.size, inlet_excess_k, 0.0))
    far = along @ near
    water_km = np.linalg.solve(conduction, signs * flow_w_k * (near - far))
    return np.array([near, far, water_km - film @ conduction @ water_km])


@pytest.mark.parametrize("film", [False, True], ids=["bare", "film"])
@pytest.mark.parametrize("direction", DIRECTIONS)
def test_linear_channels_against_the_matrix_exponential(direction: tuple[int, ...], film: bool) -> None:
    """Both ends of every channel: inlets, mixture at the far end, returns; heat given, emitted and lost."""
    run, flow = linear_run(direction, film=film), flows_w_k(direction, 30.0)
    fine, parts = subdivide(run, flow[:, None], np.array([60.0]))
    solved = solve_channels(fine, np.repeat(flow[:, None], parts.sum(), axis=1), np.array([60.0]))
    near, far, wall_km = exact_excess_k(run, flow, 40.0)
    assert solved.temp_c[:, 0] - ROOM_C == pytest.approx(near, abs=1e-8)
    assert solved.temp_c[:, -1] - ROOM_C == pytest.approx(far, abs=1e-8)
    signs = np.array(direction)
    assert solved.return_c[:, 0] - ROOM_C == pytest.approx(np.where(signs > 0, far, near), abs=1e-8)
    assert solved.given_w.sum(axis=1) == pytest.approx(signs * flow * (near - far), abs=1e-6)
    assert solved.emitted_w.sum() == pytest.approx(solved.given_w.sum(), rel=1e-12)
    assert run.loss_w_mk is not None
    assert solved.lost_w.sum(axis=1) == pytest.approx(run.loss_w_mk[:, 0] * wall_km, rel=1e-8)


@pytest.mark.parametrize("film", [False, True], ids=["bare", "film"])
@pytest.mark.parametrize("cells", [1, 40], ids=["one long cell", "short cells"])
@pytest.mark.parametrize("direction", DIRECTIONS)
def test_linear_channels_are_solved_by_one_step_from_any_temperatures(
    direction: tuple[int, ...], cells: int, film: bool
) -> None:
    """Newton's method on linear equations, if its derivatives are the right ones; a long cell cools by a third."""
    run, flow = linear_run(direction, cells=cells, film=film), flows_w_k(direction, 20.0)
    guess = np.random.default_rng(cells).uniform(35.0, 45.0, (len(direction), cells + 1))
    solver = ChannelNewtonSolver(run, np.repeat(flow[:, None], cells, axis=1), np.array([60.0]), guess)
    assert solver.step() > 1.0
    found = solver.result()
    assert found.residual_k < 1e-10
    near, far, _ = exact_excess_k(run, flow, 40.0)
    accuracy = 1e-7 if cells > 1 else 0.02
    ends_k = found.temp_c[:, [0, -1]].T - ROOM_C
    assert ends_k == pytest.approx(np.array([near, far]), abs=accuracy)


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_other_inlets_later_are_as_if_the_solver_had_begun_with_them(direction: tuple[int, ...]) -> None:
    run, flow = linear_run(direction, cells=20), flows_w_k(direction, 30.0)
    solver = ChannelNewtonSolver(run, np.repeat(flow[:, None], 20, axis=1), np.array([60.0]))
    for inlet_c in (60.0, 45.0):
        solver.set_inlet(np.array([inlet_c]))
        for _ in range(4):
            solver.step()
        near, far, _ = exact_excess_k(run, flow, inlet_c - ROOM_C)
        assert solver.temp[:, 0] - ROOM_C == pytest.approx(near, abs=1e-6)
        assert solver.temp[:, -1] - ROOM_C == pytest.approx(far, abs=1e-6)
    mixes = sum(d > 0 for d in direction) > 1 and -1 in direction
    assert solver.mixes is mixes
    if -1 in direction:
        out, returning = solver.far_end_c
        assert out[:, 0] - ROOM_C == pytest.approx(far[np.array(direction) > 0], abs=1e-6)
        assert returning[0] - ROOM_C == pytest.approx(far[-1], abs=1e-6)


def test_the_mixture_at_the_far_end_follows_the_capacities_that_are_given_for_it() -> None:
    """Three parts of the first channel's water and one of the second's."""
    run, flow = linear_run((1, 1, -1), cells=20), np.repeat(flows_w_k((1, 1, -1), 30.0)[:, None], 20, axis=1)
    solver = ChannelNewtonSolver(run, flow, np.array([60.0]))
    solver.change(flow, far_end_w_k=np.array([[6.0], [2.0]]))
    for _ in range(4):
        solver.step()
    out, returning = solver.far_end_c
    assert out[0, 0] - out[1, 0] > 0.1 or out[1, 0] - out[0, 0] > 0.1
    assert returning[0] == pytest.approx(0.75 * out[0, 0] + 0.25 * out[1, 0], abs=1e-9)


@pytest.mark.parametrize("guessed", [False, True], ids=["afresh", "from an earlier solution"])
def test_thousands_of_cells_solved_in_batches_are_each_an_exponential(guessed: bool) -> None:
    """1500 runs of one to five cells, each of its own length, room, flow and inlet: outlet by hand."""
    rng = np.random.default_rng(3)
    counts = rng.integers(1, 6, 1500)
    start = np.concatenate([[0], np.cumsum(counts)])
    of_cell = np.repeat(np.arange(1500), counts)
    length_m, room_c, inlet_c = (
        rng.uniform(0.5, 2.0, 1500),
        rng.uniform(15.0, 24.0, 1500),
        rng.uniform(40.0, 70.0, 1500),
    )
    flow, k, loss = rng.uniform(50.0, 90.0, 1500), 1.4, 0.2
    runs = ChannelRuns(
        start=start,
        length_m=(length_m / counts)[of_cell],
        emission_w_mkn=np.full((1, of_cell.size), k),
        exponent=np.ones(of_cell.size),
        link_w_mk=np.zeros((0, of_cell.size)),
        room_c=room_c[of_cell],
        direction=(1,),
        film_mk_w=np.full((1, of_cell.size), 0.04),
        loss_w_mk=np.full((1, of_cell.size), loss),
    )
    assert of_cell.size > 4000
    guess = np.repeat(inlet_c, counts + 1)[None] if guessed else None
    solved = solve_channels(runs, flow[None, of_cell], inlet_c, guess)
    through = (k + loss) / (1.0 + 0.04 * (k + loss))
    excess_k = (inlet_c - room_c) * np.exp(-through * length_m / flow)
    assert solved.return_c[0] - room_c == pytest.approx(excess_k, abs=1e-7)
    assert np.add.reduceat(solved.emitted_w[0], start[:-1]) == pytest.approx(flow * (inlet_c - room_c - excess_k))
    assert solved.lost_w.sum() == pytest.approx(solved.emitted_w.sum() * loss / (k + loss))
    assert solved.balances(1e-9)


def test_some_of_the_runs_keep_their_own_cells() -> None:
    """The second and third of three runs, of two, three and four cells."""
    whole = linear_run((1, -1), cells=9, film=True)
    whole = replace(whole, start=np.array([0, 2, 5, 9]), room_c=np.arange(9.0))
    found = whole.some(1, 3)
    assert found.start.tolist() == [0, 3, 7]
    assert found.room_c.tolist() == [2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
    assert found.run_of_cell.tolist() == [0, 0, 0, 1, 1, 1, 1]
    assert found.emission_w_mkn.shape == found.film_mk_w.shape == (2, 7)  # type: ignore[union-attr]


def test_water_as_warm_as_the_room_gives_nothing_and_that_balances() -> None:
    run = linear_run((1, -1), cells=4)
    solved = solve_channels(run, np.full((2, 4), 30.0), np.array([ROOM_C]))
    assert np.abs(solved.emitted_w).max() == 0.0
    assert solved.balances(1e-9)
    assert solved.balances(0.0)


@pytest.mark.parametrize("even", np.geomspace(1.01 * MAX_EVEN_PARTS, 200.0 * MAX_EVEN_PARTS, 24))
def test_a_long_cell_has_thin_parts_at_its_ends_and_the_fewest_between_that_grow_by_15_per_cent(even: float) -> None:
    """140 parts of the even length at each end; from there to the middle none is longer than 1.15 times the last."""
    run = replace(linear_run((1,), length_m=3.0), loss_w_mk=None)
    flow = 1.5 * 3.0 / 0.18 / even  # eigenvalue times length over the cell number is the number of even parts
    fine, parts = subdivide(run, np.full((1, 1), flow), np.array([60.0]))
    lengths = fine.length_m
    assert parts.tolist() == [lengths.size]
    assert lengths.sum() == pytest.approx(3.0, rel=1e-12)
    assert lengths == pytest.approx(lengths[::-1], rel=1e-12)
    assert lengths[:140] == pytest.approx(np.full(140, 3.0 / even), rel=1e-9)
    growing = lengths[140 : lengths.size // 2]
    assert lengths.size == 2 * (140 + growing.size)
    assert growing[1:] / growing[:-1] == pytest.approx(np.full(growing.size - 1, 1.15))
    assert growing[0] <= lengths[0] * (1.0 + 1e-9)
    one_fewer = (growing.sum() / (1.15 ** np.arange(growing.size - 1)).sum()) if growing.size > 1 else np.inf
    assert one_fewer > lengths[0]


def test_cells_are_divided_as_asked_and_only_those() -> None:
    run = replace(linear_run((1, -1), length_m=3.0, cells=3), room_c=np.array([18.0, 19.0, 20.0]))
    found = refine(run, np.array([1, 3, 2]))
    assert found.start.tolist() == [0, 6]
    assert found.length_m == pytest.approx([1.0, *[1.0 / 3.0] * 3, 0.5, 0.5])
    assert found.room_c.tolist() == [18.0, 19.0, 19.0, 19.0, 20.0, 20.0]
    assert found.loss_w_mk is not None
    assert found.loss_w_mk.shape == (2, 6)
    assert refine(run, np.ones(3, int)).length_m.tolist() == run.length_m.tolist()


@pytest.mark.parametrize(
    ("length_m", "flow_w_k", "exponent", "share"),
    [(2.0, 60.0, 1.3, 0.001), (10.0, 30.0, 1.3, 0.01), (10.0, 60.0, 1.5, 0.015), (6.0, 20.0, 1.2, 0.005)],
)
def test_the_first_step_is_near_the_closed_form_of_a_curved_run(
    length_m: float, flow_w_k: float, exponent: float, share: float
) -> None:
    """Linearised about the mean water: off by a small share of the drop even where the water cools by half."""
    run = replace(
        linear_run((1,), length_m, cells=20),
        emission_w_mkn=np.ones((1, 20)),
        exponent=np.full(20, exponent),
        loss_w_mk=None,
    )
    solver = ChannelNewtonSolver(run, np.full((1, 20), flow_w_k), np.array([60.0]))
    solver.step()
    power = 1.0 - exponent
    outlet_c = ROOM_C + (40.0**power - power * length_m / flow_w_k) ** (1.0 / power)
    assert solver.temp[0, -1] == pytest.approx(outlet_c, abs=share * (60.0 - outlet_c))
    for _ in range(4):
        solver.step()
    assert solver.temp[0, -1] == pytest.approx(outlet_c, abs=1e-7)
