"""First fix: floors, finishes and the limits of openings, against figures worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from heatloop.handover.first_fix.floors import floor_at_pipes
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.survey.building import FloorOrCeiling
from heatloop.survey.documents.first_fix import FirstFixBasis
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from tests.helpers.first_fixes import first_fix_of
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def lodge() -> SurveyData:
    return read_survey(DATA / "alder-lodge" / "draft.toml")


def _row(fix: FirstFixResult, check: str, location: str) -> dict:
    frame = fix.first_fix_checks
    (row,) = frame[(frame["check"] == check) & (frame["location"].str.split(",").str[0] == location)].to_dict("records")
    return row


def test_a_slab_takes_sleeves_and_a_timber_floor_holes(lodge: SurveyData) -> None:
    ground = floor_at_pipes(lodge, lodge.room("Kitchen-diner"))
    assert ground.word == "sleeve"
    assert ground.made_of == "screed 65, rigid foam board 100 on slab"
    assert ground.depth_m == pytest.approx(0.165)
    upper = floor_at_pipes(lodge, lodge.room("Nursery"))
    assert upper.word == "hole"
    assert math.isnan(upper.depth_m)
    bare = replace(lodge.room("Nursery"), floor=None)
    assert floor_at_pipes(lodge, bare).word == "opening"
    unnamed = replace(lodge.room("Nursery"), floor=FloorOrCeiling("Kitchen-diner"))
    assert floor_at_pipes(lodge, unnamed).word == "opening"
    for beyond, build_up, word in (
        ("Kitchen-diner", "upper floor, timber joists and plasterboard", "hole"),
        ("Kitchen-diner", "upper floor, concrete 150 mm with screed", "sleeve"),
        ("ground", "suspended timber ground floor, 100 mm between joists", "hole"),
        ("ground", "solid ground floor, 100 mm insulation", "sleeve"),
    ):
        usual = replace(lodge.room("Nursery"), floor=FloorOrCeiling(beyond, build_up))
        assert floor_at_pipes(lodge, usual).word == word


def test_a_screed_over_a_room_takes_sleeves_whichever_face_is_listed_first(lodge: SurveyData) -> None:
    slab = next(one for one in lodge.build_ups if one.name == "slab")
    boards = next(one for one in lodge.build_ups if one.name == "upper floor")
    for layers in (
        (boards.layers[0], *reversed(slab.layers)),  # from the ceiling of the room below
        (*slab.layers, boards.layers[0]),
    ):
        changed = replace(lodge, build_ups=(*lodge.build_ups, replace(slab, name="screed over a room", layers=layers)))
        room = replace(lodge.room("Nursery"), floor=FloorOrCeiling("Kitchen-diner", "screed over a room"))
        found = floor_at_pipes(changed, room)
        assert found.word == "sleeve"
        assert found.depth_m == pytest.approx(0.165)


def test_crossing_pipes_25_mm_apart_have_no_room_for_lagging(lodge: SurveyData) -> None:
    # copper 15 with 13 mm of insulation is 41 mm wide; the dining door's pipes stand 25 mm apart, 13 mm off the wall
    fix = first_fix_of(lodge)
    row = _row(fix, "space for insulation", "position 2")
    assert (row["calculated"], row["limit"], row["verdict"]) == (25.0, 41.0, "caution")
    assert "spread them to at least 41 mm" in row["recommendation"]
    beside = _row(fix, "space for insulation beside the wall", "position 2")
    assert (beside["calculated"], beside["limit"], beside["verdict"]) == (13.0, 20.5, "caution")
    apart = _row(fix, "space for insulation", "position 1")  # at a valve end: 65 mm apart
    assert (apart["calculated"], apart["verdict"]) == (65.0, "pass")


def test_a_drop_ends_above_the_slab(lodge: SurveyData) -> None:
    row = _row(first_fix_of(lodge), "depth within floor", "position 2")
    assert (row["calculated"], row["limit"], row["verdict"]) == (157.5, 165.0, "pass")
    slab = next(one for one in lodge.build_ups if one.name == "slab")
    thin = replace(slab, layers=(slab.layers[0], replace(slab.layers[1], thickness_m=0.090)))
    build_ups = tuple(thin if one is slab else one for one in lodge.build_ups)
    row = _row(first_fix_of(replace(lodge, build_ups=build_ups)), "depth within floor", "position 2")
    assert (row["calculated"], row["limit"], row["verdict"]) == (157.5, 155.0, "caution")


def test_holes_beside_a_wall_or_corner_cannot_be_bored(lodge: SurveyData) -> None:
    # a hole of 19 mm needs 9.5 + 15 mm; sleeves are set, not bored
    frame = first_fix_of(lodge).first_fix_checks
    bored = frame[frame["check"] == "space to bore"]
    upper = {f"position {mark.number}" for mark in first_fix_of(lodge).positions if mark.level_m > 0.0}
    assert upper <= {text.split(",")[0] for text in bored["location"]}
    assert set(bored["limit"]) == {24.5}
    assert "position 2" not in {text.split(",")[0] for text in bored["location"]}
    clear = replace(lodge, first_fix=FirstFixBasis(wall_finish_mm=13.0, bore_reach_mm=10.0))
    frame = first_fix_of(clear).first_fix_checks
    bored = frame[frame["check"] == "space to bore"]
    assert set(bored["limit"]) == {19.5}
    assert (bored["calculated"] <= 26.0).all()  # 13 mm off the finished wall, 26 mm off the bare one
    assert "pass" in set(bored["verdict"])


def test_openings_for_lagged_pipe(lodge: SurveyData) -> None:
    fix = first_fix_of(replace(lodge, first_fix=FirstFixBasis(opening="lagged")))
    assert set(fix.pipe_positions["opening_mm"]) == {45.0}


def test_figures_on_bare_walls_and_floors(lodge: SurveyData) -> None:
    fix = first_fix_of(replace(lodge, first_fix=FirstFixBasis(wall_finish_mm=15.0, floor_finish_mm=20.0)))
    rows = fix.pipe_positions.set_index("position")
    # kitchen, wall 4: begins at the outside corner, whose plaster comes off the bare straight
    assert rows.loc["2a", "from_left_m"] == pytest.approx(0.563)
    assert rows.loc["2a", "from_left_bare_m"] == pytest.approx(0.548)
    # wall 5 begins at an inside corner: the bare corner lies behind the plaster of wall 4
    assert rows.loc["4a", "from_left_bare_m"] - rows.loc["4a", "from_left_m"] == pytest.approx(0.015)
    assert (rows["height_bare_m"] - rows["height_m"]).to_list() == pytest.approx([0.020] * len(rows))
    unknown = first_fix_of(lodge).pipe_positions
    assert unknown["from_left_bare_m"].isna().all()
