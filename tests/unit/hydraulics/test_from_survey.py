"""What the survey gives the hydraulics: flow temperatures that reach the loops, exponents, rooms and sensors."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.from_survey import (
    has_presetting,
    mean_exponent,
    rooms_on_sensor,
    sensor_demands_from,
    supply_temp_c,
)
from heatloop.survey.catalogue import Emitter
from heatloop.survey.loops import LoopEmitter, RouteCrossing, RouteWalls, Valves
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Trunk
from tests.helpers.one_loop import CATALOGUE, survey_of

PLAIN = survey_of()
LOOP = PLAIN.loops[0]
TRUNKS = (
    Trunk("riser", "copper 22", 4.0, mixed_to_c=42.0),
    Trunk("main", "copper 22", 4.0, from_trunk="riser"),
    Trunk("cool", "copper 22", 4.0, from_trunk="main", mixed_to_c=35.0),
)


def arriving(own_c: float | None, trunk: str | None, source_c: float | None) -> float:
    survey = replace(PLAIN, trunks=TRUNKS)
    return supply_temp_c(survey, replace(LOOP, flow_temp_c=own_c, trunk=trunk), source_c)


@pytest.mark.parametrize(
    ("own_c", "trunk", "source_c", "arrives_c"),
    [
        (None, None, None, 50.0),  # the project's
        (None, None, 44.0, 44.0),
        (None, None, 60.0, 60.0),
        (38.0, None, None, 38.0),  # mixed at the loop
        (38.0, None, 60.0, 38.0),
        (38.0, None, 33.0, 33.0),  # the source is cooler than the loop is mixed to
        (None, "main", None, 42.0),  # mixed further up
        (None, "main", 40.0, 40.0),
        (None, "cool", None, 35.0),  # mixed twice: the cooler counts
        (40.0, "main", None, 40.0),
        (48.0, "main", None, 42.0),
        (None, "cool", 30.0, 30.0),
    ],
)
def test_the_coolest_of_source_mixed_trunks_and_the_loops_own_arrives(
    own_c: float | None, trunk: str | None, source_c: float | None, arrives_c: float
) -> None:
    assert arriving(own_c, trunk, source_c) == arrives_c


def test_a_warmer_trunk_after_a_cooler_one_warms_nothing() -> None:
    trunks = (Trunk("a", "copper 22", 1.0, mixed_to_c=35.0), Trunk("b", "copper 22", 1.0, "a", mixed_to_c=42.0))
    assert supply_temp_c(replace(PLAIN, trunks=trunks), replace(LOOP, trunk="b")) == 35.0


def test_an_exponent_is_that_of_the_profile_or_of_the_emitters_by_their_output() -> None:
    assert mean_exponent(PLAIN, LOOP) == 1.28
    emitters = (
        Emitter("radiator", 600.0, 1.3, water_l=1.0, zeta=2.0),
        Emitter("rail", 200.0, 1.1, water_l=1.0, zeta=2.0),
    )
    survey = replace(PLAIN, catalogue=replace(CATALOGUE, emitters=emitters))
    items = (LoopEmitter("radiator", "Room"), LoopEmitter("rail", "Room"))
    loop = replace(LOOP, profile="", emitters=items)
    assert mean_exponent(survey, loop) == pytest.approx((600.0 * 1.3 + 200.0 * 1.1) / 800.0)


def with_sensor(valve: str, sensor: str | None, *rooms: str) -> SurveyData:
    valves = (replace(CATALOGUE.valves[0], name="plain"), replace(CATALOGUE.valves[1], name="head", kvs_m3_h=0.9))
    route = tuple(RouteWalls(room, (1,)) for room in rooms)
    loop = replace(LOOP, valves=Valves(valve, "plain"), sensor_room=sensor, arms=(route,))
    return replace(PLAIN, loops=(loop,), catalogue=replace(CATALOGUE, valves=valves))


def test_a_loop_is_ruled_by_its_sensors_room_or_by_its_only_one() -> None:
    losses = [RoomLoss(room, 20.0, watts, None) for room, watts in (("A", 300.0), ("B", 500.0))]
    stated = sensor_demands_from(with_sensor("head", "B", "A", "B"), losses)
    assert (stated[0].room, stated[0].required_w) == ("B", 500.0)
    assert sensor_demands_from(with_sensor("head", None, "A"), losses)[0].room == "A"
    assert sensor_demands_from(with_sensor("head", None, "A", "B"), losses) == {}
    assert sensor_demands_from(with_sensor("plain", "B", "A", "B"), losses) == {}


def test_rooms_of_a_route_are_named_once_in_its_order() -> None:
    route = (RouteWalls("B", (1,)), RouteCrossing("copper 15", 0.5), RouteWalls("A", (1,)), RouteWalls("B", (2,)))
    assert rooms_on_sensor(replace(LOOP, arms=(route,))) == ["B", "A"]


def test_valves_that_are_preset_in_their_body() -> None:
    valves = (replace(CATALOGUE.valves[0], presetting=True), CATALOGUE.valves[1])
    survey = replace(PLAIN, catalogue=replace(CATALOGUE, valves=valves))
    assert has_presetting(survey) == {valves[0].name}
