"""Contradictions in a survey are reported: slab and rooms, the two sides of a wall, a floor and a doorway."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult
from heatloop.results.checks.plausibility import plausibility_checks
from heatloop.survey.building import BuildUp, FloorOrCeiling, Layer, Opening, Room, Wall
from heatloop.survey.survey import SurveyData
from tests.helpers.paths import DATA, HARBOUR_LOFT

SURVEYS = (
    DATA / "alder-lodge" / "survey.toml",
    DATA / "mill-annexe" / "survey.toml",
    HARBOUR_LOFT / "survey.toml",
)


@pytest.fixture(scope="module")
def lodge() -> SurveyData:
    return hl.read_survey(SURVEYS[0])


def only(survey: SurveyData) -> CheckResult:
    (row,) = plausibility_checks(survey)
    assert row.verdict == "caution"
    assert row.recommendation
    return row


def with_room(survey: SurveyData, name: str, change: Callable[[Room], Room]) -> SurveyData:
    return replace(survey, rooms=tuple(change(room) if room.name == name else room for room in survey.rooms))


def with_walls(survey: SurveyData, name: str, change: Callable[[Wall], Wall]) -> SurveyData:
    return with_room(survey, name, lambda room: replace(room, walls=tuple(map(change, room.walls))))


def with_doorway(survey: SurveyData, room: str, name: str, **changes: object) -> SurveyData:
    def wall(given: Wall) -> Wall:
        found = tuple(
            replace(o, **changes) if o.name == name else o  # type: ignore[arg-type]
            for o in given.openings
        )
        return replace(given, openings=found)

    return with_walls(survey, room, wall)


def doorways(survey: SurveyData) -> list[tuple[str, Opening]]:
    """Every side of every doorway between two rooms."""
    rooms = {room.name for room in survey.rooms}
    return [(r.name, o) for r in survey.rooms for w in r.walls for o in w.openings if o.name and w.beyond in rooms]


@pytest.mark.parametrize("path", SURVEYS, ids=lambda path: path.parent.name)
def test_a_survey_that_agrees_with_itself_raises_no_doubt(path: Path) -> None:
    assert list(plausibility_checks(hl.read_survey(path))) == []


# --- slab ---------------------------------------------------------------------------------------------


def with_slab(survey: SurveyData, area_m2: float, edge_m: float) -> SurveyData:
    building = replace(survey.building, slab_area_m2=area_m2, slab_exposed_perimeter_m=edge_m)
    return replace(survey, building=building)


def test_the_slab_of_one_room_under_three_is_reported(lodge: SurveyData) -> None:
    row = only(with_slab(lodge, 30.8, 34.8))
    assert (row.check, row.calculated) == ("slab as large as the rooms on it", 30.8)
    assert row.limit == pytest.approx(30.823 + 21.530 + 9.860, abs=0.001)


def test_an_edge_shorter_than_the_outer_walls_is_reported(lodge: SurveyData) -> None:
    row = only(with_slab(lodge, 72.0, 20.0))
    assert row.check == "edge of the slab as long as the outer walls on it"
    outer = [7.6, 2.9, 4.81, 1.1, 0.85, 1.5, 0.85, 0.8, 4.41, 3.4]
    assert row.limit == pytest.approx(sum(outer))


def test_a_slab_narrower_than_a_metre_is_reported(lodge: SurveyData) -> None:
    row = only(with_slab(lodge, 72.0, 348.0))
    assert (row.check, row.calculated) == ("plausible width of the slab", pytest.approx(2.0 * 72.0 / 348.0))


def test_a_slab_far_larger_than_all_the_rooms_it_carries_is_reported(lodge: SurveyData) -> None:
    """One room that stands free: 4 m by 5 m."""
    slab = FloorOrCeiling("ground", "slab")
    walls = tuple(Wall(length, beyond="outdoors", build_up="outer wall") for length in (4.0, 5.0, 4.0, 5.0))
    free = replace(lodge, rooms=(Room("Hut", 20.0, walls=walls, floor=slab),))
    assert list(plausibility_checks(with_slab(free, 24.0, 20.0))) == []
    row = only(with_slab(free, 200.0, 18.0))
    assert (row.check, row.limit) == ("slab not larger than its rooms", pytest.approx(20.0))
    row = only(with_slab(free, 24.0, 36.0))
    assert row.check == "edge of the slab not longer than its outer walls"
    beside = replace(walls[0], beyond=None)
    half = replace(lodge, rooms=(Room("Hut", 20.0, walls=(beside, *walls[1:]), floor=slab),))
    assert list(plausibility_checks(with_slab(half, 200.0, 18.0))) == []


# --- partitions and floors ----------------------------------------------------------------------------


def test_two_build_ups_of_one_partition_are_reported(lodge: SurveyData) -> None:
    def lined(wall: Wall) -> Wall:
        return replace(wall, build_up="outer wall") if wall.beyond == "Kitchen-diner" else wall

    row = only(with_walls(lodge, "Living room", lined))
    assert (row.check, row.location) == ("one build-up on both sides", "Kitchen-diner and Living room, partition")
    assert '"partition" and "outer wall"' in row.recommendation


def test_layers_listed_from_the_other_face_are_the_same_partition(lodge: SurveyData) -> None:
    tiles, board = Layer("tiles", 0.01, 1.0), Layer("board", 0.012, 0.21)
    both = (BuildUp("one way", (tiles, board)), BuildUp("other way", (board, tiles)))

    def towards(name: str, build_up: str) -> Callable[[Wall], Wall]:
        return lambda wall: replace(wall, build_up=build_up) if wall.beyond == name else wall

    survey = replace(lodge, build_ups=(*lodge.build_ups, *both))
    survey = with_walls(survey, "Living room", towards("Kitchen-diner", "one way"))
    assert not list(plausibility_checks(with_walls(survey, "Kitchen-diner", towards("Living room", "other way"))))
    assert only(with_walls(survey, "Kitchen-diner", towards("Living room", "partition")))


def test_two_build_ups_of_one_floor_are_reported(lodge: SurveyData) -> None:
    ceiling = FloorOrCeiling("Nursery", "loft")
    row = only(with_room(lodge, "Kitchen-diner", lambda room: replace(room, ceiling=ceiling)))
    assert (row.check, row.location) == ("one build-up on both sides", "Nursery, floor over Kitchen-diner")


def test_a_partition_much_longer_on_one_side_is_reported(lodge: SurveyData) -> None:
    """The east wall of the study said to lead to the living room."""
    study = next(room for room in lodge.rooms if room.name == "Study")
    walls = (*study.walls[:2], replace(study.walls[2], beyond="Living room", build_up="partition"), study.walls[3])
    row = only(with_room(lodge, "Study", lambda room: replace(room, walls=walls)))
    assert (row.check, row.calculated) == ("length of a partition in both rooms", pytest.approx(2.81 + 2.90 - 2.85))


# --- doorways -----------------------------------------------------------------------------------------


def test_every_doorway_moved_by_300_mm_in_one_of_its_rooms_is_reported(lodge: SurveyData) -> None:
    sides = doorways(lodge)
    assert len(sides) == 16
    for room, opening in sides:
        for step_m in (-0.3, 0.3):
            moved = with_doorway(lodge, room, str(opening.name), start_m=opening.start_m + step_m)
            row = only(moved)
            assert row.check == "position of a doorway in both rooms"
            assert f'"{opening.name}"' in row.location
            assert room in row.location
            assert 0.15 < row.calculated < 0.4


def test_a_short_wall_may_face_any_part_of_a_longer_one_and_not_hang_over() -> None:
    """A wall of 3 m that faces part of one of 5 m: its doorway may be anywhere that leaves it within."""

    def pair(start_m: float) -> SurveyData:
        door = Opening("door", 1.0, 0.8, 2.0, name="door", build_up="inner door")
        long = Wall(5.0, beyond="Short", build_up="partition", openings=(replace(door, start_m=start_m),))
        short = Wall(3.0, beyond="Long", build_up="partition", openings=(door,))
        lodge = hl.read_survey(SURVEYS[0])
        rooms = (
            Room("Long", 20.0, walls=(long, *(Wall(5.0),) * 3)),
            Room("Short", 20.0, walls=(short, *(Wall(5.0),) * 3)),
        )
        return replace(lodge, rooms=rooms)

    places = {start: [row.check for row in plausibility_checks(pair(start))] for start in (0.8, 1.2, 2.5, 3.2, 3.6)}
    place, length = "position of a doorway in both rooms", "length of a partition in both rooms"
    assert places == {0.8: [length, place], 1.2: [length], 2.5: [length], 3.2: [length], 3.6: [length, place]}


def test_a_doorway_of_two_heights_is_reported_where_the_floors_are_level(lodge: SurveyData) -> None:
    low = with_doorway(lodge, "Hall", "study door", height_m=1.98)
    row = only(low)
    assert (row.check, row.calculated) == ("height of a doorway in both rooms", pytest.approx(0.06))
    assert '"study door"' in row.location
    stepped = with_room(low, "Hall", lambda room: replace(room, level_m=0.06))
    assert not list(plausibility_checks(stepped))
    assert not list(plausibility_checks(with_doorway(lodge, "Hall", "study door", height_m=2.03)))


def test_a_door_of_two_build_ups_is_reported(lodge: SurveyData) -> None:
    row = only(with_doorway(lodge, "Hall", "study door", build_up="front door"))
    assert (row.check, row.location) == ("one build-up on both sides", 'Hall and Study, "study door"')


@pytest.mark.parametrize(
    ("beyond", "stated"), [("outdoors", 'side is "outdoors"'), ("Roof space", 'side is "Roof space"')]
)
def test_a_doorway_that_leads_elsewhere_from_its_other_side_is_reported(
    lodge: SurveyData, beyond: str, stated: str
) -> None:
    row = only(with_doorway(lodge, "Study", "study door", beyond=beyond))
    assert (row.check, row.location) == ("adjacent sides of a doorway", 'Hall and Study, "study door"')
    assert 'from "Hall" it leads to "Study"' in row.recommendation
    assert stated in row.recommendation


def test_windows_of_one_name_in_two_rooms_are_two_windows(lodge: SurveyData) -> None:
    named = with_walls(
        lodge,
        "Nursery",
        lambda w: replace(w, openings=tuple(replace(o, name=o.name or "casement") for o in w.openings)),
    )
    named = with_walls(
        named,
        "Box room",
        lambda w: replace(w, openings=tuple(replace(o, name=o.name or "casement") for o in w.openings)),
    )
    assert not list(plausibility_checks(named))


def test_a_contradiction_is_a_caution_of_the_design(tmp_path: Path) -> None:
    text = SURVEYS[2].read_text(encoding="utf-8").replace("slab_area_m2 = 60.0", "slab_area_m2 = 20.0")
    (tmp_path / "survey.toml").write_text(text, encoding="utf-8")
    (tmp_path / "catalogue.toml").write_text((HARBOUR_LOFT / "catalogue.toml").read_text(encoding="utf-8"))
    checks = hl.size(tmp_path / "survey.toml").checks
    row = checks[checks["check"] == "slab as large as the rooms on it"].iloc[0]
    assert (row["verdict"], row["calculated"], row["limit"]) == ("caution", 20.0, pytest.approx(25.0))
