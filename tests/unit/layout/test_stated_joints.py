"""Straight joints where the survey states them, stretches of output, and what a catalogue without parts assumes."""

import pytest

from heatloop.layout.build import build_layout
from heatloop.layout.model import PlacedJoint
from heatloop.layout.walls import factor_stretches
from heatloop.survey.loops import RouteWalls, StraightJoint
from tests.unit.layout.test_build import DOORED, elements, faults, loop_of, rectangle, survey_of


def test_a_straight_joint_is_laid_where_it_is_stated():
    stated = (StraightJoint("Room", 2, 1.5), StraightJoint("Room", 1, 1.2))
    layout = build_layout(survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 2)), straight_joints=stated)))
    laid = [e for e in elements(layout) if isinstance(e, PlacedJoint) and e.kind == "straight"]
    assert [(e.wall, round(e.at_m, 6), e.turn_deg, e.zeta) for e in laid] == [(1, 1.2, 0.0, 0.3), (2, 1.5, 0.0, 0.3)]
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx(
        [1.2 - 0.14 - 0.005, 1.8 - 0.005 - 0.045, 1.5 - 0.045 - 0.005, 2.5 - 0.005 - 0.06]
    )


@pytest.mark.parametrize("wall", [1, 2])
def test_a_straight_joint_too_near_an_end_is_a_fault_though_another_wall_has_one_there(wall: int):
    least_m = 0.25
    stated = (StraightJoint("Room", wall, 0.5 * least_m), StraightJoint("Room", 3 - wall, 1.5))
    told = faults(survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 2)), straight_joints=stated)))
    assert f'loop "Loop", straight joint 1: found 0.125 m on wall {wall} of room "Room"' in told
    assert "0.25 m or more from either end" in told
    assert "straight joint 2" not in told


def test_a_cover_that_begins_a_hair_before_a_stretch_does_not_move_its_start():
    assert factor_stretches(0.0, 3.0, [(-0.5e-6, 1.0, 0.6)]) == ((0.0, 1.0, 0.6), (1.0, 3.0, 1.0))
    assert factor_stretches(0.0, 3.0, [(2.0, 3.0 + 0.5e-6, 0.6)]) == ((0.0, 2.0, 1.0), (2.0, 3.0, 0.6))


def test_a_catalogue_without_a_crossing_joint_is_an_assumption_with_its_source():
    layout = build_layout(survey_of(DOORED, loop_of(RouteWalls("Room", (2,)))))
    (line,) = [one for one in layout.assumptions if "crossing joint" in one.text]
    assert line.text.startswith("the catalogue has no crossing joint: each crossing is taken as")
    assert line.source == "common practice"
