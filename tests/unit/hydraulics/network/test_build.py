"""Where water climbs: up the flow tail to the first room and down again at the very end of the return tail."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.hydraulics.network.build import Levels, build_network
from tests.helpers.dwelling import loop_path


@pytest.mark.parametrize("valves", [1, 2, 3])
def test_water_climbs_in_the_first_element_of_a_loop_and_falls_in_its_last(valves: int) -> None:
    path = loop_path("upstairs", None, 1.0)
    valve, tail = path.tail_return
    path = replace(path, tail_return=(*(replace(valve) for _ in range(valves)), tail))
    network = build_network([path], levels=Levels({"room": 5.0}))
    own = [i for i, place in enumerate(network.locations) if place.loop == 0]
    expected = [5.0, *[0.0] * (len(own) - 2), -5.0]
    assert network.rise_m[own].tolist() == expected
