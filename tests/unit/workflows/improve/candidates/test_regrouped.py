"""Loops arranged otherwise heat the same walls; lengths that are not known are stated as assumed."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.layout.build import build_layout
from heatloop.workflows.improve.candidates import regrouped
from heatloop.workflows.improve.candidates.routes import between_m, end_of, reversed_items, route_length_m
from heatloop.workflows.improve.remedy import with_remedies
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def draft():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


def heated_m(survey):
    return {room.room: room.heated_length_m for room in build_layout(survey).rooms}


@pytest.mark.parametrize("name", ["Living room", "Kitchen", "Hall and study", "Nursery and bathroom", "Bedrooms"])
def test_every_arrangement_keeps_the_skirting_of_each_room(draft, name):
    before = heated_m(draft)
    families = list(regrouped.regrouped(draft, draft.loop(name)))
    assert {family[0].kind for family in families} >= {"another trunk"}
    for (remedy,) in families:
        after = heated_m(with_remedies(draft, [remedy]))
        assert after.keys() == before.keys()
        for room, length_m in after.items():
            assert length_m == pytest.approx(before[room], abs=0.6), (remedy.words, room)  # an end in place of a joint


def test_a_loop_is_divided_at_each_crossing_between_rooms(draft):
    words = [family[0].words for family in regrouped.divided(draft, draft.loop("Bedrooms"))]
    assert words == [
        "loop Bedrooms divided: Landing; Box room and Main bedroom",
        "loop Bedrooms divided: Landing and Box room; Main bedroom",
    ]
    (remedy,) = next(regrouped.divided(draft, draft.loop("Bedrooms")))
    first, second = with_remedies(draft, [remedy]).loops[-2:]
    assert (first.name, second.name) == ("Bedrooms", "Bedrooms 2")
    assert second.sensor_room == "Main bedroom"
    assert first.sensor_room == "Landing"
    along_m = route_length_m(draft, draft.loop("Bedrooms"), draft.loop("Bedrooms").arms[0][:1])
    assert second.tails.flow_m == pytest.approx(2.5 + along_m + 0.4)
    assert "measure it" in remedy.assumed


def test_arms_become_two_loops_with_their_valves(draft):
    (remedy,) = next(regrouped.divided(draft, draft.loop("Living room")))
    changed = with_remedies(draft, [remedy])
    first, second = changed.loops[:2]
    assert [loop.arms for loop in (first, second)] == [(arm,) for arm in draft.loop("Living room").arms]
    assert all(loop.valves == hl.build.loop.__globals__["Valves"]("thermostatic 15", "lockshield 15")
               for loop in (first, second))  # fmt: skip
    assert [loop.name for loop in changed.loops[2:]] == [loop.name for loop in draft.loops[1:]]


def test_divided_and_joined_again_is_the_same_route(draft):
    loop = draft.loop("Bedrooms")
    (remedy,) = next(regrouped.divided(draft, loop))
    apart = with_remedies(draft, [remedy])
    (again,) = next(regrouped.joined(apart, *apart.loops[-2:]))
    whole = with_remedies(apart, [again]).loops[-1]
    kept = [item for item in whole.arms[0] if hasattr(item, "walls")]
    assert kept == [item for item in loop.arms[0] if hasattr(item, "walls")]
    assert len(whole.arms[0]) == len(loop.arms[0])


def test_loops_of_other_kinds_are_not_joined(draft):
    loop = draft.loop("Bedrooms")
    for other in (
        replace(loop, name="other", trunk="ground floor"),
        replace(loop, name="other", delta_t_k=3.0),
        replace(loop, name="other", profile="three-channel 175"),
    ):
        assert not list(regrouped.joined(draft, loop, other))


def test_a_route_reversed_twice_is_the_route(draft):
    for loop in draft.loops:
        for items in loop.arms:
            back = reversed_items(draft, loop, items)
            turned = replace(loop, arms=(back,))
            twice = reversed_items(draft, turned, back)
            assert [end_of(draft, loop, items, first) for first in (True, False)] == [
                end_of(draft, turned, back, first) for first in (False, True)
            ]
            assert [item for item in twice if not hasattr(item, "walls")] == [
                item for item in items if not hasattr(item, "walls")
            ]
            assert [item.walls for item in twice if hasattr(item, "walls")] == [
                item.walls for item in items if hasattr(item, "walls")
            ]


def test_a_one_way_loop_reversed_swaps_its_tails(draft):
    loop = draft.loop("Hall and study")
    (remedy,) = next(regrouped.turned(draft, loop))
    turned = with_remedies(draft, [remedy]).loop("Hall and study")
    assert (turned.tails.flow_m, turned.tails.return_m) == (loop.tails.return_m, loop.tails.flow_m)
    assert not remedy.assumed


def test_lengths_between_ends_follow_the_walls(draft):
    assert between_m(draft, ("Box room", 0.5), ("Box room", 1.5)) == pytest.approx(1.0)
    nursery = draft.room("Nursery")
    whole_m = sum(wall.length_m for wall in nursery.walls)
    assert between_m(draft, ("Nursery", 0.1), ("Nursery", whole_m - 0.1)) == pytest.approx(0.2)
    assert between_m(draft, ("Nursery", 0.0), ("Kitchen-diner", 0.0)) is None
    assert between_m(draft, ("Hall", 0.0), ("Study", 0.0)) > 0.0
