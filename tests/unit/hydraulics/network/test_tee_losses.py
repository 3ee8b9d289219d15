"""What a tee takes: three branches in a row by the library, a shut branch, a branch no wider than its trunk."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.fittings import (
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
)

from heatloop.hydraulics.network.tee_losses import MIN_KG_S, Tee, TeeBranch, tee_drops_pa


@pytest.mark.parametrize("dividing", [True, False])
def test_three_branches_in_a_row_by_the_library(dividing: bool) -> None:
    """Straight on at the first and the second, and to the side where each leaves, by the velocity before it."""
    run, side = (
        (K_run_diverging_Crane, K_branch_diverging_Crane)
        if dividing
        else (K_run_converging_Crane, K_branch_converging_Crane)
    )
    density, bore_m, bores = 990.0, 0.0262, (0.0136, 0.0202, 0.0202)
    flows = np.array([0.03, 0.05, 0.04])
    tee = Tee(bore_m, dividing, tuple(TeeBranch(i, i, bore) for i, bore in enumerate(bores)))
    drops = tee_drops_pa((tee,), flows[:, None], np.full((3, 1), density))[:, 0]
    area = np.pi * bore_m**2 / 4.0
    dynamic = [0.5 * flows[i:].sum() ** 2 / (density * area**2) for i in range(2)]
    volume = flows / density
    first = (bore_m, bores[0], volume[1:].sum(), volume[0])
    second = (bore_m, bores[1], volume[2], volume[1])
    straight = run(*first) * dynamic[0]
    assert drops[0] == pytest.approx(side(*first) * dynamic[0], rel=1e-12)
    assert drops[1] == pytest.approx(straight + side(*second) * dynamic[1], rel=1e-12)
    assert drops[2] == pytest.approx(straight + run(*second) * dynamic[1], rel=1e-12)


def test_a_shut_branch_takes_nothing_and_lets_the_others_pass() -> None:
    tee = Tee(0.0262, True, (TeeBranch(0, 0, 0.0136), TeeBranch(1, 1, 0.0136), TeeBranch(2, 2, 0.0136)))
    density = np.full((3, 1), 990.0)
    shut = tee_drops_pa((tee,), np.array([[0.5 * MIN_KG_S], [0.03], [0.04]]), density)[:, 0]
    pair = Tee(0.0262, True, tee.branches[1:])
    alone = tee_drops_pa((pair,), np.array([[0.0], [0.03], [0.04]]), density)[:, 0]
    assert shut[0] == 0.0
    assert shut[1:] == pytest.approx(alone[1:], rel=1e-6)
    backwards = tee_drops_pa((tee,), np.array([[-0.02], [0.03], [0.04]]), density)[:, 0]
    assert backwards == pytest.approx(tee_drops_pa((tee,), np.array([[0.0], [0.03], [0.04]]), density)[:, 0])


def test_a_branch_is_no_wider_than_its_trunk() -> None:
    density = np.full((2, 1), 990.0)
    flows = np.array([[0.03], [0.04]])
    wide = Tee(0.0202, True, (TeeBranch(0, 0, 0.0262), TeeBranch(1, 1, 0.0202)))
    equal = Tee(0.0202, True, (TeeBranch(0, 0, 0.0202), TeeBranch(1, 1, 0.0202)))
    assert tee_drops_pa((wide,), flows, density) == pytest.approx(tee_drops_pa((equal,), flows, density), rel=1e-12)
