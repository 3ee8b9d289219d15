"""Thermal movement worked by hand: growth, gaps, anchors, and runs that are one sliding end short."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.handover.parts.tables import gaps_table, movement_table
from heatloop.handover.second_fix.sliding_ends import (
    SlideNode,
)
from heatloop.handover.second_fix.thermal_movement import MovementPlan, hottest_c, node_of, plan_movement
from heatloop.layout.build import build_layout
from heatloop.layout.piece_ends import kind_and_name, placed_pieces
from heatloop.survey.building import Building, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, End, Joint, Pipe
from heatloop.survey.loops import CrossingRule, Loop, RouteCrossing, RouteEstimate, RouteWalls, Tails
from heatloop.survey.profiles import Channel, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source, Trunk

PROFILE = Profile("two-channel", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (3.0, 4.0))
JOINTS = (
    Joint("inside corner", "inside corner", (80.0, 100.0), 45.0, free_end="one"),
    Joint("outside corner", "outside corner", (-100.0, -80.0), 55.0),
    Joint("straight", "straight", (0.0, 0.0), 5.0, heated=True),
    Joint("crossing", "crossing", (0.0, 0.0), 50.0, free_end="one"),
)
ENDS = (End("valve end", "valve end", 140.0), End("turn end", "turn end", 60.0))
CATALOGUE = Catalogue((PROFILE,), JOINTS, ENDS, (Pipe("copper 15", 13.6, 15.0),))
DOOR = Opening("door", 1.5, 0.8, 2.0, name="door")


def with_joint(name: str, catalogue: Catalogue = CATALOGUE, **changes: object) -> Catalogue:
    joints = tuple(replace(j, **changes) if j.name == name else j for j in catalogue.joints)  # type: ignore[arg-type]
    return replace(catalogue, joints=joints)


def with_end(name: str, catalogue: Catalogue = CATALOGUE, **changes: object) -> Catalogue:
    ends = tuple(replace(e, **changes) if e.name == name else e for e in catalogue.ends)  # type: ignore[arg-type]
    return replace(catalogue, ends=ends)


def survey_of(
    walls: list[Wall], route: tuple[int, ...], catalogue: Catalogue = CATALOGUE, arrangement: str = "there-and-back"
) -> SurveyData:
    loop = Loop(
        "Loop", "two-channel", arrangement, ((RouteWalls("Room", route),),), Tails("copper 15", 2.0, 2.0),  # type: ignore[arg-type]
        crossing=CrossingRule("copper 15", 0.2),
    )  # fmt: skip
    room = Room("Room", 20.0, walls=tuple(walls))
    return SurveyData(Project("Test", -3.0, 50.0, ""), Building(), (), (), (room,), Source(), (), (loop,), catalogue)


def plan(survey: SurveyData, installation_temp_c: float = 10.0, min_gap_mm: float = 1.0) -> MovementPlan:
    return plan_movement(survey, placed_pieces(survey, build_layout(survey)), installation_temp_c, min_gap_mm)


RECTANGLE = [Wall(3.0), Wall(3.5), Wall(3.0), Wall(3.5)]
L_ROOM = [Wall(4.0), Wall(2.0), Wall(2.0, -90.0), Wall(1.5), Wall(2.0), Wall(3.5)]  # outside corner after wall 3


def choices(found: MovementPlan) -> list[str]:
    return [move.choice for move in found.moves]


def test_growth_and_gap_by_hand() -> None:
    """Walls of 3.0 and 3.5 m: 3000 - 140 - 45 = 2815 mm and 3500 - 45 - 60 = 3395 mm of metal, 40 K warmer:
    23.1e-6 x 40 = 0.924 mm a metre, so 2.601 and 3.137 mm, and 1 mm to spare at each gap."""
    found = plan(survey_of(RECTANGLE, (1, 2)))
    assert [m.straight.length_m for m in found.moves] == pytest.approx([2.815, 3.395])
    assert [m.expansion_mm for m in found.moves] == pytest.approx([2.601, 3.137], abs=0.0005)
    assert [m.gap_mm for m in found.moves] == pytest.approx([3.601, 4.137], abs=0.0005)
    table = movement_table(found)
    assert table["free_end"].tolist() == ["right: inside corner", "right: turn end"]
    assert table["fixed_end"].tolist() == ["left: valve end", "left: inside corner"]
    assert table["verdict"].tolist() == ["pass", "pass"]


def test_left_and_right_are_as_one_faces_the_wall_whichever_way_the_water_goes() -> None:
    table = movement_table(plan(survey_of(RECTANGLE, (2, 1))))
    assert table["wall"].tolist() == [2, 1]
    assert table["free_end"].tolist() == ["left: inside corner", "left: turn end"]
    assert table["fixed_end"].tolist() == ["right: valve end", "right: inside corner"]


@pytest.mark.common_practice
def test_common_practice_one_end_free_and_the_far_end_held_at_an_inside_corner() -> None:
    """Common practice: at an inside corner one side slides, and the piece is held at its far end."""
    found = plan(survey_of(RECTANGLE, (1, 2, 3, 4)))
    assert found.possible
    assert all(len(m.free) == len(m.held) == 1 for m in found.moves)
    at_corners = [kind_and_name(CATALOGUE, meets)[0] for m in found.moves for meets in m.free]
    assert at_corners == ["inside corner"] * 3 + ["turn end"]


@pytest.mark.common_practice
def test_common_practice_an_outside_corner_holds_both_sides() -> None:
    """Common practice: at an outside corner both ends are held, so each side grows away from it."""
    found = plan(survey_of(L_ROOM, (2, 3, 4, 5)))
    kinds = [[kind_and_name(CATALOGUE, meets)[0] for meets in m.free] for m in found.moves]
    assert [m.straight.label for m in found.moves] == ["Room 2", "Room 3", "Room 4", "Room 5"]
    # walls 2 and 3 share the one free end of their corner: the shorter, 1815 mm to 1900, is left without room
    assert kinds == [[], ["inside corner"], ["inside corner"], ["turn end"]]
    assert choices(found) == ["stuck", "start", "end", "end"]
    assert "2 straight lengths from Room 2 to Room 3 share 1 free end" in found.moves[0].reason


def test_a_run_that_is_one_free_end_short_says_so_and_each_remedy_works() -> None:
    """One-way: four straights, three inside corners, a valve end at either side that holds."""
    found = plan(survey_of(RECTANGLE, (1, 2, 3, 4), arrangement="one-way"))
    stuck = [m for m in found.moves if m.choice == "stuck"]
    assert len(stuck) == 1
    assert stuck[0].expansion_mm == min(m.expansion_mm for m in found.moves)
    assert "4 straight lengths from Room 1 to Room 4 share 3 free ends" in stuck[0].reason
    first, second, third = stuck[0].remedies
    assert first.startswith(f"part {stuck[0].straight.label} by a straight joint whose two sides slide")
    assert second.startswith("let the valve end of Room 1 slide")
    assert third.startswith("let the valve end of Room 4 slide")
    free = with_end("valve end", free_end="one")
    assert plan(survey_of(RECTANGLE, (1, 2, 3, 4), free, "one-way")).possible


def test_a_sliding_straight_joint_of_the_catalogue_is_the_remedy_and_makes_two_straights() -> None:
    """Between two outside corners nothing slides: a chimney breast 2.6 m wide."""
    walls = [
        Wall(3.0, 90.0), Wall(1.0, 90.0), Wall(0.6, -90.0), Wall(2.6, -90.0), Wall(0.6, 90.0), Wall(1.0, 90.0),
        Wall(3.0, 90.0), Wall(4.6, 90.0),
    ]  # fmt: skip
    found = plan(survey_of(walls, (3, 4, 5)))
    assert found.moves[1].choice == "stuck"
    assert "fixed at both ends (outside corner and outside corner)" in found.moves[1].reason
    sliding = Joint("sliding straight", "straight", (0.0, 0.0), 5.0, heated=True, free_end="both", slide_mm=12.0)
    richer = replace(CATALOGUE, joints=(*JOINTS, sliding))
    changes = plan(survey_of(walls, (3, 4, 5), richer)).moves[1].remedies
    assert changes[0] == 'part Room 4 by the joint "sliding straight", which slides'
    # the catalogue's only straight joint slides, and the stock is too short for the wall: the remedy as laid
    short = replace(PROFILE, stock_m=(2.0,))
    sliding = replace(sliding, name="straight")
    only = replace(CATALOGUE, profiles=(short,), joints=(*(j for j in JOINTS if j.name != "straight"), sliding))
    laid = plan(survey_of(walls, (3, 4, 5), only))
    assert [m.straight.label for m in laid.moves] == ["Room 3", "Room 4a", "Room 4b", "Room 5"]
    assert [m.choice for m in laid.moves[1:3]] == ["end", "start"]


def test_pieces_joined_by_a_rigid_straight_joint_grow_as_one() -> None:
    found = plan(survey_of([Wall(7.0), Wall(2.0), Wall(7.0), Wall(2.0)], (1, 2)))
    long = found.moves[0].straight
    assert long.label == "Room 1a + Room 1b"
    # 7000 - 140 - 45 mm: the joint between is metal too
    assert long.length_m == pytest.approx(6.815)
    table = movement_table(found)
    assert table["straight_length"].tolist() == ["Room 1a + Room 1b", "Room 2"]


def test_where_no_slide_is_wide_enough_an_anchor_shares_the_growth() -> None:
    catalogue = with_joint("inside corner", with_joint("crossing", free_end="both", slide_mm=2.5), slide_mm=2.5)
    walls = [Wall(3.0), Wall(3.5, openings=(replace(DOOR, start_m=0.0),)), Wall(3.0), Wall(3.5)]
    # wall 2 after its door: 3500 - 800 - 50 - 45 = 2605 mm grow 2.407 mm, 3.4 mm with 1 mm to spare
    found = plan(survey_of(walls, (1, 2, 3), catalogue))
    move = found.moves[1]
    assert move.choice == "anchor"
    assert move.anchored
    assert move.gap_mm == pytest.approx(2.407 / 2 + 1.0, abs=0.0005)
    row = movement_table(found).iloc[1]
    assert row["free_end"] == "left: crossing and right: inside corner"
    assert row["fixed_end"] == "anchor 1.30 m from its left end"
    assert gaps_table(found)["gap_at_10_c_mm"].iloc[0] == 2.0  # to the nearest half
    assert len(move.free) == 2
    assert move.held == ()


def test_a_slide_too_narrow_is_named_with_the_gap_it_wants() -> None:
    catalogue = with_end("turn end", free_end="one", slide_mm=2.0)
    found = plan(survey_of(RECTANGLE, (1,), catalogue))
    (move,) = found.moves
    # 3000 - 140 - 60 = 2800 mm grow 2.587 mm
    assert move.reason == "expands 2.6 mm: requires a gap of 3.6 mm, its ends take at most 2.0 mm"
    assert "a wider slide at the turn end of Room 1: 3.6 mm" in move.remedies


def test_an_anchor_is_reported_where_a_remedy_needs_one() -> None:
    """2.587 mm of expansion require a gap of 3.6 mm and the turn end takes 2.4: with both ends free and the middle
    held each end is left 2.3 mm."""
    catalogue = with_end("turn end", free_end="one", slide_mm=2.4)
    (move,) = plan(survey_of(RECTANGLE, (1,), catalogue)).moves
    assert move.remedies[2] == (
        "let the valve end of Room 1 slide as wide as its other end, and an anchor in its middle"
    )
    both = with_end("valve end", catalogue, free_end="one", slide_mm=2.4)
    assert choices(plan(survey_of(RECTANGLE, (1,), both))) == ["anchor"]


def test_give_lets_a_short_straight_be_held_at_both_ends() -> None:
    walls = [
        Wall(3.0, 90.0), Wall(1.0, 90.0), Wall(0.6, -90.0), Wall(0.9, -90.0), Wall(0.6, 90.0), Wall(1.0, 90.0),
        Wall(3.0, 90.0), Wall(2.9, 90.0),
    ]  # fmt: skip
    assert "stuck" in choices(plan(survey_of(walls, (3, 4, 5))))
    giving = with_end("valve end", with_joint("outside corner", elastic_allowance_mm=0.5), elastic_allowance_mm=0.5)
    found = plan(survey_of(walls, (3, 4, 5), giving))
    # wall 4: 900 - 2 x 55 = 790 mm grow 0.730 mm, and its two corners take 1 mm
    assert choices(found) == ["give", "give", "end"]
    assert movement_table(found)["fixed_end"].iloc[1].endswith("whose elastic allowance takes the expansion")
    assert movement_table(found)["gap_mm"].isna().tolist() == [True, True, False]


def test_what_a_joint_or_end_lets_slide_where_the_catalogue_is_silent() -> None:
    bare = replace(CATALOGUE, joints=tuple(j for j in JOINTS if j.name != "crossing"))
    walls = [Wall(3.0, openings=(DOOR,)), *RECTANGLE[1:]]
    survey = survey_of(walls, (1,), bare)
    one, two = placed_pieces(survey, build_layout(survey))
    assert node_of(bare, one.start).free == 0
    assert node_of(bare, one.end) == SlideNode(1)
    assert node_of(bare, two.end).free == 1


def test_the_hottest_is_what_the_source_can_give_or_what_is_mixed() -> None:
    plain = survey_of(RECTANGLE, (1,))
    assert hottest_c(plain, plain.loops[0]) == 50.0
    boiler = replace(plain, source=Source(max_flow_temp_c=75.0))
    assert hottest_c(boiler, boiler.loops[0]) == 75.0
    trunks = (Trunk("mixed", "copper 15", 3.0, mixed_to_c=42.0), Trunk("up", "copper 15", 3.0, "mixed"))
    mixed = replace(boiler, trunks=trunks, loops=(replace(plain.loops[0], trunk="up"),))
    assert hottest_c(mixed, mixed.loops[0]) == 42.0
    own = replace(boiler, loops=(replace(plain.loops[0], flow_temp_c=40.0),))
    assert hottest_c(own, own.loops[0]) == 40.0


def test_gaps_by_the_temperature_of_the_fitting_day() -> None:
    found = plan(survey_of(RECTANGLE, (1, 2)))
    gaps = gaps_table(found)
    # 2.815 m: 0.065 mm a kelvin, 1 mm left at 50 °C
    assert pytest.approx(2.95, abs=0.001) == 2.815 * 0.0231 * 30 + 1.0
    assert gaps["gap_at_20_c_mm"].iloc[0] == 3.0  # to the nearest half
    assert gaps["gap_at_10_c_mm"].tolist() == [round(2.0 * m.gap_mm) / 2.0 for m in found.moves]
    falling = gaps.filter(like="_c_mm").diff(axis=1).iloc[:, 1:]
    assert (falling <= 0).all().all()
    assert (gaps["gap_at_5_c_mm"] > gaps["gap_at_30_c_mm"]).all()


def test_a_room_before_its_survey_breaks_the_run_and_is_left_out() -> None:
    survey = survey_of(RECTANGLE, (1, 2))
    attic = Room("Attic", 18.0, heat_loss_w=300.0, estimated_wall_m=5.0)
    route = (RouteWalls("Room", (1, 2)), RouteCrossing("copper 15", 1.0), RouteEstimate("Attic", 5.0))
    quoted = replace(survey, rooms=(*survey.rooms, attic), loops=(replace(survey.loops[0], arms=(route,)),))
    found = plan(quoted)
    assert [m.straight.label for m in found.moves] == ["Room 1", "Room 2"]
    assert found.possible


def test_metal_that_does_not_grow_needs_its_clearance_only() -> None:
    still = replace(CATALOGUE, profiles=(replace(PROFILE, expansion_1_k=0.0),))
    found = plan(survey_of(RECTANGLE, (1, 2), still))
    assert [m.expansion_mm for m in found.moves] == [0.0, 0.0]
    assert [m.gap_mm for m in found.moves if m.free] == [1.0, 1.0]
    assert gaps_table(found)["gap_at_0_c_mm"].tolist() == [1.0, 1.0]


@pytest.mark.parametrize(
    ("installation_temp_c", "min_gap_mm", "words"),
    [
        (60.0, 1.0, "must be at most 50, the hottest of loop Loop"),
        (10.0, -1.0, "min_gap_mm = -1: must be 0 or above"),
    ],
)
def test_what_cannot_be(installation_temp_c: float, min_gap_mm: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        plan(survey_of(RECTANGLE, (1,)), installation_temp_c, min_gap_mm)
