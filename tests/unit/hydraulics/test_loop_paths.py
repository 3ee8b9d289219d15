"""From a laid loop to its water path: cells, elements, crossings, and what pipes lose."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.findings.input_errors import InputError
from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.heat.profile_rating import IdentificationInput, characteristics
from heatloop.hydraulics.loop_paths import RatingAssumptions, loop_paths, profile_characteristics, rooms_of
from heatloop.hydraulics.model import LoopPath
from heatloop.layout.build import build_layout
from heatloop.layout.model import Piece, PlacedCrossing, Segment
from heatloop.physics.water import plain_water
from heatloop.survey.building import BuildUp, Opening, Room, Wall
from heatloop.survey.catalogue import Emitter
from heatloop.survey.loops import CrossingRule, LoopEmitter, RouteCrossing, RouteWalls
from heatloop.survey.profiles import ChannelCoupling, SecondTest
from heatloop.survey.survey import SurveyData
from tests.helpers.one_loop import CATALOGUE, survey_of

ROUTE = (RouteWalls("Room", (1,)), RouteCrossing("copper 15", 0.7), RouteWalls("Room", (3,)))


def path_of(survey: SurveyData) -> LoopPath:
    layout = build_layout(survey)
    characteristics = profile_characteristics(survey, layout, [RatingAssumptions(survey.project.water_film)])[0]
    (path,) = loop_paths(survey, layout, characteristics)
    return path


def with_useful(share: float | None) -> SurveyData:
    survey = survey_of(*ROUTE)
    rule = None if share is None else CrossingRule("copper 15", 0.2, useful_share=share)
    walls = tuple(replace(wall, openings=()) for wall in survey.rooms[0].walls)
    rooms = (replace(survey.rooms[0], walls=walls),)
    return replace(survey, loops=(replace(survey.loops[0], crossing=rule),), rooms=rooms)


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0, None])
def test_a_crossing_is_a_cell_of_plain_pipe_whose_heat_counts_by_its_share(share: float | None) -> None:
    (arm,) = path_of(with_useful(share)).arms
    (crossing,) = [cell for cell in arm.cells if not cell.skirting]
    assert crossing.length_m == pytest.approx(0.7)
    assert crossing.useful == (0.0 if share is None else share)
    assert (crossing.room, crossing.room_c, crossing.film) == ("Room", 20.0, False)
    law = crossing.characteristic
    assert (law.exponent, law.link_w_mk) == (1.0, 0.0)
    skirting = [cell for cell in arm.cells if cell.skirting]
    assert {cell.useful for cell in skirting} == {1.0}


def test_two_pipes_of_a_crossing_lose_twice_what_one_does() -> None:
    survey = with_useful(0.0)
    one_way = replace(survey.loops[0], arrangement="one-way")
    law = {
        name: next(cell for cell in path_of(one).arms[0].cells if not cell.skirting).characteristic.k_w_mkn
        for name, one in (("pair", survey), ("one-way", replace(survey, loops=(one_way,))))
    }
    assert law["pair"] == pytest.approx(law["one-way"])
    lagged = tuple(replace(pipe, insulation_mm=19.0) for pipe in CATALOGUE.pipes)
    warm = replace(survey, catalogue=replace(CATALOGUE, pipes=lagged))
    less = next(cell for cell in path_of(warm).arms[0].cells if not cell.skirting).characteristic.k_w_mkn
    assert less < 0.6 * law["pair"]


def test_elements_of_a_channel_are_those_of_the_layout_in_water_order() -> None:
    path = path_of(with_useful(0.0))
    out, home = path.arms[0].channels
    kinds = [element.kind for element in out]
    assert kinds.count("crossing") == 1
    assert set(kinds) == {"piece", "crossing", "end"}
    assert [e.length_m for e in home if e.length_m] == [e.length_m for e in out if e.length_m][::-1]
    crossing = next(element for element in out if element.kind == "crossing")
    assert crossing.duct.hydraulic_diameter_m == pytest.approx(0.0136)
    piece = next(element for element in out if element.kind == "piece")
    assert piece.duct.hydraulic_diameter_m == pytest.approx(0.013)
    assert rooms_of(path) == ("Room",)


def test_tails_are_the_pipe_of_the_survey_on_either_side() -> None:
    path = path_of(with_useful(0.0))
    (flow,) = [one for one in path.tail_flow if one.kind == "tail"]
    (back,) = [one for one in path.tail_return if one.kind == "tail"]
    assert (flow.label, flow.length_m, back.label, back.length_m) == ("flow tail", 2.0, "return tail", 2.5)
    valves = [one for one in (*path.tail_flow, *path.tail_return) if one.kind == "valve"]
    assert [(one.valve, one.kv_m3_h, one.direction) for one in valves] == [
        ("thermostatic 15", 0.5, "flow"),
        ("lockshield 15", 0.5, "return"),
    ]


def with_rating(survey: SurveyData, **values: float) -> SurveyData:
    profiles = tuple(replace(one, rating=replace(one.rating, **values)) for one in survey.catalogue.profiles)
    return replace(survey, catalogue=replace(survey.catalogue, profiles=profiles))


def test_ratings_that_are_kept_are_those_of_a_new_identification() -> None:
    survey = survey_of(*ROUTE)
    layout, cases = build_layout(survey), [RatingAssumptions(True), RatingAssumptions(False)]
    found = profile_characteristics(survey, layout, cases)
    assert found == profile_characteristics(survey, layout, cases)
    required = [IdentificationInput(profile, case.film) for case in cases for profile in survey.profiles]
    kept = [by_profile[profile.name][False] for by_profile in found for profile in survey.profiles]
    assert kept == list(characteristics(required, plain_water()))
    assert profile_characteristics(with_rating(survey, output_w_m=300.0), layout, cases) != found


def test_an_impossible_rating_is_an_error_each_time() -> None:
    survey = survey_of(*ROUTE)
    profile = survey.profiles[0]
    alike = replace(
        profile, link=ChannelCoupling(second_test=SecondTest(500.0, 10.0)), rating=replace(profile.rating, drop_k=10.0)
    )
    wrong = replace(survey, catalogue=replace(survey.catalogue, profiles=(alike,)))
    for _ in range(2):
        with pytest.raises(
            InputError, match=r"have drops of 10 and 10 K.*a rating test that the channel equations can"
        ):
            profile_characteristics(wrong, build_layout(survey), [RatingAssumptions(True)])


def test_a_stretch_without_length_is_no_cell() -> None:
    survey = with_useful(0.0)
    layout = build_layout(survey)
    (loop,) = layout.loops
    elements = tuple(
        replace(e, segments=(Segment(0.0), *e.segments, Segment(0.0, 0.5))) if isinstance(e, Piece) else e
        for e in loop.arms[0].elements
    )
    dotted = replace(layout, loops=(replace(loop, arms=(replace(loop.arms[0], elements=elements),)),))
    (path,), (plain,) = loop_paths(survey, dotted), loop_paths(survey, layout)
    assert path.arms[0].cells == plain.arms[0].cells
    assert min(cell.length_m for cell in path.arms[0].cells) > 0.0


def test_a_loop_of_emitters_alone_has_an_arm_that_gives_nothing() -> None:
    """No output, link, loss or useful heat on its metre of pipe, and no element that resists."""
    survey = survey_of()
    rail = Emitter("rail", 400.0, 1.22, zeta=2.0)
    loop = replace(survey.loops[0], profile="", arms=(), crossing=None, emitters=(LoopEmitter("rail", "Room"),))
    survey = replace(survey, loops=(loop,), catalogue=replace(survey.catalogue, emitters=(rail,)))
    path = path_of(survey)
    (arm,) = path.arms
    (cell,) = arm.cells
    assert (arm.directions, arm.channels, cell.useful, cell.skirting, cell.film) == ((1,), ((),), 0.0, False, False)
    assert (cell.characteristic.k_w_mkn, cell.characteristic.exponent) == (0.0, 1.0)
    solved = solve_group(group_similar_arms([arm])[0], np.array([[0.01]]), np.array([70.0]), plain_water())
    assert solved.channels.emitted_w.tolist() == [[0.0]]
    assert solved.joined_c.tolist() == [70.0]
    assert path.profile is None
    assert [one.kind for one in path.tail_return] == ["emitter", "valve", "tail"]
    assert [(one.arm, one.channel) for one in path.tail_return] == [(0, 0)] * 3


def test_a_crossing_without_length_is_no_cell() -> None:
    survey = with_useful(0.4)
    layout = build_layout(survey)
    (loop,) = layout.loops
    elements = tuple(replace(e, length_m=0.0) if isinstance(e, PlacedCrossing) else e for e in loop.arms[0].elements)
    short = replace(layout, loops=(replace(loop, arms=(replace(loop.arms[0], elements=elements),)),))
    (path,) = loop_paths(survey, short)
    assert all(cell.skirting for cell in path.arms[0].cells)
    (plain,) = loop_paths(survey, layout)
    assert [cell.skirting for cell in plain.arms[0].cells].count(False) == 1


def test_the_wall_behind_loses_by_its_u_value_and_the_height_of_the_skirting() -> None:
    """130 mm before a wall of 1.5 W/(m² K) towards outdoors; nothing towards a room of the survey, or unknown."""
    openings = (Opening("door", 1.5, 0.8, 2.0, build_up="wall"),)
    outer, inner = Wall(3.0, beyond="outdoors", build_up="wall", openings=openings), Wall(3.5, beyond="Next")
    survey = survey_of(walls=(outer, inner, Wall(3.0), Wall(3.5)), rooms=(Room("Next", 18.0, heat_loss_w=100.0),))
    survey = replace(survey, build_ups=(BuildUp("wall", u_w_m2k=1.5),))
    cells = path_of(survey).arms[0].cells
    assert {round(cell.back_w_mk, 12) for cell in cells if cell.skirting} == {0.195, 0.0}
    plain = path_of(
        replace(
            survey,
            rooms=(
                replace(survey.rooms[0], walls=(replace(outer, beyond="Next"), *survey.rooms[0].walls[1:])),
                *survey.rooms[1:],
            ),
        )
    )
    assert {cell.back_w_mk for cell in plain.arms[0].cells} == {0.0}


def test_an_outer_wall_of_unknown_build_up_takes_no_heat_behind_the_skirting() -> None:
    survey = survey_of(*ROUTE)
    walls = tuple(replace(wall, openings=(), beyond="outside", build_up=None) for wall in survey.rooms[0].walls)
    (arm,) = path_of(replace(survey, rooms=(replace(survey.rooms[0], walls=walls),))).arms
    assert [cell.back_w_mk for cell in arm.cells] == [0.0] * len(arm.cells)
