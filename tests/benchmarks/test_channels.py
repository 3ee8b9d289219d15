"""There-and-back loops against the one-way closed form, as a ratio in one run.

A thousand loops of twenty pieces: divided into cells and solved by Newton's method, against the same pieces one-way
by their closed form, all loops at once, piece after piece.
"""

import numpy as np

from heatloop.physics.channels.accuracy import emission_check_w
from heatloop.physics.channels.grid import ChannelRuns, subdivide
from heatloop.physics.channels.solver import solve_channels
from heatloop.physics.emitters import one_way_outlet_excess_k
from tests.benchmarks.timing import min_s

LOOPS, PIECES = 1000, 20
K_W_MKN, EXPONENT, LINK_W_MK = 150.0 / 50.0**1.28, 1.28, 5.0
MAX_RATIO = 60.0


def drawn():
    """Lengths (loops, pieces), rooms alike, flow temperatures and heat capacity rates (loops) of ordinary loops."""
    chance = np.random.default_rng(7)
    length_m = chance.uniform(0.3, 2.0, (LOOPS, PIECES))
    room_c = 18.0 + chance.integers(0, 5, (LOOPS, PIECES))
    inlet_c = chance.uniform(40.0, 60.0, LOOPS)
    capacity_w_k = chance.uniform(0.02, 0.05, LOOPS) * 4180.0
    return length_m, room_c, inlet_c, capacity_w_k


def one_way(length_m, room_c, inlet_c, capacity_w_k):
    water_c = inlet_c
    for piece in range(PIECES):
        room = room_c[:, piece]
        excess = one_way_outlet_excess_k(water_c - room, K_W_MKN, EXPONENT, length_m[:, piece], capacity_w_k)
        water_c = room + excess
    return water_c


def there_and_back(length_m, room_c, inlet_c, capacity_w_k):
    cells = length_m.size
    runs = ChannelRuns(
        start=np.arange(LOOPS + 1) * PIECES,
        length_m=length_m.ravel(),
        emission_w_mkn=np.full((2, cells), K_W_MKN / 2.0),
        exponent=np.full(cells, EXPONENT),
        link_w_mk=np.full((1, cells), LINK_W_MK),
        room_c=room_c.ravel(),
        direction=(1, -1),
    )
    capacity = np.tile(np.repeat(capacity_w_k, PIECES), (2, 1))
    fine, parts = subdivide(runs, capacity, inlet_c)
    return solve_channels(fine, np.repeat(capacity, parts, axis=1), inlet_c)


def test_there_and_back_against_the_closed_form_one_way():
    given = drawn()
    solved = there_and_back(*given)
    mine, closed = min_s(8, (lambda: there_and_back(*given), 3), (lambda: one_way(*given), 10))
    print(
        f"\nthere-and-back {mine / LOOPS * 1e6:.0f} us a loop of {PIECES} pieces, one-way closed form "
        f"{closed / LOOPS * 1e6:.1f} us, ratio {mine / closed:.0f}"
    )
    starts = solved.runs.start[:-1]
    emitted = np.add.reduceat(solved.emitted_w.sum(axis=0), starts)
    assert np.allclose(emission_check_w(solved), emitted, rtol=1e-9)
    assert np.allclose(np.add.reduceat(solved.given_w.sum(axis=0), starts), emitted, rtol=1e-9)
    assert mine <= MAX_RATIO * closed
