"""Pipes between the pieces of a route and their allowances."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.layout.pipework import allowance_at_end_m, pipe_lays
from heatloop.survey.loops import (
    LoopEmitter,
    RouteCrossing,
    RouteWalls,
)
from heatloop.survey.water_system import Trunk
from tests.helpers.laid_room import CATALOGUE, laid


def test_a_pipe_without_an_allowance_has_150_mm_at_each_end() -> None:
    assert allowance_at_end_m(CATALOGUE.pipes[0]) == 0.15
    assert allowance_at_end_m(replace(CATALOGUE.pipes[0], allowance_m=0.0)) == 0.0
    survey, layout = laid(RouteWalls("Room", (1,)), RouteCrossing("copper 15", 1.0), RouteWalls("Room", (3,)))
    flow, back, crossing = pipe_lays(survey, layout)
    assert [(one.use, one.side, one.ends, one.end_m) for one in (flow, back)] == [
        ("tail", "flow", 1, 0.15),
        ("tail", "return", 1, 0.15),
    ]
    assert (crossing.pipes, crossing.ends, crossing.total_m) == (2, 2, 2.0)
    assert crossing.allowance_m == pytest.approx(0.3)
    assert crossing.total_allowance_m == pytest.approx(0.6)


def test_a_trunk_is_a_flow_and_a_return_pipe_that_meet_no_skirting() -> None:
    survey, layout = laid(RouteWalls("Room", (1,)))
    trunk, flow, back = pipe_lays(replace(survey, trunks=(Trunk("riser", "copper 15", 6.0),)), layout)
    assert (trunk.use, trunk.pipe, trunk.description) == ("trunk", "copper 15", "trunk riser, flow and return")
    assert (trunk.pipes, trunk.length_m, trunk.total_m) == (2, 6.0, 12.0)
    assert (trunk.ends, trunk.total_allowance_m) == (0, 0.0)
    assert [one.description for one in (flow, back)] == ["flow tail", "return tail"]


def test_tails_of_a_one_way_loop_end_where_its_run_begins_and_ends() -> None:
    """A crossing between flow tail and skirting: the flow tail meets no skirting, the crossing meets it once."""
    first, then = RouteCrossing("copper 15", 1.0), RouteWalls("Room", (1,))
    flow, back, crossing = pipe_lays(*laid(first, then, arrangement="one-way"))
    assert (flow.ends, back.ends, crossing.ends) == (0, 1, 1)
    flow, back, crossing = pipe_lays(*laid(then, first, arrangement="one-way"))
    assert (flow.ends, back.ends, crossing.ends) == (1, 0, 1)
    flow, back, crossing = pipe_lays(*laid(first, then))
    assert (flow.ends, back.ends, crossing.ends) == (0, 0, 1)
    assert [(one.pipes, one.length_m) for one in (flow, back, crossing)] == [(1, 2.0), (1, 2.0), (2, 1.0)]
    *_, before, after = pipe_lays(*laid(first, first, then, arrangement="one-way"))
    assert (before.ends, after.ends) == (0, 1)


def test_tails_of_a_loop_of_emitters_alone_meet_its_emitters() -> None:
    flow, back = pipe_lays(*laid(profile="", arms=(), emitters=(LoopEmitter("rail", "Room"),)))
    assert [(one.use, one.pipes, one.ends) for one in (flow, back)] == [("tail", 1, 1)] * 2
