"""First fix: where every pipe stands and how much there is."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.plan import FirstFixResult, plan_first_fix
from heatloop.handover.parts.parts_list import parts_list_from
from heatloop.layout.build import build_layout
from heatloop.layout.model import PlacedCrossing
from heatloop.layout.pipework import pipe_lays
from heatloop.report.drawings.set_out_table import paired_positions
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from tests.helpers.first_fixes import SURVEYS, first_fix_of


@pytest.fixture(scope="module")
def fixed(alder: SurveyData) -> FirstFixResult:
    return first_fix_of(alder)


def _rows(fix: FirstFixResult, **required: object) -> list[dict]:
    frame = fix.pipe_positions
    for column, value in required.items():
        frame = frame[frame[column] == value]
    return frame.to_dict("records")


def test_crossing_of_the_dining_door_by_hand(fixed: FirstFixResult) -> None:
    rows = _rows(fixed, room="Kitchen-diner", wall=4)
    assert [row["from_left_m"] for row in rows] == [0.563, 0.588, 1.453, 1.478]
    assert [row["to_right_m"] for row in rows] == [1.337, 1.312, 0.447, 0.422]
    # the lower channel nearest the profile on either side: outermost of the four
    assert [row["channel"] for row in rows] == ["lower", "upper", "upper", "lower"]
    # two channels of a profile 140 mm high, evenly: 35 and 105 mm
    assert [row["height_m"] for row in rows] == pytest.approx([0.035, 0.105, 0.105, 0.035])
    assert {row["depth_below_floor_m"] for row in rows} == {0.15}
    assert {(row["outside_mm"], row["opening_mm"], row["wall_distance_mm"]) for row in rows} == {(15.0, 19.0, 13.0)}


def test_distances_run_on_where_one_straight_is_written_as_two_walls(fixed: FirstFixResult) -> None:
    # hall, walls 4 (1.55 m) and 5 (1.85 m) are one straight; the dining door at 0.51 to 1.35 m of wall 5
    positions = [m for m in fixed.positions if m.room == "Hall" and m.wall == 5]
    assert [p.at_m for m in positions for p in m.pipes] == [0.473, 0.498, 1.363, 1.388]
    for position in positions:
        for pipe in position.pipes:
            assert pipe.from_left_corner_m == pytest.approx(1.55 + pipe.at_m)
            assert pipe.from_right_corner_m == pytest.approx(1.85 - pipe.at_m)
    assert {m.straight for m in positions} == {(4, 5)}


def test_tails_of_a_loop_from_the_middle_rise_at_both_valve_ends(fixed: FirstFixResult) -> None:
    rows = _rows(fixed, loop="Living room", use="tail")
    # a valve end takes 130 mm off: pipes at 32.5 and 97.5 mm; wall 8 ends at 0.80 m, wall 9 begins at 0
    assert [(row["wall"], row["from_left_m"], row["direction"]) for row in rows] == [
        (8, 0.703, "return"), (8, 0.768, "flow"), (9, 0.033, "flow"), (9, 0.098, "return"),
    ]  # fmt: skip
    (flow,) = [run for run in fixed.runs if run.loop == "Living room" and run.description == "flow tail"]
    assert flow.to_positions == (8, 9)
    assert flow.from_positions == ()


def test_one_way_tails_stand_at_the_two_ends(fixed: FirstFixResult) -> None:
    flow, back = _rows(fixed, loop="Hall and study", use="tail")
    assert (flow["room"], flow["direction"], flow["from_left_m"]) == ("Hall", "flow", 2.835)
    assert (back["room"], back["direction"], back["from_left_m"]) == ("Study", "return", 0.065)
    assert flow["height_m"] == pytest.approx(0.070)


def test_stated_crossing_leaves_one_room_and_enters_another(fixed: FirstFixResult) -> None:
    (run,) = [r for r in fixed.runs if r.loop == "Nursery and bathroom" and r.use == "crossing"]
    leaves, enters = (fixed.positions[n - 1] for n in (*run.from_positions, *run.to_positions))
    assert (leaves.room, enters.room) == ("Nursery", "Bathroom")
    assert (run.length_m, run.drops, run.pipes) == (0.40, 0, 2)
    assert math.isnan(leaves.depth_m)


def test_water_the_other_way_leaves_the_pipes_where_they_are(alder: SurveyData, fixed: FirstFixResult) -> None:
    kitchen = alder.loop("Kitchen")
    (item,) = kitchen.arms[0]
    back = replace(item, walls=item.walls[::-1], from_m=item.to_m, to_m=item.from_m)
    loops = tuple(replace(loop, arms=((back,),)) if loop is kitchen else loop for loop in alder.loops)
    other = first_fix_of(replace(alder, loops=loops))
    keys = ("wall", "from_left_m", "height_m", "channel", "direction")

    def crossings(fix: FirstFixResult) -> set[tuple]:
        return {tuple(row[key] for key in keys) for row in _rows(fix, loop="Kitchen", use="crossing")}

    assert crossings(other) == crossings(fixed)
    assert {row["wall"] for row in _rows(other, loop="Kitchen", use="tail")} == {1}


def test_tails_that_come_by_a_crossing_and_skirting_in_the_floor() -> None:
    fix = first_fix_of(read_survey(SURVEYS["harbour"]))
    last = [m for m in fix.positions if m.room == "Cabin B" and m.use == "crossing" and not _joined(fix, m.number)]
    assert len(last) == 1  # the return leaves cabin B by a crossing of the route, whose far end is at the tails
    saloon = [m for m in fix.positions if m.room == "Saloon" and m.wall == 5]
    assert all(math.isnan(pipe.height_m) for m in saloon for pipe in m.pipes)
    assert "Attic" in " ".join(fix.notes["note"])
    assert "Attic" not in set(fix.pipe_positions["room"])


def _joined(fix: FirstFixResult, number: int) -> str:
    return paired_positions(fix.runs)[number]


@pytest.mark.parametrize("name", SURVEYS)
def test_every_crossing_and_valve_end_is_marked(name: str) -> None:
    survey = read_survey(SURVEYS[name])
    fix = first_fix_of(survey)
    assert [m.number for m in fix.positions] == list(range(1, len(fix.positions) + 1))
    for run in fix.runs:
        if run.use != "crossing":
            continue
        channels = len(survey.catalogue.profile(survey.loop(run.loop).profile).channels)
        for number in (*run.from_positions, *run.to_positions):
            position = fix.positions[number - 1]
            assert len(position.pipes) == channels == run.pipes
            assert position.pipe == run.pipe
    for position in fix.positions:
        room = survey.room(position.room)
        straight_m = sum(room.walls[w - 1].length_m for w in position.straight)
        for pipe in position.pipes:
            assert pipe.from_left_corner_m + pipe.from_right_corner_m == pytest.approx(straight_m)
            assert 0.0 <= pipe.at_m <= room.walls[pipe.wall - 1].length_m


@pytest.mark.parametrize("name", SURVEYS)
def test_marks_of_an_automatic_crossing_stand_outside_its_gap(name: str) -> None:
    survey = read_survey(SURVEYS[name])
    layout = build_layout(survey)
    fix = plan_first_fix(survey, layout)
    passed = 0
    for loop in layout.loops:
        for crossing in (e for arm in loop.arms for e in arm.elements if isinstance(e, PlacedCrossing)):
            if crossing.wall is None or crossing.wall != crossing.to_wall:
                continue
            low, high = sorted((crossing.from_m, crossing.to_m))
            own = [m for m in fix.positions if m.room == crossing.room and m.past == crossing.reason]
            sides = [p.at_m for m in own for p in m.pipes if p.wall == crossing.wall and m.loop == loop.loop]
            assert all(x < low or x > high for x in sides)
            assert min(sides) < low < high < max(sides)
            passed += 1
    assert passed


@pytest.mark.parametrize("name", SURVEYS)
def test_totals_are_the_pipework_and_what_is_left_over(name: str) -> None:
    survey = read_survey(SURVEYS[name])
    fix = first_fix_of(survey)
    lays = pipe_lays(survey, build_layout(survey))
    totals = fix.pipe_totals.set_index("pipe")
    for pipe, row in totals.iterrows():
        fitted = sum(lay.total_m for lay in lays if lay.pipe == pipe)
        assert row["trunks_m"] + row["tails_m"] + row["crossings_m"] == pytest.approx(fitted)
        waste = survey.catalogue.pipe(str(pipe)).waste_percent / 100.0
        assert row["total_m"] == pytest.approx((fitted + row["allowance_m"]) * (1.0 + waste))
    assert set(totals.index) == {lay.pipe for lay in lays}


def test_left_over_counts_every_end_once(alder: SurveyData) -> None:
    pipes = tuple(replace(pipe, allowance_m=None) for pipe in alder.catalogue.pipes)
    bare = replace(alder, catalogue=replace(alder.catalogue, pipes=pipes))
    fix = first_fix_of(bare, FirstFixOptions(pipe_allowance_m=0.2))
    ends = sum(len(position.pipes) for position in fix.positions)
    assert fix.pipe_totals["allowance_m"].sum() == pytest.approx(0.2 * ends)
    stated = tuple(replace(pipe, allowance_m=0.3) for pipe in alder.catalogue.pipes)
    with_allowance = replace(alder, catalogue=replace(alder.catalogue, pipes=stated))
    with_given = first_fix_of(with_allowance, FirstFixOptions(pipe_allowance_m=0.2))
    assert set(with_given.pipe_positions["allowance_m"]) == {0.3}


@pytest.mark.parametrize("name", SURVEYS)
@pytest.mark.parametrize("stated_m", [None, 0.0, 0.25])
def test_parts_list_and_first_fix_count_the_same_pipe(name: str, stated_m: float | None) -> None:
    survey = read_survey(SURVEYS[name])
    pipes = tuple(replace(pipe, allowance_m=stated_m) for pipe in survey.catalogue.pipes)
    survey = replace(survey, catalogue=replace(survey.catalogue, pipes=pipes))
    layout = build_layout(survey)
    fix, handed = plan_first_fix(survey, layout), parts_list_from(survey, layout, 30.0)
    listed = {part.item: part for part in handed.part_lines if part.kind == "pipe"}
    runs = fix.pipe_runs.groupby("pipe")
    assert set(listed) == set(runs.groups) == set(fix.pipe_totals["pipe"])
    for pipe, own in runs:
        part, waste = listed[str(pipe)], survey.catalogue.pipe(str(pipe)).waste_percent / 100.0
        assert part.net_quantity == pytest.approx((own["pipes"] * own["length_m"]).sum(), abs=1e-9)
        assert part.net_quantity + part.allowance == pytest.approx(own["total_m"].sum() * (1.0 + waste), abs=1e-9)
        in_pipes = handed.pipework.loc[handed.pipework["pipe"] == pipe, "total_length_m"].sum()
        assert in_pipes == pytest.approx(own["total_m"].sum(), abs=1e-9)
    expected_m = (0.15 if stated_m is None else stated_m) * sum(len(position.pipes) for position in fix.positions)
    if not any(room.estimate for room in layout.rooms):
        assert fix.pipe_totals["allowance_m"].sum() == pytest.approx(expected_m)


def test_an_outside_door_takes_the_longer_drop_it_asks_for(alder: SurveyData) -> None:
    rooms, passed = [], "dining door"
    for room in alder.rooms:
        walls = tuple(
            replace(wall, openings=tuple(
                replace(o, crossing_depth_m=0.40) if o.name == passed and room.name == "Kitchen-diner" else o
                for o in wall.openings
            ))
            for wall in room.walls
        )  # fmt: skip
        rooms.append(replace(room, walls=walls))
    deep, usual = first_fix_of(replace(alder, rooms=tuple(rooms))), first_fix_of(alder)
    (run,) = [r for r in deep.runs if (r.loop, r.description) == ("Kitchen", passed)]
    (was,) = [r for r in usual.runs if (r.loop, r.description) == ("Kitchen", passed)]
    assert (run.depth_m, was.depth_m, run.drops) == (0.40, 0.15, 2)
    assert run.length_m == pytest.approx(0.84 + 2 * 0.40)
    assert {deep.positions[n - 1].depth_m for n in (*run.from_positions, *run.to_positions)} == {0.40}
    others = [(r.description, r.length_m) for r in deep.runs if r is not run]
    assert others == [(r.description, r.length_m) for r in usual.runs if r is not was]


def test_options_out_of_range_are_reported_together(alder: SurveyData) -> None:
    options = FirstFixOptions(
        pipe_allowance_m=-0.1, channel_heights_mm={"two-channel 140": (110.0,), "two-channel 150": (1.0, 2.0)}
    )
    with pytest.raises(InputError) as caught:
        first_fix_of(alder, options)
    lines = str(caught.value).splitlines()
    assert len(lines) == 3
    assert "found -0.1; required: 0 to 2" in lines[0]
    assert "2 heights from 0 to 140 mm" in lines[1]


def test_pipes_without_room_are_reported() -> None:
    fix = first_fix_of(read_survey(SURVEYS["mill"]))
    assert [m.number for m in fix.positions if m.crowded] == [3, 4]  # three pipes of 15 mm in 50 mm
    (note,) = fix.notes.loc[fix.notes["topic"] == "crowded", "note"]
    assert note.startswith("positions 3, 4: 3 pipes of 15 mm")
