"""Channel temperatures against scipy's boundary-value solver, on random runs.

Same equations, another method: `solve_bvp` (fourth-order collocation, adaptive mesh) works room by room on
a stretched coordinate, one after the other joined by continuity. Our walls with a film are solved inside.
"""

import os

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from heatloop.physics.channels.accuracy import emission_check_w, solve_accurately
from heatloop.physics.channels.grid import ChannelRuns
from tests.helpers.agreement import assert_agrees

EXAMPLES = int(os.environ.get("HEATLOOP_EXAMPLES", "30"))


def anything(minimum, maximum, *besides):
    """Any number of a range, and oftener the values that are special."""
    return st.one_of(st.floats(minimum, maximum), st.sampled_from(besides)) if besides else st.floats(minimum, maximum)


@st.composite
def there_and_back(draw):
    """One to eight rooms of 0.2 to 40 m, at any flow, link, film and exponent; some rooms warmer than the water."""
    rooms = draw(st.integers(1, 8))
    warmth = anything(5.0, 26.0)
    inlet_c = draw(st.floats(15.0, 75.0))
    return {
        "length_m": np.array([draw(st.floats(0.2, 40.0)) for _ in range(rooms)]),
        "room_c": np.array([draw(warmth) for _ in range(rooms)]),
        "k": draw(st.floats(0.5, 2.5)),
        "exponent": draw(anything(1.0, 1.5, 1.0, 1.28)),
        "link": draw(anything(0.0, 50.0, 0.0, 5.0)),
        "film": draw(anything(5.0, 500.0, np.inf, 8.7)),
        "flow": draw(st.floats(0.005, 0.2)),
        "inlet_c": inlet_c,
    }


def ours(case):
    cells = case["length_m"].size
    runs = ChannelRuns(
        start=np.array([0, cells]),
        length_m=case["length_m"],
        emission_w_mkn=np.full((2, cells), case["k"] / 2),
        exponent=np.full(cells, case["exponent"]),
        link_w_mk=np.full((1, cells), case["link"]),
        room_c=case["room_c"],
        direction=(1, -1),
        film_mk_w=None if np.isinf(case["film"]) else np.full((2, cells), 1.0 / case["film"]),
    )
    capacity, inlet = np.full((2, cells), case["flow"] * 4180.0), np.array([case["inlet_c"]])
    return solve_accurately(runs, capacity, inlet)[0]


def walls(case, water, room_c):
    """Wall temperatures by Newton's method, channel by channel pair, for (2, P) water temperatures."""
    if np.isinf(case["film"]):
        return water
    wall, g, w, s, n = water.copy(), case["film"], case["link"], case["k"] / 2, case["exponent"]
    for _ in range(60):
        excess = wall - room_c
        gives = s * np.sign(excess) * np.abs(excess) ** n
        slope = s * n * np.abs(excess) ** (n - 1)
        cross = w * (wall - wall[::-1])
        miss = g * (water - wall) - gives - cross
        a, b = g + slope + w, w
        det = a[0] * a[1] - b * b
        step = np.array([(a[1] * miss[0] + b * miss[1]) / det, (a[0] * miss[1] + b * miss[0]) / det])
        wall = wall + step
        if np.abs(step).max() < 1e-13:
            break
    return wall


def reference(case):
    """Out and home channel of every room as 2 x rooms unknowns on [0, 1]."""
    rooms, capacity = case["length_m"].size, case["flow"] * 4180.0
    s, n, w = case["k"] / 2, case["exponent"], case["link"]

    def slope(_x, y):
        out = np.empty_like(y)
        for r in range(rooms):
            water = y[2 * r : 2 * r + 2]
            wall = walls(case, water, case["room_c"][r])
            excess = wall - case["room_c"][r]
            heat = s * np.sign(excess) * np.abs(excess) ** n + w * (wall - wall[::-1])
            out[2 * r] = -heat[0] * case["length_m"][r] / capacity
            out[2 * r + 1] = heat[1] * case["length_m"][r] / capacity
        return out

    def ends(a, b):
        joined = [b[2 * r + c] - a[2 * r + 2 + c] for r in range(rooms - 1) for c in (0, 1)]
        return np.array([a[0] - case["inlet_c"], b[-2] - b[-1], *joined])

    x = np.linspace(0, 1, 41)
    guess = np.full((2 * rooms, x.size), case["inlet_c"])
    return solve_bvp(slope, ends, x, guess, tol=3e-8, bc_tol=1e-11, max_nodes=20_000)


def closes(mine, case):
    """Energy two ways and the inlet, each to 1e-9: of the heat where above a milliwatt, and of the span of temperatures
    where above 1 K."""
    total = max(np.abs(mine.emitted_w).sum(), 1e-3)
    assert abs(mine.given_w.sum() - mine.emitted_w.sum()) <= 1e-9 * total
    assert abs(emission_check_w(mine)[0] - mine.emitted_w.sum()) <= 1e-9 * total
    assert mine.temp_c[0, 0] == pytest.approx(case["inlet_c"], rel=1e-12)
    assert mine.residual_k <= 1e-9 * max(np.ptp(mine.temp_c), 1.0)


@settings(max_examples=EXAMPLES, deadline=None, derandomize=True)
@given(there_and_back())
def test_random_there_and_back_runs(case):
    mine, peer = ours(case), reference(case)
    assert peer.status == 0, peer.message
    assert_agrees("solve_bvp", "channels: far end", abs(mine.temp_c[0, -1] - peer.y[-2, -1]), 1e-6, "K")
    assert_agrees("solve_bvp", "channels: return", abs(mine.return_c[1, 0] - peer.y[1, 0]), 1e-6, "K")
    closes(mine, case)


@pytest.mark.parametrize(
    "case",
    [
        pytest.param({"flow": 0.001, "link": 50.0}, id="tiny flow, strong link"),
        pytest.param({"inlet_c": 21.0, "room_c": np.array([21.0, 21.0])}, id="equal temperatures"),
        pytest.param({"room_c": np.array([18.0, 45.0])}, id="room warmer than the water's end"),
        pytest.param({"room_c": np.array([45.0, 50.0])}, id="all rooms warmer than the water"),
        pytest.param({"room_c": np.array([35.0, 5.0]), "exponent": 1.0}, id="warm room, linear"),
        pytest.param({"exponent": 1.0, "film": 8.7}, id="linear, with film"),
        pytest.param({"length_m": np.array([0.2, 0.2]), "flow": 0.2}, id="short and quick"),
    ],
)
def test_corners_of_the_range(case):
    base = {
        "length_m": np.array([12.0, 8.0]), "room_c": np.array([20.0, 18.0]), "k": 1.0, "exponent": 1.28,
        "link": 5.0, "film": np.inf, "flow": 0.02, "inlet_c": 40.0,
    }  # fmt: skip
    case = base | case
    mine, peer = ours(case), reference(case)
    assert peer.status == 0
    assert_agrees("solve_bvp", "channels: return", abs(mine.return_c[1, 0] - peer.y[1, 0]), 1e-6, "K")
    closes(mine, case)
