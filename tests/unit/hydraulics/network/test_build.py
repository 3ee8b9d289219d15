"""Where water climbs: in the flow tail to the first room, from room to room, and down again at the very end."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from heatloop.hydraulics.model import ArmPath, PathElement
from heatloop.hydraulics.network.build import Levels, build_network
from tests.helpers.dwelling import loop_path

LEVELS = Levels({"cellar": -2.0, "hall": 1.0, "loft": 5.5}, source_m=0.5)


@pytest.mark.parametrize("valves", [1, 2, 3])
def test_water_climbs_in_the_first_element_of_a_loop_and_falls_in_its_last(valves: int) -> None:
    path = loop_path("upstairs", None, 1.0)
    valve, tail = path.tail_return
    path = replace(path, tail_return=(*(replace(valve) for _ in range(valves)), tail))
    network = build_network([path], levels=Levels({"room": 5.0}))
    own = [i for i, place in enumerate(network.locations) if place.loop == 0]
    expected = [5.0, *[0.0] * (len(own) - 2), -5.0]
    assert network.rise_m[own].tolist() == expected


def arm_through(rooms: tuple[str, ...], directions: tuple[int, ...]) -> ArmPath:
    """An arm of a piece a room, with an element for each channel there."""
    (arm,) = loop_path("loop", None, 1.0, pieces=len(rooms), one_way=-1 not in directions).arms

    def channel(number: int, sign: int) -> tuple[PathElement, ...]:
        like = arm.channels[0 if sign > 0 else -1]
        return tuple(
            replace(e, channel=number, room=rooms[min(e.node_in, e.node_out, len(rooms) - 1)])
            for e in like
            if e.kind in ("piece", "end")
        )

    channels = tuple(channel(number, sign) for number, sign in enumerate(directions, start=1))
    return replace(arm, directions=directions, ducts=(arm.ducts[0],) * len(directions), channels=channels)


@pytest.mark.parametrize("directions", [(1,), (1, -1), (1, 1), (1, 1, -1), (1, -1, -1), (1, 1, -1, -1)])
@pytest.mark.parametrize(
    "arms",
    [(("hall",),), (("hall", "loft", "cellar"),), (("hall", "loft"), ("hall", "cellar", "loft"))],
    ids=["one room", "three rooms", "two arms"],
)
def test_water_is_at_the_level_of_each_room_on_every_way_and_back_at_the_source_in_the_end(
    arms: tuple[tuple[str, ...], ...], directions: tuple[int, ...]
) -> None:
    plain = loop_path("loop", None, 1.0)
    path = replace(plain, arms=tuple(arm_through(rooms, directions) for rooms in arms))
    network = build_network([path], levels=LEVELS)
    rise = {id(place.element): float(network.rise_m[i]) for i, place in enumerate(network.locations)}
    for arm in path.arms:
        out = [c for c, sign in zip(arm.channels, directions, strict=True) if sign > 0]
        back = [c for c, sign in zip(arm.channels, directions, strict=True) if sign < 0] or [()]
        for there, home in product(out, back):
            level_m = LEVELS.source_m
            way = [*path.tail_flow, *there, *home, *path.tail_return]
            for element in way:
                level_m += rise[id(element)]
                last_of_arm = element is (*there, *home)[-1]
                if element.room and not (last_of_arm and arm is not path.arms[0]):  # arms meet where the first ends
                    assert level_m == pytest.approx(LEVELS.rooms_m[element.room])
            assert level_m == pytest.approx(LEVELS.source_m)


def test_valves_of_an_arm_stand_before_and_after_its_parallel_channels() -> None:
    plain = loop_path("loop", None, 1.0)
    before, after = replace(plain.tail_flow[1], arm=1), replace(plain.tail_return[0], arm=1)
    arm = replace(arm_through(("hall",), (1, 1, -1)), flow_valve=(before,), return_valve=(after,))
    network = build_network([loop_path("other", None, 1.0), replace(plain, arms=(arm,))])
    links = network.elements.link
    own = {id(p.element): (i, p) for i, p in enumerate(network.locations) if p.loop == 1}
    (first, at_first), (last, at_last) = own[id(before)], own[id(after)]
    assert {(at.loop, at.arm, at.main) for at in (at_first, at_last)} == {(1, 1, -1)}
    outward, beside, homeward = network.channel_link[1]
    start, end = network.graph.start, network.graph.end
    assert end[links[first]] == start[outward] == start[beside]
    assert end[homeward] == start[links[last]]
