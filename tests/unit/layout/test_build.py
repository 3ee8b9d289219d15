"""What lay_out must give on rooms worked out by hand, and the faults it must find."""

from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, Piece, PlacedCrossing, PlacedEnd, PlacedJoint
from heatloop.survey.building import Building, CoveredStretch, Obstacle, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, End, Joint, Pipe
from heatloop.survey.loops import CrossingRule, Loop, RouteCrossing, RouteEstimate, RouteItem, RouteWalls, Tails
from heatloop.survey.profiles import Channel, FloorSectionRating, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

PROFILE = Profile(
    "two-channel",
    height_mm=130.0,
    depth_mm=28.0,
    channels=(Channel(13.0), Channel(13.0)),
    rating=OutputRating(150.0, 1.28),
    stock_m=(3.0, 4.0),
    floor_section=FloorSectionRating(60.0, 1.1),
    invented=True,
)
JOINTS = (
    Joint("angle", "angle", (-135.0, 135.0), 60.0, zeta=0.8),
    Joint("inside corner", "inside corner", (80.0, 100.0), 45.0, zeta=1.2),
    Joint("outside corner", "outside corner", (-100.0, -80.0), 55.0, zeta=1.2),
    Joint("straight", "straight", (0.0, 0.0), 5.0, zeta=0.3, heated=True),
)
ENDS = (End("valve end", "valve end", 140.0), End("turn end", "turn end", 60.0, zeta=2.0))
CATALOGUE = Catalogue((PROFILE,), JOINTS, ENDS, (Pipe("copper 15", 13.6, 15.0),))
TAKE_OFF_M = {"angle": 0.060, "inside corner": 0.045, "outside corner": 0.055, "straight": 0.005}
TAKE_OFF_M |= {"valve end": 0.140, "turn end": 0.060, "": 0.0}
DOOR = Opening("door", 1.2, 0.8, 2.0, name="hall door")
BIFOLD = Opening("glazed door", 1.0, 2.0, 2.1, name="bifold")
WINDOW = Opening("window", 1.0, 1.2, 1.2, sill_m=0.9)


def rectangle(east_m: float = 4.0, north_m: float = 3.0, **walls: Wall) -> Room:
    """Walls 1 west, 2 north, 3 east, 4 south; `w3=Wall(...)` replaces one."""
    plain = (Wall(north_m), Wall(east_m), Wall(north_m), Wall(east_m))
    return Room("Room", 20.0, walls=tuple(walls.get(f"w{i + 1}", wall) for i, wall in enumerate(plain)))


def loop_of(*items: RouteItem, **changes: object) -> Loop:
    plain = Loop(
        "Loop", "two-channel", "there-and-back", (items,), Tails("copper 15", 2.0, 2.0),
        crossing=CrossingRule("copper 15", 0.2),
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def survey_of(*parts: Room | Loop, catalogue: Catalogue = CATALOGUE) -> SurveyData:
    rooms = tuple(p for p in parts if isinstance(p, Room))
    loops = tuple(p for p in parts if isinstance(p, Loop))
    project = Project("Test", -3.0, 50.0, "")
    return SurveyData(project, Building(), (), (), rooms, Source(), (), loops, catalogue)


def elements(layout: Layout, loop: int = 0, arm: int = 0) -> list[object]:
    return list(layout.loops[loop].arms[arm].elements)


def shape(layout: Layout, loop: int = 0) -> list[str]:
    """The run in short: pieces by where they are, the rest by its kind."""
    short = []
    for arm in layout.loops[loop].arms:
        for e in arm.elements:
            if isinstance(e, Piece):
                short.append(f"{e.wall}:{e.from_m:g}-{e.to_m:g}{'' if e.rightward else ' back'}")
            else:
                short.append(e.reason if isinstance(e, PlacedCrossing) else e.kind)
    return short


def faults(survey: SurveyData) -> str:
    with pytest.raises(InputError) as error:
        build_layout(survey)
    return str(error.value)


def test_one_rectangle_clockwise_and_back() -> None:
    room = rectangle()
    there = build_layout(survey_of(room, loop_of(RouteWalls("Room", (1, 2)))))
    assert shape(there) == ["valve end", "1:0-3", "inside corner", "2:0-4", "turn end"]
    assert [p.cut_m for p in there.loops[0].pieces] == pytest.approx([3 - 0.140 - 0.045, 4 - 0.045 - 0.060])
    assert there.rooms[0].heated_length_m == pytest.approx(7 - 0.14 - 0.09 - 0.06)
    assert there.rooms[0].spare_wall_m == pytest.approx(7.0)
    back = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2, 1)))))
    assert shape(back) == ["valve end", "2:0-4 back", "inside corner", "1:0-3 back", "turn end"]


@pytest.mark.parametrize(
    ("item", "expected"),
    [
        (RouteWalls("Room", (4, 1), from_m=1.0, to_m=2.0), ["4:1-4", "1:0-2"]),
        (RouteWalls("Room", (1, 4), from_m=1.0, to_m=2.0), ["1:0-1 back", "4:2-4 back"]),
        (RouteWalls("Room", (2,), from_m=1.0, to_m=2.0), ["2:1-2"]),
        (RouteWalls("Room", (2,), from_m=3.0, direction="anticlockwise"), ["2:0-3 back"]),
        (RouteWalls("Room", (2,), from_m=3.0, to_m=1.0, direction="anticlockwise"), ["2:1-3 back"]),
        (RouteWalls("Room", (2,), from_m=1.0, to_m=3.0, direction="anticlockwise"), ["2:1-3 back"]),
    ],
)
def test_positions_count_from_the_left_whichever_way_the_water_goes(item: RouteWalls, expected: list[str]) -> None:
    layout = build_layout(survey_of(rectangle(), loop_of(item)))
    assert [s for s in shape(layout) if ":" in s] == expected


def test_all_the_way_round_meets_itself_without_overlap() -> None:
    item = RouteWalls("Room", (2, 3, 4, 1, 2), from_m=2.0, to_m=2.0)
    layout = build_layout(survey_of(rectangle(), loop_of(item)))
    assert [s for s in shape(layout) if ":" in s] == ["2:2-4", "3:0-3", "4:0-4", "1:0-3", "2:0-2"]
    assert layout.rooms[0].spare_wall_m == 0.0


def test_items_that_touch_are_one_run() -> None:
    items = RouteWalls("Room", (1,)), RouteWalls("Room", (2,), to_m=1.0), RouteWalls("Room", (2, 3), from_m=1.0)
    layout = build_layout(survey_of(rectangle(), loop_of(*items)))
    assert shape(layout)[1:-1] == ["1:0-3", "inside corner", "2:0-4", "inside corner", "3:0-3"]


def test_bay_takes_angles_and_outside_corner_its_own() -> None:
    turns = [90.0, -45.0, 45.0, 45.0, -45.0, 90.0, 90.0, 90.0]
    lengths = [3.0, 1.0, 1.0, 2.0, 1.0, 1.0, 3.0, 2 + 2 + 2 * 0.5**0.5]
    room = Room("Room", 20.0, walls=tuple(map(Wall, lengths, turns)))
    layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2, 3, 4, 5, 6, 7)))))
    joints = [e for e in elements(layout) if isinstance(e, PlacedJoint)]
    assert [j.kind for j in joints] == ["angle"] * 4 + ["inside corner"]
    assert [j.turn_deg for j in joints] == [-45, 45, 45, -45, 90]
    assert [(j.wall, j.at_m) for j in joints] == [(2, 1), (3, 1), (4, 2), (5, 1), (6, 1)]


def test_interruptions_cross_merge_and_go_round_corners() -> None:
    wall = replace(Wall(4.0), openings=(DOOR, Opening("door", 2.2, 0.7, 2.0)), obstacles=(Obstacle("units", 3.5, 0.5),))
    after = replace(Wall(3.0), obstacles=(Obstacle("units", 0.0, 1.0),))
    room = rectangle(w2=wall, w3=after)
    layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2, 3)))))
    assert shape(layout) == [
        "valve end", "2:0-1.2", "hall door, door and 0.20 m of wall beside it", "2:2.9-3.5", "units", "3:1-3",
        "turn end",
    ]  # fmt: skip
    first, second = [e for e in elements(layout) if isinstance(e, PlacedCrossing)]
    assert (first.length_m, second.length_m) == pytest.approx((1.7 + 0.4, 1.5 + 0.4))
    assert (first.zeta, first.heats, first.pipe) == (4.0, "Room", "copper 15")
    assert (second.wall, second.from_m, second.to_wall, second.to_m) == (2, 3.5, 3, 1.0)
    assert "4 bends" in str(layout.assumptions[0])
    back = build_layout(survey_of(room, loop_of(RouteWalls("Room", (3, 2)))))
    assert [s for s in shape(back) if ":" in s] == ["3:1-3 back", "2:2.9-3.5 back", "2:0-1.2 back"]
    crossing = next(e for e in elements(back) if isinstance(e, PlacedCrossing))
    assert (crossing.wall, crossing.from_m, crossing.to_wall, crossing.to_m) == (3, 1.0, 2, 3.5)


def test_too_little_wall_at_a_corner_belongs_to_the_crossing() -> None:
    room = rectangle(w2=replace(Wall(4.0), openings=(replace(DOOR, start_m=3.0),)))
    layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2, 3)))))
    assert shape(layout)[1:-1] == ["2:0-3", "hall door and 0.20 m of wall beside it", "3:0-3"]
    (crossing,) = [e for e in elements(layout) if isinstance(e, PlacedCrossing)]
    assert crossing.length_m == pytest.approx(1.0 + 0.4)
    assert (crossing.to_wall, crossing.to_m) == (3, 0.0)


def test_a_step_in_the_wall_too_short_for_a_piece_is_crossed() -> None:
    stepped = [3.0, 2.0, 0.2, 1.5, 2.8, 3.5]  # a step of 0.2 m in the north wall
    walls = tuple(map(Wall, stepped, [90.0, 90.0, -90.0, 90.0, 90.0, 90.0]))
    layout = build_layout(survey_of(Room("Room", 20.0, walls=walls), loop_of(RouteWalls("Room", (2, 3, 4)))))
    assert shape(layout)[1:-1] == ["2:0-2", "0.20 m of wall", "4:0-1.5"]


def test_what_interrupts_at_the_ends_of_the_route_shortens_it() -> None:
    room = rectangle(w2=Wall(4.0, obstacles=(Obstacle("bath", 0.0, 1.0, "stop"), Obstacle("bath", 3.0, 1.0, "stop"))))
    layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2,)))))
    assert shape(layout) == ["valve end", "2:1-3", "turn end"]
    assert [e.at_m for e in elements(layout) if isinstance(e, PlacedEnd)] == [1.0, 3.0]


def test_windows_above_the_skirting_do_not_interrupt_and_low_ones_do() -> None:
    high = rectangle(w2=Wall(4.0, openings=(replace(WINDOW, sill_m=0.150),)))
    low = rectangle(w2=Wall(4.0, openings=(replace(WINDOW, sill_m=0.149),)))
    item = RouteWalls("Room", (2,))
    assert len(build_layout(survey_of(high, loop_of(item))).loops[0].pieces) == 1
    assert len(build_layout(survey_of(low, loop_of(item))).loops[0].pieces) == 2


def test_sill_is_laid_over_the_opening_with_two_transitions() -> None:
    room = rectangle(w2=Wall(4.0, openings=(BIFOLD,)))
    item = RouteWalls("Room", (2,), floor_sections=("bifold",))
    layout = build_layout(survey_of(room, loop_of(item)))
    assert shape(layout) == ["valve end", "2:0-1", "floor section", "2:1-3", "floor section", "2:3-4", "turn end"]
    assert [p.floor_section for p in layout.loops[0].pieces] == [None, "bifold", None]
    assert [(e.joint, e.zeta) for e in elements(layout) if isinstance(e, PlacedJoint)] == [("", 1.2)] * 2
    assert any("transition to the floor" in str(line) for line in layout.assumptions)
    stated = replace(CATALOGUE, joints=(*JOINTS, Joint("floor section", "floor section", (0.0, 0.0), 30.0, zeta=0.9)))
    layout = build_layout(survey_of(room, loop_of(item), catalogue=stated))
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx([1 - 0.14 - 0.03, 2 - 0.06, 1 - 0.03 - 0.06])
    assert [e.zeta for e in elements(layout) if isinstance(e, PlacedJoint)] == [0.9, 0.9]
    assert layout.assumptions == ()


def test_sill_that_reaches_the_corners_turns_in_its_transitions() -> None:
    room = rectangle(w2=Wall(4.0, openings=(replace(BIFOLD, start_m=0.0, width_m=4.0),)))
    survey = survey_of(room, loop_of(RouteWalls("Room", (1, 2, 3), floor_sections=("bifold",))))
    layout = build_layout(survey)
    assert shape(layout)[1:-1] == ["1:0-3", "floor section", "2:0-4", "floor section", "3:0-3"]
    assert [e.turn_deg for e in elements(layout) if isinstance(e, PlacedJoint)] == [90.0, 90.0]
    flat = replace(CATALOGUE, joints=(*JOINTS, Joint("floor section", "floor section", (0.0, 0.0), 30.0)))
    assert faults(replace(survey, catalogue=flat)).count("90 degrees that no transition to the floor can make") == 2


def test_kitchen_with_a_folding_door_a_bay_and_units() -> None:
    """Lengths added up by hand: tape less take-offs of 140, 45, 60 mm and 60 mm at the turn end."""
    lengths = (6.20, 3.40, 2.60, 2.80, 3.60, 1.60, 0.85, 1.60, 0.85, 1.80)
    turns = (90.0, 90.0, -90.0, 90.0, 90.0, -45.0, 45.0, 45.0, -45.0, 90.0)
    walls = list(map(Wall, lengths, turns))
    walls[4] = replace(walls[4], openings=(replace(BIFOLD, start_m=0.3, width_m=3.0),))
    walls[0] = replace(walls[0], obstacles=(Obstacle("units", 3.6, 2.6),))
    walls[1] = replace(walls[1], obstacles=(Obstacle("units", 0.0, 3.4),))
    walls[2] = replace(walls[2], openings=(replace(DOOR, start_m=0.9, width_m=0.84),))
    room = Room("Room", 21.0, walls=tuple(walls))
    layout = build_layout(
        survey_of(room, loop_of(RouteWalls("Room", (5, 6, 7, 8, 9, 10, 1), to_m=3.6, floor_sections=("bifold",))))
    )
    by_hand = [0.160, 3.000, 0.255, 1.495, 0.730, 1.480, 0.730, 1.695, 3.495]
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx(by_hand)
    assert layout.rooms[0].heated_length_m == pytest.approx(13.040)
    assert layout.rooms[0].spare_wall_m == pytest.approx(0.90 + 0.86 + 2.80)
    joints = [e.kind for e in elements(layout) if isinstance(e, PlacedJoint)]
    assert joints == [
        "floor section",
        "floor section",
        "inside corner",
        "angle",
        "angle",
        "angle",
        "angle",
        "inside corner",
    ]


def test_crossing_joint_of_the_catalogue_is_used() -> None:
    stated = replace(CATALOGUE, joints=(*JOINTS, Joint("crossing", "crossing", (0.0, 0.0), 50.0, zeta=2.5)))
    room = rectangle(w2=Wall(4.0, openings=(DOOR,)))
    layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2,))), catalogue=stated))
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx([1.2 - 0.14 - 0.05, 2.0 - 0.05 - 0.06])
    assert [e.zeta for e in elements(layout) if isinstance(e, PlacedCrossing)] == [2.5]


def test_square_joints_come_before_others_of_a_narrower_range() -> None:
    narrow = replace(CATALOGUE, joints=(Joint("bay connector", "angle", (85.0, 95.0), 20.0), *JOINTS))
    layout = build_layout(survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 2))), catalogue=narrow))
    assert shape(layout)[2] == "inside corner"
    hexagon = Room("Room", 20.0, walls=(Wall(2.0, 60.0),) * 6)
    bay = replace(CATALOGUE, joints=(*JOINTS, Joint("bay connector", "angle", (50.0, 70.0), 20.0)))
    layout = build_layout(survey_of(hexagon, loop_of(RouteWalls("Room", (1, 2))), catalogue=bay))
    (joint,) = [e for e in elements(layout) if isinstance(e, PlacedJoint)]
    assert (joint.kind, joint.joint) == ("angle", "bay connector")


def test_long_wall_gets_the_fewest_equal_pieces_and_heated_joints() -> None:
    layout = build_layout(survey_of(rectangle(east_m=9.0), loop_of(RouteWalls("Room", (2,)))))
    cut_m = (9.0 - 0.14 - 0.06 - 4 * 0.005) / 3
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx([cut_m] * 3)
    assert [p.heated_m for p in layout.loops[0].pieces] == pytest.approx([cut_m + 0.005, cut_m + 0.01, cut_m + 0.005])
    assert [p.label for p in layout.loops[0].pieces] == ["Room 2a", "Room 2b", "Room 2c"]
    joints = [e for e in elements(layout) if isinstance(e, PlacedJoint)]
    assert len(joints) == 2
    assert all("longest stock length of 4 m" in j.reason for j in joints)


def test_just_the_stock_length_needs_no_joint() -> None:
    layout = build_layout(survey_of(rectangle(east_m=4.2), loop_of(RouteWalls("Room", (2,)))))
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx([4.0])


def test_two_walls_in_one_straight_carry_one_piece() -> None:
    walls = (Wall(3.0), Wall(1.5, turn_deg=0.0), Wall(2.5), Wall(3.0), Wall(4.0))
    room = Room("Room", 20.0, walls=walls)
    layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", (4, 3, 2, 1)))))
    assert shape(layout)[1:-1] == ["4:0-3 back", "inside corner", "2:0-4 back", "inside corner", "1:0-3 back"]
    piece = layout.loops[0].pieces[1]
    assert [(s.wall, s.length_m) for s in piece.segments] == [(3, 2.5 - 0.045), (2, 1.5 - 0.045)]
    ends = build_layout(survey_of(room, loop_of(RouteWalls("Room", (2, 3)))))
    assert [(e.wall, e.at_m) for e in elements(ends) if isinstance(e, PlacedEnd)] == [(2, 0.0), (3, 2.5)]


def test_covered_stretches_keep_the_skirting_at_their_factor() -> None:
    room = rectangle(w2=Wall(4.0, covered=(CoveredStretch(0.5, 1.0), CoveredStretch(1.2, 1.0, 0.4))))
    for walls, factors in (((1, 2), [1.0, 0.6, 0.4, 1.0]), ((3, 2), [1.0, 0.4, 0.6, 1.0])):
        layout = build_layout(survey_of(room, loop_of(RouteWalls("Room", walls))))
        segments = layout.loops[0].pieces[-1].segments
        assert [s.factor for s in segments] == factors
        assert [s.length_m for s in segments if s.factor == 0.6] == pytest.approx([0.7])
        assert [s.length_m for s in segments if s.factor == 0.4] == pytest.approx([1.0])


def test_one_way_ends_in_a_valve_end_and_arms_are_two_runs() -> None:
    room = rectangle()
    one_way = build_layout(survey_of(room, loop_of(RouteWalls("Room", (1, 2)), arrangement="one-way")))
    assert (shape(one_way)[0], shape(one_way)[-1]) == ("valve end", "valve end")
    arms = ((RouteWalls("Room", (2, 3)),), (RouteWalls("Room", (1, 4)),))
    middle = build_layout(survey_of(room, loop_of(arms=arms)))
    assert [len(arm.pieces) for arm in middle.loops[0].arms] == [2, 2]
    assert [(e[0].kind, e[-1].kind) for e in (a.elements for a in middle.loops[0].arms)] == [  # type: ignore[union-attr]
        ("valve end", "turn end"),
        ("valve end", "turn end"),
    ]


def test_stated_crossings_join_rooms_and_heat_the_room_before() -> None:
    other = replace(rectangle(), name="Other")
    pipe = RouteCrossing("copper 15", 1.5)
    items = (RouteWalls("Room", (1,)), pipe, replace(pipe, heats="Room"), RouteWalls("Other", (3,)))
    layout = build_layout(survey_of(rectangle(), other, loop_of(*items)))
    said = "crossing from Room to Other"
    assert shape(layout) == ["valve end", "1:0-3", said, said, "3:0-3", "turn end"]
    crossing = elements(layout)[2]
    assert isinstance(crossing, PlacedCrossing)
    assert (crossing.heats, crossing.length_m, crossing.wall) == ("Room", 1.5, None)
    assert [p.cut_m for p in layout.loops[0].pieces] == pytest.approx([2.86, 2.94])
    first = build_layout(survey_of(rectangle(), loop_of(pipe, RouteWalls("Room", (1,)))))
    said = "crossing in Room"
    assert shape(first) == [said, "valve end", "1:0-3", "turn end"]
    last = loop_of(RouteWalls("Room", (1,)), pipe)
    assert shape(build_layout(survey_of(rectangle(), replace(last, arrangement="one-way"))))[-1] == said
    assert "at the far end" in faults(survey_of(rectangle(), last))


def test_quoted_room_is_one_piece_and_an_estimate() -> None:
    room = Room("Lounge", 20.0, estimated_wall_m=11.0)
    layout = build_layout(survey_of(room, loop_of(RouteEstimate("Lounge", 11.0))))
    (piece,) = layout.loops[0].pieces
    assert (piece.wall, piece.heated_m, piece.label) == (0, 11.0, "Lounge estimate")
    assert layout.room("Lounge").estimate
    assert layout.room("Lounge").spare_wall_m == 0.0
    assert any(str(line).startswith("Lounge") for line in layout.assumptions)


def test_labels_tell_nothing_of_the_loop() -> None:
    room = rectangle(w2=Wall(4.0, openings=(DOOR,)))
    loops = loop_of(RouteWalls("Room", (2,), to_m=2.0)), loop_of(RouteWalls("Room", (2, 3), from_m=2.0), name="Second")
    plain = build_layout(survey_of(room, *loops))
    renamed = build_layout(survey_of(room, *(replace(loop, name=f"x{loop.name}") for loop in reversed(loops))))
    labels = {p.label: (p.wall, p.from_m) for loop in plain.loops for p in loop.pieces}
    assert labels == {"Room 2a": (2, 0.0), "Room 2b": (2, 2.0), "Room 3": (3, 0.0)}
    assert labels == {p.label: (p.wall, p.from_m) for loop in renamed.loops for p in loop.pieces}


STOP = rectangle(w2=Wall(4.0, obstacles=(Obstacle("bath", 1.0, 1.7, "stop"),)))
STOP_BY_DOOR = rectangle(
    w2=Wall(4.0, openings=(Opening("door", 2.7, 0.8, 2.0),), obstacles=(Obstacle("bath", 1.0, 1.7, "stop"),))
)
DOORED = rectangle(w2=Wall(4.0, openings=(DOOR, WINDOW)))
OBTUSE = Room("Room", 20.0, walls=(Wall(3.0, 120.0), Wall(3.0, 120.0), Wall(3.0, 120.0)))
NO_ANGLE = replace(CATALOGUE, joints=JOINTS[1:])
NO_SILL = replace(CATALOGUE, profiles=(replace(PROFILE, floor_section=None),))


@pytest.mark.parametrize(
    ("survey", "words"),
    [
        (survey_of(STOP, loop_of(RouteWalls("Room", (2,)))), ["wall 2", "bath that the run may not pass"]),
        (survey_of(STOP_BY_DOOR, loop_of(RouteWalls("Room", (2,)))), ["bath and door that the run may not pass"]),
        (survey_of(OBTUSE, loop_of(RouteWalls("Room", (1, 2))), catalogue=NO_ANGLE),
         ['loop "Loop"', 'room "Room"', "wall 1", "120 degrees"]),
        (survey_of(rectangle(9.0), loop_of(RouteWalls("Room", (2,))), catalogue=replace(NO_ANGLE, joints=())),
         ["9.00 m of wall", "straight joint"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (2,))), catalogue=replace(CATALOGUE, ends=())),
         ['"valve end"', '"turn end"']),
        (survey_of(DOORED, loop_of(RouteWalls("Room", (2,)), crossing=None)), ["hall door to cross and no pipe"]),
        (survey_of(DOORED, loop_of(RouteWalls("Room", (2,), floor_sections=("hall door",))), catalogue=NO_SILL),
         ["rating as floor section"]),
        (survey_of(DOORED, loop_of(RouteWalls("Room", (2,), floor_sections=("bifold",)))), ['"bifold"', '"hall door"']),
        (survey_of(DOORED, loop_of(RouteWalls("Room", (2,), to_m=1.0, floor_sections=("hall door",)))),
         ["on the route"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 3)))), ["wall 1 then wall 3", "wall 2 after wall 1"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 2), direction="anticlockwise"))),
         ["wall 1 then wall 2, anticlockwise"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (5,)))), ["wall 5", "1 to 4"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1,), to_m=3.5))), ["to_m = 3.5", "0 to 3 m"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1,), from_m=2.0, to_m=1.0))), ["from_m before to_m"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1,)), RouteWalls("Room", (3,)))),
         ["wall 3", "a crossing between"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1,), to_m=0.2))), ["no wall suitable for skirting"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 2), from_m=2.7, to_m=0.25)),
                   catalogue=replace(CATALOGUE, ends=(replace(ENDS[0], cut_deduction_mm=280.0), ENDS[1]))),
         ["taken off by valve end"]),
        (survey_of(rectangle(), loop_of(RouteCrossing("copper 15", 1.0))), ["no skirting on its route"]),
        (survey_of(rectangle(), loop_of(arms=((),))), ["no skirting on its route"]),
        (survey_of(Room("Room", 20.0), loop_of(RouteWalls("Room", (1,)))), ["no walls", "estimated_wall_m"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1,)), profile="other")), ['"other"']),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (1, 2))), loop_of(RouteWalls("Room", (2,), from_m=3.7),
                   name="Two")), ["wall 2", 'loop "Loop" and loop "Two"', "3.700 m to 4.000 m"]),
        (survey_of(rectangle(), loop_of(RouteWalls("Room", (2, 3, 4, 1, 2), from_m=1.0, to_m=1.5))),
         ['loop "Loop" twice', "1.000 m to 1.500 m"]),
    ],
)  # fmt: skip
def test_faults_say_where_and_what_is_wanted(survey: SurveyData, words: list[str]) -> None:
    message = faults(survey)
    for word in words:
        assert word in message


def test_all_faults_come_together() -> None:
    bad = loop_of(RouteWalls("Room", (2,), floor_sections=("bifold",)), crossing=None)
    worse = loop_of(RouteWalls("Room", (1, 3)), name="Two")
    lines = faults(survey_of(STOP, bad, worse)).splitlines()
    assert len(lines) == 3
    assert sum('loop "Two"' in line for line in lines) == 1
