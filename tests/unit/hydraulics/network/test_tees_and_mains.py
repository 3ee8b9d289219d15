"""Where water divides: which trunks have tees, where they branch from, and what a tee takes."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.fittings import (
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
)

from heatloop.hydraulics.network.shared_pipework import build_shared_pipework, from_source_outwards
from heatloop.hydraulics.network.tee_losses import MIN_KG_S, Tee, TeeBranch, tee_drops_pa
from heatloop.survey.water_system import Bypass, Trunk
from tests.helpers.dwelling import PIPES

ONE = Trunk("one", "trunk 28", 5.0)
TWO = Trunk("two", "trunk 22", 10.0, from_trunk="one")
THREE = Trunk("three", "trunk 22", 8.0, from_trunk="two")


@pytest.mark.parametrize(
    ("trunks", "hanging", "sides"),
    [
        ((ONE,), ("one",), {}),
        ((ONE,), ("one", "one"), {"one": ("flow", "return")}),
        ((ONE, TWO), ("two",), {}),
        ((ONE, TWO), ("one", "two"), {"one": ("flow", "return")}),
        ((ONE, TWO, THREE), ("three", "two", "three"), {"two": ("flow", "return"), "three": ("flow", "return")}),
        ((ONE,), (None, None, "one"), {}),
    ],
)
def test_tees_are_where_water_divides(
    trunks: tuple[Trunk, ...], hanging: tuple[str | None, ...], sides: dict[str, tuple[str, ...]]
) -> None:
    assert build_shared_pipework(trunks, PIPES, hanging).branching() == sides


def test_a_bypass_is_a_branch_too() -> None:
    assert build_shared_pipework((ONE,), PIPES, ("one",), [Bypass("b", 0.4, "one")]).branching() == {
        "one": ("flow", "return")
    }


def test_water_that_comes_back_another_way_has_tees_on_the_flow_alone() -> None:
    turned = Trunk("two", "trunk 22", 10.0, from_trunk="one", reverse_return=True)
    found = build_shared_pipework((ONE, turned), PIPES, ("one", "two")).branching()
    assert found["one"] == ("flow",)


def test_trunks_branch_from_those_before_them() -> None:
    mains = build_shared_pipework((THREE, ONE, TWO), PIPES, ("three", "one"))
    for number, link in enumerate(mains.links):
        name = link.element.label
        before = {"one": None, "two": "one", "three": "two"}[name]
        assert mains.leaves(number) == (before, "flow" if link.is_flow else "return")
    assert mains.bore_m("one") == pytest.approx(0.0262)
    assert mains.bore_m("three") == pytest.approx(0.0202)
    assert [trunk.name for trunk in from_source_outwards((THREE, TWO, ONE))] == ["one", "two", "three"]


def test_streams_pass_the_links_on_their_way() -> None:
    mains = build_shared_pipework((ONE, TWO), PIPES, ("one", "two", None))
    for link, row in zip(mains.links, mains.on_link, strict=True):
        assert row.tolist() == ([1, 1, 0] if link.element.label == "one" else [0, 1, 0])
    assert mains.of_circuit.tolist() == [[1, 1, 1]]
    assert mains.link_circuit.tolist() == [0, 0, 0, 0]


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
