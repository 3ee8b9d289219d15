"""Parts lists worked out by hand: what is counted, rounded up, cut and estimated; and what cannot be made."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.handover.cutting.model import CuttingOptions, Offcut
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsListResult, parts_list_from
from heatloop.layout.build import build_layout
from heatloop.layout.model import Arm, Layout, LoopLayout, PlacedJoint
from heatloop.layout.piece_ends import joint_reason, placed_pieces
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, CountRule, PackSize
from heatloop.survey.entry import read_survey
from heatloop.survey.loops import RouteCrossing, RouteEstimate, RouteWalls
from heatloop.survey.profiles import Channel
from heatloop.survey.read import read_catalogue
from heatloop.survey.survey import SurveyData
from tests.helpers.one_loop import CATALOGUE, DOOR, ENDS, JOINTS, PROFILE, QUICK, handed, survey_of
from tests.helpers.paths import DATA


def net(handover: PartsListResult) -> dict[str, float]:
    """Net quantity by item, profile left out."""
    return {part.item: part.net_quantity for part in handover.part_lines if part.kind != "profile"}


def ruled(*rules: CountRule, kind: str = "fittings", **changes: object) -> Catalogue:
    return replace(CATALOGUE, **{kind: rules}, **changes)  # type: ignore[arg-type]


def test_without_rules_profile_joints_ends_pipes_and_valves_are_counted() -> None:
    handover = handed(survey_of())
    assert net(handover) == pytest.approx(
        {
            "crossing": 1,
            "inside corner": 1,
            "valve end": 1,
            "turn end": 1,
            "vent": 1,
            "drain valve": 1,
            "thermostatic 15": 1,
            "lockshield 15": 1,
            # tails 2.0 + 2.5 m, two pipes of 0.8 + 2 x 0.2 m past the door
            "copper 15": 4.5 + 2 * 1.2,
            "copper 22": 8.0,
            "insulation 19 mm for copper 22": 8.0,
        }
    )
    copper = next(part for part in handover.part_lines if part.item == "copper 15")
    # first fix: 0.2 m at one end of each tail and at both ends of each crossing pipe, then a tenth of all
    assert copper.allowance == pytest.approx(2 * 0.2 + 4 * 0.2 + (6.9 + 1.2) / 10)
    assert copper.order_quantity == pytest.approx(copper.net_quantity + copper.allowance)
    assert "no rules in the catalogue" in handover.parts_notes["note"].str.cat(sep="\n")
    assert list(handover.parts["kind"].unique()) == [
        "profile", "joint", "end", "fitting", "valve", "pipe", "insulation",
    ]  # fmt: skip


def test_profile_is_listed_by_the_lengths_the_cut_list_takes() -> None:
    """Pieces of 1500 - 140 - 50 = 1310, 700 - 50 - 45 = 605 and 3500 - 45 - 60 = 3395 mm: 5310 and two kerfs do
    not fit in less than 7 m, and 4 m with 605 beside 3395 ends on the bar's end."""
    handover = handed(survey_of())
    assert handover.pieces["cut_length_mm"].tolist() == [1310.0, 605.0, 3395.0]
    rows = handover.parts[handover.parts["kind"] == "profile"]
    assert rows["pack"].tolist() == ["length of 4 m", "length of 3 m"]
    assert rows["pack_count"].tolist() == [1, 1]
    assert rows["order_quantity"].tolist() == [4.0, 3.0]
    assert rows["net_quantity"].sum() == pytest.approx(5.310)
    assert handover.summary["stock_m"] == 7.0
    assert handover.summary["cut_balance_mm"] == pytest.approx(0.0, abs=1e-9)


def test_second_fix_by_hand() -> None:
    sill = Opening("glazed door", 1.0, 1.5, 2.1, name="garden")
    walls = (Wall(3.0), Wall(3.5, openings=(sill,)), Wall(3.0), Wall(3.5))
    survey = survey_of(RouteWalls("Room", (2, 1), floor_sections=("garden",)), walls=walls)
    pieces = handed(survey).pieces.set_index("label")
    # anticlockwise: the water enters at the right of wall 2
    assert pieces["left_end"].to_dict() == {
        "Room 2c": "floor transition",
        "Room 2b": "floor transition",
        "Room 2a": "inside corner",
        "Room 1": "turn end",
    }
    assert pieces["mounting"].to_dict()["Room 2b"] == "floor section: garden"
    assert pieces.loc["Room 2a", "cut_length_mm"] == pytest.approx(1000 - 45 - 65)
    assert pieces.loc["Room 2a", "machining"] == "left: square cut; right: lip cut back"
    assert pieces.loc["Room 2b", "machining"] == "left: lip cut back; right: lip cut back"
    assert pieces["free_end"].to_dict() == {"Room 2c": "left", "Room 2b": "left", "Room 2a": "left", "Room 1": "left"}


@pytest.mark.common_practice
def test_common_practice_the_far_end_of_there_and_back_carries_vent_and_drain() -> None:
    """Common practice; a catalogue whose turn end has none gets a note that says where to add it."""
    handover = handed(survey_of())
    fittings = handover.parts[handover.parts["kind"] == "fitting"].set_index("item")["net_quantity"].to_dict()
    assert fittings == {"vent": 1, "drain valve": 1}
    bare = replace(CATALOGUE, ends=(ENDS[0], replace(ENDS[1], drain=False)))
    notes = handed(survey_of(catalogue=bare)).parts_notes
    assert notes.loc[notes["topic"] == "vent and drain", "note"].tolist() == [
        '"turn end" has no drain in the catalogue: add one at the far end'
    ]
    for folder in ("alder-lodge", "mill-annexe"):
        turn = read_catalogue(DATA / folder / "catalogue.toml").end("turn end")
        assert (turn.vent, turn.drain) == (True, True)


@pytest.mark.common_practice
def test_common_practice_crossings_go_in_at_first_fix() -> None:
    """Common practice: crossing pipes first, with something left over at each end, profile after."""
    table = handed(survey_of()).pipework
    assert table["use"].tolist() == ["trunk", "tail", "tail", "crossing"]
    crossing = table.iloc[3]
    assert (crossing["pipe_count"], crossing["from_m"], crossing["to_m"]) == (2, 1.5, 2.3)
    assert crossing["passes"] == "hall door"
    # two pipes of 1.2 m with 0.2 m left over at both ends
    assert crossing["total_length_m"] == pytest.approx(2 * (1.2 + 0.4))


@pytest.mark.common_practice
def test_common_practice_straight_joints_only_where_a_wall_is_longer_than_stock() -> None:
    long = tuple(Wall(length, turn) for length, turn in ((4.1, 90.0), (9.0, 90.0), (4.1, 90.0), (9.0, 90.0)))
    table = handed(survey_of(RouteWalls("Room", (1, 2)), walls=long)).joints
    # wall 1: 4100 - 140 - 45 mm is within the 4 m of stock; wall 2 takes three pieces
    assert table["kind"].tolist() == ["valve end", "inside corner", "straight", "straight", "turn end"]
    assert table["reason"].iloc[2].startswith("9.00 m is longer than the longest stock length of 4 m")


@pytest.mark.common_practice
@pytest.mark.parametrize(
    ("turn_deg", "joint", "words"),
    [
        (90.0, "inside corner", "turn of 90 degrees"),
        (86.0, "inside corner", "a turn of 86 degrees, within the 80 to 100 of the square joint"),
        (77.0, "angle", "a turn of 77 degrees: 13 degrees out of square, beyond the 80 to 100"),
        (-103.5, "angle", '13.5 degrees out of square, beyond the -100 to -80 that the joint "outside corner" takes'),
        (45.0, "angle", "a turn of 45 degrees: a deliberate angle"),
        (-45.0, "angle", "a turn of -45 degrees: a deliberate angle"),
    ],
)
def test_common_practice_a_corner_a_few_degrees_out_still_takes_the_square_joint(
    turn_deg: float, joint: str, words: str
) -> None:
    """Common practice: a few degrees out of square is a square joint, a deliberate angle an angle joint; the
    reason is printed when a corner is too far out."""
    kind = joint if joint == "angle" else ("inside corner" if turn_deg > 0 else "outside corner")
    at = PlacedJoint(kind, joint, "Room", 1, 3.0, turn_deg, 1.0, f"turn of {turn_deg:g} degrees")
    assert words in joint_reason(CATALOGUE, at)


def test_a_corner_out_of_square_in_a_catalogue_without_square_joints() -> None:
    only_angle = replace(CATALOGUE, joints=JOINTS[:1])
    at = PlacedJoint("angle", "angle", "Room", 1, 3.0, 95.0, 1.0)
    assert joint_reason(only_angle, at) == "a turn of 95 degrees: the catalogue has no inside corner"


def test_a_layout_with_a_piece_end_in_the_air_is_refused() -> None:
    survey = survey_of()
    (arm,) = build_layout(survey).loops[0].arms
    for kept, words in ((arm.elements[1:], "its start meets nothing"), (arm.elements[:-1], "its end meets nothing")):
        broken = Layout((LoopLayout("Loop", (Arm(kept),)),), ())
        with pytest.raises(ValueError, match=words):
            placed_pieces(survey, broken)
    without = tuple(e for i, e in enumerate(arm.elements) if i != 2)
    with pytest.raises(ValueError, match="'Room 1a': its end meets piece 'Room 1b'"):
        placed_pieces(survey, Layout((LoopLayout("Loop", (Arm(without),)),), ()))


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (CountRule("x", "joint"), 2),  # corner and crossing
        (CountRule("x", "joint", at=("inside corner",)), 1),
        (CountRule("x", "joint-channel", 2.0, at=("crossing",)), 4),
        (CountRule("x", "joint-channel"), 4),
        (CountRule("x", "end"), 2),
        (CountRule("x", "end-channel", at=("turn end",)), 2),
        (CountRule("x", "piece"), 3),
        (CountRule("x", "piece", at=("floor section",)), 0),
        (CountRule("x", "metre", unit="m"), 1.310 + 0.605 + 3.395),
        (CountRule("x", "straight"), 3),
        (CountRule("x", "fixed end"), 3),
        (CountRule("x", "fixed end", at=("valve end",)), 1),
        (CountRule("x", "free end", at=("crossing", "inside corner", "turn end")), 3),
        (CountRule("x", "anchor"), 0),
        (CountRule("x", "run"), 1),
        (CountRule("x", "loop"), 1),
        (CountRule("x", "room"), 1),
        (CountRule("x", "valve", 3.0), 6),
        (CountRule("x", "litre", 0.01, unit="l"), 0.3),
        # 1310: 0.1 + 2 gaps; 605: 1 gap; 3395: 6 gaps of at most 0.6 m
        (CountRule("x", "spacing", spacing_m=0.6, end_m=0.1), 3 + 2 + 7),
        (CountRule("x", "spacing", 2.0, at=("wall",), spacing_m=0.6, end_m=0.1), 24),
        (CountRule("x", "joint", profiles=("two-channel",)), 2),
        (CountRule("x", "joint", profiles=("another",)), 0),
    ],
    ids=lambda value: value.per if isinstance(value, CountRule) else f"{value:g}",
)
def test_what_each_rule_counts(rule: CountRule, expected: float) -> None:
    handover = handed(survey_of(catalogue=ruled(rule, kind="fixings")))
    assert net(handover).get("x", 0.0) == pytest.approx(expected)


def test_anchors_are_counted_where_the_plan_has_one() -> None:
    narrow = tuple(replace(j, slide_mm=2.5) if j.name in ("crossing", "inside corner") else j for j in JOINTS)
    catalogue = ruled(CountRule("x", "anchor"), kind="fixings", joints=narrow)
    walls = (Wall(3.0), Wall(3.5, openings=(replace(DOOR, start_m=0.0),)), Wall(3.0), Wall(3.5))
    handover = handed(survey_of(RouteWalls("Room", (1, 2, 3)), walls=walls, catalogue=catalogue))
    assert net(handover)["x"] == 1 == handover.summary["anchors"]


def test_three_channels_take_three_fittings_by_the_same_rules() -> None:
    rules = (CountRule("elbow", "joint-channel", at=("inside corner",)), CountRule("cover", "joint"))
    three = ruled(*rules, profiles=(replace(PROFILE, channels=(Channel(10.0),) * 3),))
    assert net(handed(survey_of(catalogue=ruled(*rules))))["elbow"] == 2
    counted = net(handed(survey_of(catalogue=three)))
    assert (counted["elbow"], counted["cover"]) == (3, 2)
    # three pipes past the door
    assert counted["copper 15"] == pytest.approx(4.5 + 3 * 1.2)


def test_a_joint_made_of_fittings_is_no_item_of_its_own() -> None:
    catalogue = ruled(CountRule("elbow", "joint-channel", at=("inside corner",)))
    assert "inside corner" not in net(handed(survey_of(catalogue=catalogue)))
    assert "crossing" in net(handed(survey_of(catalogue=catalogue)))
    sealed = ruled(CountRule("seal", "joint-channel"), kind="consumables")
    assert "inside corner" in net(handed(survey_of(catalogue=sealed)))


def test_rules_of_one_item_add_up_with_spares_and_packs() -> None:
    rules = (
        CountRule("seal", "joint-channel", 2.0, spares_percent=10.0),
        CountRule("seal", "end-channel", spares_percent=10.0),
    )
    packs = (PackSize("seal", "bag of 5", 5.0), PackSize("seal", "bag of 12", 12.0))
    handover = handed(survey_of(catalogue=ruled(*rules, kind="consumables", packs=packs)))
    (seal,) = [part for part in handover.part_lines if part.item == "seal"]
    # 2 x 4 joint-channels and 4 end-channels; spares 0.8 and 0.4, a whole one each: 14 in 5 + 5 + 5
    assert (seal.net_quantity, seal.allowance, seal.order_quantity) == (12, 2, 15)
    assert [(p.name, p.count) for p in seal.packs] == [("bag of 5", 3)]
    assert seal.note == "2 per joint-channel; 1 per end-channel"
    row = handover.parts.set_index("item").loc["seal"]
    assert (row["pack"], row["pack_count"], row["for_loops"]) == ("bag of 5", 3, "Loop")


def test_part_of_a_piece_is_ordered_whole() -> None:
    handover = handed(survey_of(catalogue=ruled(CountRule("tube", "joint", 0.2), kind="consumables")))
    (tube,) = [part for part in handover.part_lines if part.item == "tube"]
    assert (tube.net_quantity, tube.order_quantity) == (1, 1)


def test_positions_of_brackets_stand_in_the_second_fix() -> None:
    rule = CountRule("bracket", "spacing", at=("wall",), spacing_m=0.6, end_m=0.1)
    pieces = handed(survey_of(catalogue=ruled(rule, kind="fixings"))).pieces
    assert pieces["bracket_positions_mm"].iloc[0] == "bracket: 100, 655, 1210"
    screws, closer = replace(rule, item="screw"), replace(rule, item="clip", spacing_m=0.4)
    pieces = handed(survey_of(catalogue=ruled(rule, screws, closer, kind="fixings"))).pieces
    assert pieces["bracket_positions_mm"].iloc[0] == "bracket, screw: 100, 655, 1210; clip: 100, 470, 840, 1210"


ATTIC = Room("Attic", 18.0, heat_loss_w=300.0, estimated_wall_m=7.0)
QUOTED = (RouteWalls("Room", (1, 2)), RouteCrossing("copper 15", 1.0), RouteEstimate("Attic", 7.0))


def test_a_room_before_its_survey_is_an_estimate_in_every_line_and_in_no_cut_list() -> None:
    rules = (CountRule("elbow", "joint-channel", at=("inside corner",)), CountRule("bracket", "spacing", spacing_m=0.6))
    handover = handed(survey_of(*QUOTED, rooms=(ATTIC,), catalogue=ruled(*rules)))
    parts = handover.parts.set_index("item")
    # 7 m as three pieces of 2.33 m with two inside corners between
    assert parts.loc["elbow", "net_quantity"] == 2 * (1 + 2)
    # 0.3 m from the ends at most: 1310, 605 and 3405 mm take 3, 2 and 6, each of the three 4
    assert parts.loc["bracket", "net_quantity"] == 3 + 2 + 6 + 3 * 4
    assert bool(parts.loc["elbow", "is_estimate"])
    assert "4 of this estimated" in parts.loc["elbow", "note"]
    assert not bool(parts.loc["turn end", "is_estimate"])
    profile = handover.parts[handover.parts["kind"] == "profile"]
    (guess,) = profile[profile["is_estimate"]].to_dict("records")
    assert (guess["net_quantity"], guess["order_quantity"]) == (7.0, pytest.approx(7.7))
    assert "not in the cut list" in guess["note"]
    assert handover.summary["is_estimate"] is True
    assert handover.summary["estimate_m"] == 7.0
    assert not handover.pieces["label"].str.contains("Attic").any()
    assert not handover.cuts["label"].str.contains("Attic").any()
    assert handover.parts_notes["note"].str.contains("Attic: estimate").any()


def test_a_job_of_nothing_but_estimates_has_no_cut_list() -> None:
    handover = handed(survey_of(RouteEstimate("Attic", 7.0), rooms=(ATTIC,)))
    assert handover.cut_plan is None
    assert handover.cuts.empty
    assert handover.pieces.empty
    assert handover.thermal_movement.empty
    assert list(handover.cuts.columns)[:3] == ["bar", "profile", "stock_mm"]
    assert handover.parts["is_estimate"].iloc[0]


def fault_of(survey: SurveyData, options: PartsOptions = QUICK) -> str:
    with pytest.raises(InputError) as error:
        handed(survey, options)
    return str(error.value)


def test_a_wall_longer_than_any_stock_where_no_straight_joint_may_be() -> None:
    without = replace(CATALOGUE, joints=tuple(j for j in JOINTS if j.name != "straight"))
    long = (Wall(7.0), Wall(2.0), Wall(7.0), Wall(2.0))
    message = fault_of(survey_of(RouteWalls("Room", (1,)), walls=long, catalogue=without))
    assert 'loop "Loop", room "Room", wall 1: found 7.00 m of wall' in message
    assert "a straight joint in the catalogue, stock being 4 m at most" in message


def test_an_angle_no_joint_makes() -> None:
    bay = (Wall(3.0, 45.0), Wall(2.0, 45.0), Wall(3.0), Wall(4.414), Wall(4.414))
    square_only = replace(CATALOGUE, joints=JOINTS[1:])
    message = fault_of(survey_of(RouteWalls("Room", (1, 2)), walls=bay, catalogue=square_only))
    assert "found a turn of 45 degrees that no joint can make" in message


def test_trims_that_leave_no_stock_long_enough() -> None:
    trimmed = replace(QUICK, cutting=CuttingOptions(end_trim_mm=400.0, time_limit_s=0.5))
    message = fault_of(survey_of(), trimmed)
    assert "cut list: found piece 'Room 2' is 3395 mm, longer than any stock" in message


def test_options_of_cutting_out_of_range_have_a_line_each() -> None:
    wrong = replace(QUICK, cutting=CuttingOptions(kerf_mm=-1.0, time_limit_s=-5.0))
    kerf, limit = fault_of(survey_of(), wrong).splitlines()
    assert kerf.endswith("cut list: found kerf_mm is -1.0; required: a finite number of 0 or more")
    assert limit.endswith("cut list: found time_limit_s is -5.0; required: a finite number above 0")


def test_options_out_of_range_are_reported_at_once() -> None:
    wrong = PartsOptions(installation_temp_c=60.0, min_gap_mm=-1.0, estimate_piece_m=0.0, assumed_waste_percent=150.0)
    message = fault_of(survey_of(), wrong).splitlines()
    assert len(message) == 4
    assert message[0] == (
        'parts list: installation_temp_c: found 60; required: -40 to 50, the greatest flow temperature of loop "Loop"'
    )


def test_offcuts_on_hand_are_used_and_not_ordered() -> None:
    options = replace(QUICK, offcuts=(Offcut("rack 1", 3400.0, "two-channel"),))
    handover = handed(survey_of(), options)
    rows = handover.parts[handover.parts["kind"] == "profile"]
    assert rows["order_quantity"].tolist() == [3.0]
    assert handover.cuts["stock_source"].tolist().count("offcut rack 1") == 1


@pytest.mark.parametrize("folder", ["alder-lodge", "mill-annexe"])
def test_the_demonstration_counts_its_channels_and_says_it_is_invented(folder: str) -> None:
    survey = read_survey(DATA / folder / "survey.toml")
    catalogue = survey.catalogue
    rules = (*catalogue.fittings, *catalogue.fixings, *catalogue.consumables, *catalogue.packs)
    assert rules
    assert all(rule.invented for rule in rules)
    handover = handed(survey)
    assert handover.movement_plan.possible
    assert handover.summary["cut_balance_mm"] == pytest.approx(0.0, abs=1e-6)
    corners = handover.joints[handover.joints["kind"].isin(["inside corner", "outside corner"])]
    elbows = sum(part.net_quantity for part in handover.part_lines if part.item.startswith("elbow"))
    assert elbows == corners["channels"].sum() > 0
    text = tomllib.loads((DATA / folder / "catalogue.toml").read_text(encoding="utf-8"))
    assert {row["item"] for row in text["pack"]} & {part.item for part in handover.part_lines}


def test_finishes_of_one_profile_are_cut_and_ordered_apart() -> None:
    survey = read_survey(DATA / "alder-lodge" / "draft.toml")
    loops = tuple(replace(loop, finish="black") if loop.name == "Kitchen" else loop for loop in survey.loops)
    survey = replace(survey, loops=loops)
    handover = parts_list_from(survey, build_layout(survey), 30.0)
    kinds = {bar.grain for bar in handover.cut_plan.bars}
    assert kinds == {"two-channel 140", "two-channel 140, black"}
    of_kitchen = {one.piece.label for one in handover.standings if one.loop == "Kitchen"}
    for bar in handover.cut_plan.bars:
        assert ({cut.label for cut in bar.cuts} <= of_kitchen) == (bar.grain == "two-channel 140, black")
    ordered = {part.item for part in handover.part_lines if part.kind == "profile"}
    assert ordered == kinds
