"""Every joint a job has, each in a room of its own with its parts counted by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from heatloop.handover.first_fix.plan import plan_first_fix
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.layout.build import build_layout
from heatloop.survey.building import Obstacle, Opening, Room, Wall
from heatloop.survey.catalogue import CountRule
from heatloop.survey.entry import read_survey
from heatloop.survey.loops import RouteCrossing, RouteWalls, Tails
from heatloop.survey.profiles import Channel
from heatloop.survey.survey import SurveyData
from tests.helpers import one_loop
from tests.helpers.paths import DATA

RULES = (
    CountRule("elbow", "joint-channel", at=("inside corner", "outside corner")),
    CountRule("angle connector", "joint-channel", at=("angle",)),
    CountRule("connector", "joint-channel", at=("straight",)),
    CountRule("floor elbow", "joint-channel", at=("floor section",)),
    CountRule("adaptor", "joint-channel", 2.0, at=("crossing",)),
    CountRule("adaptor", "end-channel", at=("valve end",)),
    CountRule("turn piece", "end", at=("turn end",)),
)
SQUARE = (Wall(3.0), Wall(3.5), Wall(3.0), Wall(3.5))


def job(*items: object, channels: int = 2, **changes: Any) -> SurveyData:
    profile = replace(one_loop.PROFILE, channels=(Channel(13.0),) * channels)
    catalogue = replace(one_loop.CATALOGUE, profiles=(profile,), fittings=RULES)
    return one_loop.survey_of(*items, catalogue=catalogue, **{"walls": SQUARE, **changes})  # type: ignore[no-any-return]


def counted(survey: SurveyData) -> tuple[PartsListResult, Counter[str], dict[str, float]]:
    """The handover, its joints by kind, and the fittings by name."""
    handover = one_loop.handed(survey)
    kinds = Counter(handover.joints["kind"])
    fittings = {part.item: part.net_quantity for part in handover.part_lines if part.kind == "fitting"}
    for item in ("vent", "drain valve"):
        fittings.pop(item, None)
    return handover, kinds, fittings


def loop_of(survey: SurveyData, **changes: Any) -> SurveyData:
    return replace(survey, loops=(replace(survey.loops[0], **changes),))


@pytest.mark.parametrize("channels", [2, 3])
@pytest.mark.parametrize(("walls", "end_at"), [((1, 2), (1, 0.0)), ((2, 1), (2, 3.5))])
def test_entry_from_the_left_and_from_the_right(
    channels: int, walls: tuple[int, int], end_at: tuple[int, float]
) -> None:
    handover, kinds, fittings = counted(job(RouteWalls("Room", walls), channels=channels))
    assert kinds == {"valve end": 1, "inside corner": 1, "turn end": 1}
    assert fittings == {"elbow": channels, "adaptor": channels, "turn piece": 1}
    first = handover.joints.iloc[0]
    assert (first["kind"], first["wall"], first["at_m"]) == ("valve end", *end_at)
    assert handover.pieces["cut_length_mm"].tolist() == pytest.approx(
        [2815.0, 3395.0] if walls == (1, 2) else [3315.0, 2895.0]
    )


def test_entry_from_the_middle_has_a_valve_end_on_both_sides() -> None:
    survey = job()
    arms = (
        (RouteWalls("Room", (1,), 1.5, None, "clockwise"),),
        (RouteWalls("Room", (1, 4), 1.5, None, "anticlockwise"),),
    )
    handover, kinds, fittings = counted(loop_of(survey, arms=arms))
    assert kinds == {"valve end": 2, "inside corner": 1, "turn end": 2}
    assert fittings == {"elbow": 2, "adaptor": 4, "turn piece": 2}
    valve_ends = handover.joints[handover.joints["kind"] == "valve end"]
    assert valve_ends["at_m"].tolist() == [1.5, 1.5]
    tails = handover.pipework[handover.pipework["use"] == "tail"]
    assert tails["allowance_m"].tolist() == pytest.approx([0.4, 0.4])  # each forks to both valve ends


def test_one_way_has_a_valve_end_at_either_end_and_turns_nowhere() -> None:
    survey = loop_of(job(RouteWalls("Room", (1, 2, 3))), arrangement="one-way", tails=Tails("copper 15", 2.0, 6.0))
    _, kinds, fittings = counted(survey)
    assert kinds == {"valve end": 2, "inside corner": 2}
    assert fittings == {"elbow": 4, "adaptor": 4}


def test_a_deliberate_angle_takes_angle_joints_and_says_why() -> None:
    bay = (
        Wall(3.0), Wall(1.0, -45.0), Wall(0.8, 45.0), Wall(1.2, 45.0), Wall(0.8, -45.0), Wall(1.0), Wall(3.0),
        Wall(4.33),
    )  # fmt: skip
    handover, kinds, fittings = counted(job(RouteWalls("Room", (2, 3, 4, 5, 6)), walls=bay))
    assert kinds == {"valve end": 1, "angle": 4, "turn end": 1}
    assert fittings == {"angle connector": 8, "adaptor": 2, "turn piece": 1}
    angles = handover.joints[handover.joints["kind"] == "angle"]
    assert angles["turn_deg"].tolist() == [-45.0, 45.0, 45.0, -45.0]
    assert angles["reason"].str.endswith("a deliberate angle").all()


def test_an_outside_corner_and_a_corner_too_far_out_of_square() -> None:
    walls = (Wall(3.0), Wall(1.5), Wall(1.0, -90.0), Wall(2.0, 78.0), Wall(2.0, 102.0), Wall(3.5))
    handover, kinds, fittings = counted(job(RouteWalls("Room", (2, 3, 4, 5)), walls=walls))
    assert kinds == {"valve end": 1, "inside corner": 1, "outside corner": 1, "angle": 1, "turn end": 1}
    assert fittings == {"elbow": 4, "angle connector": 2, "adaptor": 2, "turn piece": 1}
    (why,) = handover.joints.loc[handover.joints["kind"] == "angle", "reason"]
    assert "12 degrees out of square, beyond the 80 to 100" in why


def test_straight_joints_where_the_wall_is_longer_than_the_stock() -> None:
    long = (Wall(3.0), Wall(9.0), Wall(3.0), Wall(9.0))
    handover, kinds, fittings = counted(job(RouteWalls("Room", (2,)), walls=long))
    assert kinds == {"valve end": 1, "straight": 2, "turn end": 1}
    assert fittings == {"connector": 4, "adaptor": 2, "turn piece": 1}
    # 9000 - 140 - 60 at the ends, 5 mm off each side of two joints
    # 8780 mm in three: each to the whole millimetre, all of them no longer than the wall has room for
    assert handover.pieces["cut_length_mm"].tolist() == [2927.0, 2926.0, 2927.0]


def test_a_sill_has_a_transition_at_both_its_sides() -> None:
    glazed = Opening("glazed door", 1.0, 1.5, 2.1, name="garden")
    walls = (Wall(3.0), Wall(3.5, openings=(glazed,)), Wall(3.0), Wall(3.5))
    handover, kinds, fittings = counted(job(RouteWalls("Room", (2,), floor_sections=("garden",)), walls=walls))
    assert kinds == {"valve end": 1, "floor section": 2, "turn end": 1}
    assert fittings == {"floor elbow": 4, "adaptor": 2, "turn piece": 1}
    laid = handover.pieces.set_index("label")["mounting"].to_dict()
    assert laid == {"Room 2a": "wall", "Room 2b": "floor section: garden", "Room 2c": "wall"}
    assert set(handover.joints.loc[handover.joints["kind"] == "floor section", "reason"]) == {
        "garden as a floor section"
    }


def test_a_doorway_an_outside_door_with_its_reveal_and_units_are_crossed() -> None:
    """Drops of 0.2 m at the doorway and behind units, of 0.45 m round the reveal of the outside door."""
    doors = (
        Opening("door", 0.8, 0.8, 2.0, name="hall door"),
        Opening("door", 2.0, 0.9, 2.0, name="outside door", crossing_depth_m=0.45),
    )
    walls = (
        Wall(3.5, openings=doors), Wall(3.5, obstacles=(Obstacle("units", 1.0, 1.2),)), Wall(3.5), Wall(3.5),
    )  # fmt: skip
    survey = job(RouteWalls("Room", (1, 2)), walls=walls)
    handover, kinds, fittings = counted(survey)
    assert kinds == {"valve end": 1, "crossing": 3, "inside corner": 1, "turn end": 1}
    assert fittings == {"elbow": 2, "adaptor": 2 * 2 * 3 + 2, "turn piece": 1}
    pipes = handover.pipework[handover.pipework["use"] == "crossing"].set_index("passes")
    assert pipes["length_m"].to_dict() == pytest.approx(
        {"hall door": 0.8 + 2 * 0.2, "outside door": 0.9 + 2 * 0.45, "units": 1.2 + 2 * 0.2}
    )
    assert (pipes["pipe_count"] == 2).all()
    drops = {
        run.description: run.depth_m
        for run in plan_first_fix(survey, build_layout(survey)).runs
        if run.use == "crossing"
    }
    assert drops == pytest.approx({"hall door": 0.2, "outside door": 0.45, "units": 0.2})


def test_what_is_crossed_at_once_takes_the_deepest_drop() -> None:
    door = Opening("door", 1.0, 0.8, 2.0, name="outside door", crossing_depth_m=0.45)
    walls = (Wall(3.5, openings=(door,), obstacles=(Obstacle("units", 1.8, 0.6),)), *SQUARE[1:])
    handover, kinds, _ = counted(job(RouteWalls("Room", (1,)), walls=walls))
    assert kinds["crossing"] == 1
    (pipe,) = handover.pipework[handover.pipework["use"] == "crossing"].to_dict("records")
    assert pipe["length_m"] == pytest.approx(0.8 + 0.6 + 2 * 0.45)


def test_a_crossing_through_a_wall_joins_two_rooms() -> None:
    other = Room("Next", 20.0, walls=SQUARE)
    items = (RouteWalls("Room", (1,)), RouteCrossing("copper 15", 0.6), RouteWalls("Next", (2,)))
    handover, kinds, fittings = counted(job(*items, rooms=(other,)))
    assert kinds == {"valve end": 1, "crossing": 1, "turn end": 1}
    assert fittings == {"adaptor": 2 * 2 + 2, "turn piece": 1}
    (pipe,) = handover.pipework[handover.pipework["use"] == "crossing"].to_dict("records")
    assert (pipe["pipe_count"], pipe["length_m"]) == (2, 0.6)
    assert handover.pieces["room"].tolist() == ["Room", "Next"]


@pytest.mark.common_practice
@pytest.mark.parametrize("folder", ["alder-lodge", "mill-annexe"])
def test_common_practice_most_joints_are_ends_corners_and_crossings(folder: str) -> None:
    """Common practice: most systems need only ends, corners and crossings."""
    survey = read_survey(DATA / folder / "survey.toml")
    kinds = Counter(one_loop.handed(survey).joints["kind"])
    usual = sum(
        count for kind, count in kinds.items() if kind.endswith("end") or "corner" in kind or kind == "crossing"
    )
    assert usual / kinds.total() > 0.8
