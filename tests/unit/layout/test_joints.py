"""Straight joints where the survey states them, stretches of output, and what a catalogue without parts assumes."""

from __future__ import annotations

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import build_layout
from heatloop.layout.joints import joint_fits_turn
from heatloop.layout.model import Layout, PlacedJoint
from heatloop.layout.walls import factor_stretches
from heatloop.survey.building import Building, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, End, Joint, Pipe
from heatloop.survey.loops import (
    CrossingRule,
    Loop,
    RouteWalls,
    StraightJoint,
    Tails,
)
from heatloop.survey.profiles import Channel, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

PROFILE = Profile(
    "two-channel",
    height_mm=130.0,
    depth_mm=28.0,
    channels=(Channel(13.0), Channel(13.0)),
    rating=OutputRating(150.0, 1.28),
    stock_m=(3.0, 4.0),
    invented=True,
)
JOINTS = (
    Joint("inside corner", "inside corner", (80.0, 100.0), 45.0, zeta=1.2),
    Joint("straight", "straight", (0.0, 0.0), 5.0, zeta=0.3, heated=True),
)
ENDS = (End("valve end", "valve end", 140.0), End("turn end", "turn end", 60.0, zeta=2.0))
CATALOGUE = Catalogue((PROFILE,), JOINTS, ENDS, (Pipe("copper 15", 13.6, 15.0),))


def laid_out(
    *stated: StraightJoint,
    walls: tuple[int, ...] = (1, 2),
    openings: tuple[Opening, ...] = (),
    room: Room | None = None,
) -> Layout:
    """A room, of 4 m by 3 m where none is given, with a loop along these walls."""
    room = room or Room("Room", 20.0, walls=(Wall(3.0), Wall(4.0, openings=openings), Wall(3.0), Wall(4.0)))
    loop = Loop(
        "Loop", "two-channel", "there-and-back", ((RouteWalls("Room", walls),),), Tails("copper 15", 2.0, 2.0),
        crossing=CrossingRule("copper 15", 0.2), straight_joints=stated,
    )  # fmt: skip
    project = Project("Test", -3.0, 50.0, "")
    return build_layout(SurveyData(project, Building(), (), (), (room,), Source(), (), (loop,), CATALOGUE))


def test_a_straight_joint_is_laid_where_it_is_stated():
    layout = laid_out(StraightJoint("Room", 2, 1.5), StraightJoint("Room", 1, 1.2))
    laid = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedJoint) and e.kind == "straight"]
    assert [(e.wall, round(e.at_m, 6), e.turn_deg, e.zeta) for e in laid] == [(1, 1.2, 0.0, 0.3), (2, 1.5, 0.0, 0.3)]
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx(
        [1.2 - 0.14 - 0.005, 1.8 - 0.005 - 0.045, 1.5 - 0.045 - 0.005, 2.5 - 0.005 - 0.06]
    )


@pytest.mark.parametrize("wall", [1, 2])
def test_a_straight_joint_too_near_an_end_is_a_fault_though_another_wall_has_one_there(wall: int):
    least_m = 0.25
    stated = (StraightJoint("Room", wall, 0.5 * least_m), StraightJoint("Room", 3 - wall, 1.5))
    with pytest.raises(InputError) as raised:
        laid_out(*stated)
    told = str(raised.value)
    assert f'loop "Loop", straight joint 1: found 0.125 m on wall {wall} of room "Room"' in told
    assert "0.25 m or more from either end" in told
    assert "straight joint 2" not in told


@pytest.mark.parametrize("at_m", [0.25, 2.75])
def test_a_straight_joint_may_stand_just_the_shortest_piece_from_an_end(at_m: float):
    layout = laid_out(StraightJoint("Room", 1, at_m))
    (laid,) = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedJoint) and e.kind == "straight"]
    assert laid.at_m == pytest.approx(at_m)
    with pytest.raises(InputError, match="straight joint 1"):
        laid_out(StraightJoint("Room", 1, at_m - 0.001 if at_m < 1.0 else at_m + 0.001))


@pytest.mark.parametrize("stated", [(1, 2.0), (2, 0.0)])
@pytest.mark.parametrize("walls", [(1, 2), (2, 1)])
def test_a_straight_joint_may_stand_where_two_walls_of_one_straight_meet(
    walls: tuple[int, ...], stated: tuple[int, float]
):
    """Walls of 2 m and 1 m in one straight: the joint is named by the wall along which the water comes."""
    wall_1, wall_2 = Wall(2.0, turn_deg=0.0), Wall(1.0)
    room = Room("Room", 20.0, walls=(wall_1, wall_2, Wall(4.0), Wall(3.0), Wall(4.0)))
    layout = laid_out(StraightJoint("Room", *stated), walls=walls, room=room)
    (joint,) = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedJoint)]
    assert (joint.kind, joint.wall, joint.at_m) == ("straight", *((1, 2.0) if walls == (1, 2) else (2, 0.0)))
    assert {(piece.wall, piece.tape_m) for piece in layout.loops[0].pieces} == {(1, 2.0), (2, 1.0)}


def test_a_straight_joint_may_stand_where_the_last_wall_meets_the_first_in_one_straight():
    walls = (Wall(1.0), Wall(4.0), Wall(3.0), Wall(4.0), Wall(2.0, turn_deg=0.0))
    layout = laid_out(StraightJoint("Room", 1, 0.0), walls=(5, 1), room=Room("Room", 20.0, walls=walls))
    (joint,) = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedJoint)]
    assert (joint.kind, joint.wall, joint.at_m) == ("straight", 5, 2.0)


def test_a_cover_that_begins_a_hair_before_a_stretch_does_not_move_its_start():
    assert factor_stretches(0.0, 3.0, [(-0.5e-6, 1.0, 0.6)]) == ((0.0, 1.0, 0.6), (1.0, 3.0, 1.0))
    assert factor_stretches(0.0, 3.0, [(2.0, 3.0 + 0.5e-6, 0.6)]) == ((0.0, 2.0, 1.0), (2.0, 3.0, 0.6))


def test_a_catalogue_without_a_crossing_joint_is_an_assumption_with_its_source():
    layout = laid_out(walls=(2,), openings=(Opening("door", 1.2, 0.8, 2.0),))
    (line,) = [one for one in layout.assumptions if "crossing joint" in one.text]
    assert line.text.startswith("the catalogue has no crossing joint: each crossing is assumed to be")
    assert line.source == "common practice"


@pytest.mark.parametrize(
    ("joint", "turn_deg", "fits"),
    [
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 80.0, True),
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 100.0, True),
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 79.999, False),
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 100.001, False),
        (Joint("a", "angle", (-135.0, 135.0), 60.0), 0.0, False),
        (Joint("s", "straight", (0.0, 0.0), 5.0), 0.0, True),
        (Joint("s", "straight", (1.0, 2.0), 5.0), 0.0, False),
        (Joint("s", "straight", (-2.0, 0.0), 5.0), 0.0, True),
    ],
)
def test_a_joint_makes_the_turns_of_its_range_and_a_straight_one_none(
    joint: Joint, turn_deg: float, fits: bool
) -> None:
    assert joint_fits_turn(joint, turn_deg) is fits
