"""A straight joint more where it saves a bar: cases cut by hand, what it does to the rest, and where none is made."""

from __future__ import annotations

import random
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.__main__ import main
from heatloop.findings.input_errors import InputError
from heatloop.handover.cutting.model import CuttingOptions, Offcut
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import parts_list_from
from heatloop.layout.build import build_layout
from heatloop.layout.model import Piece, PlacedJoint
from heatloop.survey.building import Building, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, CountRule, End, Joint, Pipe, Valve
from heatloop.survey.loops import CrossingRule, Loop, RouteWalls, StraightJoint, Tails, Valves
from heatloop.survey.profiles import Channel, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source
from heatloop.workflows.fewer_bars import JointSearch, find_joints, save_bars
from tests.helpers.paths import DATA

QUICK = PartsOptions(cutting=CuttingOptions(time_limit_s=5.0))
PROFILE = Profile(
    "profile", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (6.0,), min_piece_m=0.25
)
STRAIGHT = Joint("straight", "straight", (0.0, 0.0), 5.0, heated=True)
CATALOGUE = Catalogue(
    (PROFILE,),
    (
        Joint("inside corner", "inside corner", (80.0, 100.0), 45.0, free_end="one"),
        STRAIGHT,
        Joint("crossing", "crossing", (0.0, 0.0), 50.0),
    ),
    (End("valve end", "valve end", 45.0), End("turn end", "turn end", 45.0)),
    (Pipe("copper 15", 13.6, 15.0),),
    (Valve("valve", (0.1, 0.5)),),
    fittings=(CountRule("connector", "joint-channel", at=("straight",)),),
    consumables=(CountRule("seal", "joint-channel", 2.0), CountRule("seal", "end-channel")),
)


def surveyed(*cuts_m: float, catalogue: Catalogue = CATALOGUE, joints: tuple[StraightJoint, ...] = ()) -> SurveyData:
    """Walls 1, 2 and 3 of a rectangle with pieces of these cut lengths: 45 mm is taken off both ends of each."""
    one, two, three = (Wall(round(cut_m + 0.09, 6)) for cut_m in cuts_m)
    assert one == three
    loop = Loop(
        "Loop", "profile", "there-and-back", ((RouteWalls("Room", (1, 2, 3)),),), Tails("copper 15", 2.0, 2.0),
        valves=Valves("valve", "valve"), crossing=CrossingRule("copper 15"), straight_joints=joints,
    )  # fmt: skip
    room = Room("Room", 20.0, walls=(one, two, three, two))
    return SurveyData(Project("Test", -3.0, 50.0, ""), Building(), (), (), (room,), Source(), (), (loop,), catalogue)


def found_in(survey: SurveyData, options: PartsOptions = QUICK) -> JointSearch:
    return find_joints(survey, build_layout(survey), options)


def bars_of(found: JointSearch) -> tuple[list[float], list[float]]:
    assert found.before is not None
    assert found.after is not None
    return [bar.length_mm for bar in found.before.bars], [bar.length_mm for bar in found.after.bars]


# --- by hand ----------------------------------------------------------------------------------------------


def test_one_joint_saves_one_bar() -> None:
    # three pieces of 4000 from bars of 6000: no two share a bar, 1997 is left of each.
    # one of them less two take-offs of 5 is 3990, two halves of 1995: 4000 + 3 + 1995 = 5998 twice. Two bars.
    survey = surveyed(4.0, 4.0, 4.0)
    found = found_in(survey)
    assert bars_of(found) == ([6000.0] * 3, [6000.0] * 2)
    # 45 of the valve end, 1995 and 5 of the joint from the left-hand end of wall 1
    assert found.added == (("Loop", StraightJoint("Room", 1, 2.045)),)
    assert found.searched
    before, after = (parts_list_from(one, build_layout(one), 20.0, QUICK) for one in (survey, found.survey))
    assert [round(cut, 1) for cut in after.pieces["cut_length_mm"]] == [1995.0, 1995.0, 4000.0, 4000.0]
    assert after.pieces["label"].tolist() == ["Room 1a", "Room 1b", "Room 2", "Room 3"]
    assert sorted(after.cuts["label"]) == sorted(after.pieces["label"])
    counts = [{p.item: p.net_quantity for p in one.part_lines} for one in (before, after)]
    # two channels pass the joint: a connector and two seals each
    assert (counts[0].get("connector", 0.0), counts[1]["connector"]) == (0.0, 2.0)
    assert counts[1]["seal"] - counts[0]["seal"] == 4.0
    # the joint holds both sides: still one straight of all that stands on wall 1
    assert len(after.thermal_movement) == len(before.thermal_movement) == 3
    assert (after.thermal_movement["verdict"] == "pass").all()
    straight = after.joints[after.joints["kind"] == "straight"]
    assert straight["reason"].tolist() == ["the survey states a straight joint here"]
    assert abs(after.summary["cut_balance_mm"]) < 1e-6


def test_halves_go_where_there_is_room() -> None:
    # 5300 and 5300 leave 697 each; 1300 less 10 is 1290 in two halves of 645. One joint, a bar less.
    assert bars_of(found_in(surveyed(5.3, 1.3, 5.3))) == ([6000.0] * 3, [6000.0] * 2)
    # 4700, 3900 and 4700 are 13300: more than two bars
    assert bars_of(found_in(surveyed(4.7, 3.9, 4.7)))[1] == [6000.0] * 3


@pytest.mark.parametrize(
    ("cuts_m", "why"),
    [
        ((5.0, 5.0, 5.0), "15000 need three bars by their metres alone"),
        ((5.8, 0.4, 5.8), "12000 and the saw cuts are more than two bars"),
        ((3.0, 2.9, 3.0), "two bars already, 8900 being more than one"),
        ((5.998, 0.001 + 0.25, 5.998), "nothing is left over"),
    ],
)
def test_no_joint_where_it_saves_no_bar(cuts_m: tuple[float, ...], why: str) -> None:
    survey = surveyed(*cuts_m)
    found = found_in(survey)
    assert found.added == (), why
    assert found.survey is survey
    assert found.after == found.before
    assert found.searched


def test_no_joint_where_the_catalogue_has_none() -> None:
    without = replace(CATALOGUE, joints=tuple(joint for joint in CATALOGUE.joints if joint is not STRAIGHT))
    survey = surveyed(4.0, 4.0, 4.0, catalogue=without)
    found = found_in(survey)
    assert (found.added, found.survey, found.after) == ((), survey, found.before)


def test_no_half_is_shorter_than_the_shortest_piece() -> None:
    # halves of 1995 stand on 2045 of wall; if 2.05 m is required, nothing can be divided
    long = replace(CATALOGUE, profiles=(replace(PROFILE, min_piece_m=2.05),))
    assert found_in(surveyed(4.0, 4.0, 4.0, catalogue=long)).added == ()
    just = replace(CATALOGUE, profiles=(replace(PROFILE, min_piece_m=2.04),))
    assert len(found_in(surveyed(4.0, 4.0, 4.0, catalogue=just)).added) == 1


def test_wide_saw_cuts_and_trims_count() -> None:
    # a kerf of 6 leaves 1994 of a bar: a half of 1995 does not go in, the other would be in no bar at all
    wide = PartsOptions(cutting=CuttingOptions(kerf_mm=6.0, time_limit_s=5.0))
    assert found_in(surveyed(4.0, 4.0, 4.0), wide).added == ()
    trimmed = PartsOptions(cutting=CuttingOptions(end_trim_mm=2.0, time_limit_s=5.0))
    assert found_in(surveyed(4.0, 4.0, 4.0), trimmed).added == ()


def test_an_offcut_on_hand_takes_a_half() -> None:
    # 4500 thrice leaves 1497 of each bar: 2994 of 4490. An offcut of 3000 on the rack takes the rest.
    survey = surveyed(4.5, 4.5, 4.5)
    assert found_in(survey).added == ()
    on_hand = replace(QUICK, offcuts=(Offcut("rack", 3000.0, "profile"),))
    found = found_in(survey, on_hand)
    assert len(found.added) == 1
    assert found.after is not None
    assert (found.after.new_bars, sum(bool(bar.offcut_label) for bar in found.after.bars)) == (2, 1)
    unused = replace(on_hand, cutting=replace(QUICK.cutting, use_offcuts=False))
    assert found_in(survey, unused).added == ()


def test_a_straight_is_parted_once() -> None:
    found = found_in(surveyed(4.0, 4.0, 4.0))
    again = found_in(found.survey)
    assert again.added == ()
    assert again.survey is found.survey


def test_a_joint_that_takes_the_room_to_grow_is_not_made() -> None:
    # a straight joint in which one side slides by 0.1 mm parts the straight in two, and neither has room
    sliding = replace(STRAIGHT, free_end="one", slide_mm=0.1)
    stiff = tuple(sliding if joint is STRAIGHT else joint for joint in CATALOGUE.joints)
    survey = surveyed(4.0, 4.0, 4.0, catalogue=replace(CATALOGUE, joints=stiff))
    moves = parts_list_from(survey, build_layout(survey), 20.0, QUICK).thermal_movement
    assert (moves["verdict"] == "pass").all()
    parted = surveyed(4.0, 4.0, 4.0, catalogue=survey.catalogue, joints=(StraightJoint("Room", 1, 2.045),))
    assert (parts_list_from(parted, build_layout(parted), 20.0, QUICK).thermal_movement["verdict"] == "fail").any()
    assert found_in(survey).added == ()


# --- against every way to cut -----------------------------------------------------------------------------


def rooms_left_mm(pieces_mm: list[float], bars: int) -> list[list[float]]:
    """What is left over of bars of 6000, longest first, in every way to cut the pieces from at most so many."""
    ways: list[list[float]] = [[]]
    for piece_mm in pieces_mm:
        grown = []
        for way in ways:
            for place, left_mm in enumerate(way):
                if left_mm >= piece_mm:
                    grown.append([*way[:place], max(left_mm - piece_mm - 3.0, 0.0), *way[place + 1 :]])
            if len(way) < bars:
                grown.append([*way, max(6000.0 - piece_mm - 3.0, 0.0)])
        ways = grown
    return [sorted(way, reverse=True) for way in ways]


def can_be_parted(piece_mm: float, left_mm: list[float]) -> bool:
    """Whether two remainders take a piece less two take-offs of 5, halves of 200 or more (250 on the wall)."""
    need_mm = piece_mm - 10.0
    maximum, other = (left_mm[0] - 0.2, left_mm[1] - 0.2) if len(left_mm) > 1 else (0.0, 0.0)
    return max(need_mm - other, 200.0) <= min(maximum, need_mm - 200.0)


def test_as_good_as_every_way_to_cut() -> None:
    """A joint is found where and only where brute force finds one: two rooms of three pieces from bars of 6 m."""
    seeded = random.Random(11)
    saved = 0
    for _ in range(30):
        cuts_m = [seeded.randrange(600, 5900) / 1000.0 for _ in range(4)]
        first = surveyed(cuts_m[0], cuts_m[1], cuts_m[0])
        other = surveyed(cuts_m[2], cuts_m[3], cuts_m[2])
        rooms = (first.rooms[0], replace(other.rooms[0], name="Other"))
        loop = replace(other.loops[0], name="Other", arms=((RouteWalls("Other", (1, 2, 3)),),))
        found = found_in(replace(first, rooms=rooms, loops=(first.loops[0], loop)))
        assert found.before is not None
        pieces_mm = [round(1000.0 * cuts_m[i], 6) for i in (0, 1, 0, 2, 3, 2)]
        required = any(
            can_be_parted(piece_mm, way)
            for place, piece_mm in enumerate(pieces_mm)
            for way in rooms_left_mm([*pieces_mm[:place], *pieces_mm[place + 1 :]], found.before.new_bars - 1)
        )
        assert bool(found.added) == required, pieces_mm
        saved += required
    assert 3 <= saved <= 27


# --- straight joints of the survey ------------------------------------------------------------------------


def test_a_straight_joint_stands_where_the_survey_wants_it() -> None:
    layout = build_layout(
        surveyed(4.0, 4.0, 4.0, joints=(StraightJoint("Room", 2, 1.0), StraightJoint("Room", 2, 3.0)))
    )
    elements = layout.loop("Loop").arms[0].elements
    joints = [(e.wall, e.at_m) for e in elements if isinstance(e, PlacedJoint) and e.kind == "straight"]
    assert joints == [(2, 1.0), (2, 3.0)]
    cuts = [round(e.cut_m, 6) for e in elements if isinstance(e, Piece) and e.wall == 2]
    assert cuts == [0.95, 1.99, 1.04]


def test_what_is_too_long_beside_it_is_parted_as_ever() -> None:
    layout = build_layout(surveyed(4.0, 9.0, 4.0, joints=(StraightJoint("Room", 2, 1.0),)))
    cuts = [round(piece.cut_m, 6) for piece in layout.loop("Loop").pieces if piece.wall == 2]
    # 9090 - 1000 = 8090 less 5, 45 and 10 is 8030: two of 4015
    assert cuts == [0.95, 4.015, 4.015]


@pytest.mark.parametrize(
    "joint", [StraightJoint("Room", 4, 1.0), StraightJoint("Room", 2, 0.2), StraightJoint("Room", 1, 4.0)]
)
def test_a_straight_joint_that_cannot_stand_there(joint: StraightJoint) -> None:
    with pytest.raises(InputError) as error:
        build_layout(surveyed(4.0, 4.0, 4.0, joints=(joint,)))
    told = str(error.value)
    assert f'loop "Loop", straight joint 1: found {joint.at_m:g} m on wall {joint.wall} of room "Room"' in told
    assert "0.25 m or more from either end" in told


def test_a_straight_joint_behind_a_door() -> None:
    survey = surveyed(4.0, 4.0, 4.0, joints=(StraightJoint("Room", 2, 1.5),))
    walls = survey.rooms[0].walls
    door = replace(walls[1], openings=(Opening("door", 1.2, 0.8, 2.0),))
    with pytest.raises(InputError, match=r"straight joint 1: found 1\.5 m on wall 2"):
        build_layout(replace(survey, rooms=(replace(survey.rooms[0], walls=(walls[0], door, *walls[2:])),)))


# --- a whole design ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def annexe(mill_annexe: hl.Design) -> tuple[hl.Design, hl.BarSaving]:
    return mill_annexe, mill_annexe.save_bars(QUICK)


def test_the_design_is_made_again_with_the_joint(annexe: tuple[hl.Design, hl.BarSaving]) -> None:
    design, fewer = annexe
    # by hand: 2560 + 2560 + 3726 + 3508 + 678 + 3628 of 5000 and 3000; 3726 leaves 1271, 3508 leaves 1489 and
    # 3628 leaves 1369 of a bar of 5000, and 2560 less two take-offs of 4 is 2552: it goes into the last two
    told = fewer.summary
    assert (told["joints_added"], told["bars_before"], told["bars_after"], told["bars_saved"]) == (1, 5, 4, 1)
    assert told["stock_saved_m"] == pytest.approx(3.0)
    assert "1 additional straight joint saves 1 bar and 3.00 m of stock: 5 bars before, 4 now." in str(fewer)
    assert fewer.design.loops["heated_length_m"].iloc[0] == pytest.approx(design.loops["heated_length_m"].iloc[0])
    # the joint is in the water's way, once in each of three channels, and costs what the one there already does
    more_kpa = fewer.design.loops["pressure_drop_kpa"].iloc[0] - design.loops["pressure_drop_kpa"].iloc[0]
    first = design.elements[design.elements["kind"] == "joint"].iloc[0]
    assert 1000.0 * more_kpa == pytest.approx(first["pressure_drop_pa"], rel=0.02)
    before, after = ((one.elements["kind"] == "joint").sum() for one in (design, fewer.design))
    assert after == before + 3
    handover = fewer.design.parts(QUICK)
    assert handover.cut_plan == fewer.after


def test_what_is_to_be_written_into_the_survey(annexe: tuple[hl.Design, hl.BarSaving], tmp_path: Path) -> None:
    design, fewer = annexe
    (line,) = fewer.survey_lines
    key = line.removeprefix('loop "Annexe": ')
    assert tomllib.loads(key)["straight_joints"]
    text = (DATA / "mill-annexe" / "survey.toml").read_text(encoding="utf-8")
    assert text.count('\nname = "Annexe"\nprofile') == 1
    (tmp_path / "survey.toml").write_text(
        text.replace('\nname = "Annexe"\nprofile', f'\nname = "Annexe"\n{key}\nprofile'), encoding="utf-8"
    )
    catalogue = (DATA / "mill-annexe" / "catalogue.toml").read_text(encoding="utf-8")
    (tmp_path / "catalogue.toml").write_text(catalogue, encoding="utf-8")
    assert build_layout(hl.read_survey(tmp_path / "survey.toml")) == fewer.design.layout
    assert build_layout(design.survey) == design.layout != fewer.design.layout


def test_the_command_tells_what_is_saved(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    survey = DATA / "mill-annexe" / "survey.toml"
    prices = DATA / "alder-lodge" / "prices.csv"
    main(["price", str(survey), "--prices", str(prices), "--prefer", "fewest-bars"])
    told = capsys.readouterr().out
    assert "1 additional straight joint saves 1 bar and 3.00 m of stock" in told
    assert 'write into the survey, loop "Annexe": straight_joints = [{ room = "Annexe"' in told
    main(["price", str(survey), "--prices", str(prices)])
    assert "straight joint more" not in capsys.readouterr().out


def test_what_is_no_design() -> None:
    with pytest.raises(InputError, match="a Design"):
        save_bars("survey.toml")  # type: ignore[arg-type]
