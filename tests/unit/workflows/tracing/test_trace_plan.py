"""A plan on paper, traced as a hand does it, gives the rooms, the lengths and the design of its survey."""

import io
import json
import math
import re
import tomllib
from collections import Counter

import numpy as np
import pytest

import heatloop as hl
from heatloop.workflows.tracing.trace_plan import PlanTrace
from tests.helpers.paths import ROOT
from tests.helpers.traced_house import LODGE, PLAN, corners, entered, hand, in_picture, steps, storeys, surveyed_lengths

images = pytest.importorskip("PIL.Image")
pytest.importorskip("pypdfium2")
pytest.importorskip("anywidget")

SCREEN_PX = 2.0
"""The whole page in a window of 870 pixels."""
LEVELS_M = [0.0, 2.65]
MAX_CLICKS = 250


def traced(state, survey, astray, screen_px=SCREEN_PX) -> PlanTrace:
    trace = hl.trace_plan(PLAN, [1, 2], level_m=LEVELS_M, state=state)
    for event, values in steps(survey, astray, screen_px):
        trace.act(event, **values)
        assert not trace._kept.session.refused, trace._kept.session.message
    return trace


@pytest.fixture(scope="module")
def survey():
    return hl.read_survey(LODGE)


@pytest.fixture(scope="module")
def trace(survey, tmp_path_factory):
    return traced(tmp_path_factory.mktemp("trace") / "lodge.json", survey, hand(1, SCREEN_PX))


def test_the_plan_is_drawn_where_the_clicks_fall(survey):
    """Every corner of a room is dark on the page that is in the checkout."""
    trace = hl.trace_plan(PLAN, [1, 2], level_m=LEVELS_M, state=ROOT / "nowhere.json")
    for picture, storey in zip(trace._kept._pictures, storeys(survey), strict=True):
        grey = np.asarray(images.open(io.BytesIO(picture.content)).convert("L"))
        for room in storey.rooms:
            for corner in corners(room):
                x, y = (round(value) for value in in_picture(corner))
                assert grey[y - 2 : y + 3, x - 2 : x + 3].min() < 128, (room.name, corner)


@pytest.mark.parametrize("seed", range(4))
def test_lengths_are_right_within_the_stated_error(survey, tmp_path, seed):
    table = traced(tmp_path / "lodge.json", survey, hand(seed, SCREEN_PX)).lengths
    shares = []
    for room in survey.rooms:
        rows = table[table["room"] == room.name]
        for length_m, row in zip(surveyed_lengths(room), rows.itertuples(), strict=True):
            shares.append(abs(row.length_m - length_m) / row.error_m)
    assert 0.25 < max(shares) <= 1.0
    assert table["error_m"].max() < 0.16


def test_enlarged_the_stated_error_is_smaller(survey, tmp_path):
    near = traced(tmp_path / "lodge.json", survey, hand(1, 0.5), 0.5).lengths
    assert near["error_m"].max() < 0.10
    assert near[near["room"] == "Hall"]["error_m"].max() < 0.05


def test_the_rooms_are_those_of_the_survey(survey, trace):
    """Names, levels, turns, what is behind every wall, the openings in order; numbers that no plan has are NaN."""
    assert trace.issues == ()
    assert {room.name: room.level_m for room in trace.rooms} == {room.name: room.level_m for room in survey.rooms}
    assert entered(survey, trace.rooms)
    for room in trace.rooms:
        assert math.isnan(room.indoor_c)
        assert room.first_wall_bearing_deg == 0.0
        assert all(math.isnan(one.height_m) for wall in room.walls for one in wall.openings if one.kind == "window")


def test_the_design_is_that_of_the_survey_within_the_stated_error(survey, trace, alder_lodge):
    """A heat loss is at most proportional to each side of a room. What the skirting gives follows its lengths, and the
    temperatures along a loop those of the rooms before: twice that is allowed."""
    design = hl.size(entered(survey, trace.rooms))
    table = trace.lengths.groupby("room")["error_m"].max()
    before, after = (one.rooms.set_index("room")[["heat_loss_w", "heat_to_rooms_w"]] for one in (alder_lodge, design))
    ratios = after / before
    for storey in storeys(survey):
        for room in storey.rooms:
            xs, ys = zip(*corners(room), strict=True)
            share_x, share_y = (table[room.name] / (max(side) - min(side)) for side in (xs, ys))
            share = share_x + share_y + share_x * share_y
            loss, given = (ratios[name][room.name] for name in ("heat_loss_w", "heat_to_rooms_w"))
            assert abs(loss - 1.0) <= share < 0.08
            assert abs(given - 1.0) <= 2.0 * share
    assert design.verdict.state == alder_lodge.verdict.state


def test_the_clicks_are_counted(survey):
    """Those of the how-to: on the picture and on the tools; a page is chosen in two."""
    counted = Counter(event for event, _ in steps(survey, lambda point: point, SCREEN_PX))
    clicks = counted["click"] + counted["tool"] + 2 * counted["page"]
    typed = sum(len(values["text"]) for event, values in steps(survey, lambda point: point, 1.0) if event == "text")
    page = (ROOT / "docs" / "how-to" / "trace-a-plan.md").read_text(encoding="utf-8")
    assert re.search(rf"takes\s+{clicks}\s+clicks\s+and\s+{typed}\s+typed\s+characters", page), (clicks, typed)
    assert clicks <= MAX_CLICKS


def test_a_tracing_is_saved_at_every_change_and_restored(survey, trace):
    again = hl.trace_plan(PLAN, [1, 2], level_m=[7.0, 8.0], state=trace.state_path)
    assert again._kept.session.tracing == trace._kept.session.tracing
    assert again.to_toml() == trace.to_toml()
    assert again._kept.session.tool == "room"
    third = hl.trace_plan(PLAN, 1, state=trace.state_path.with_name("other.json"))
    assert third._kept.session.tracing.room_names == ()


def test_a_tracing_is_kept_beside_its_plan(tmp_path):
    plan = tmp_path / "house.pdf"
    plan.write_bytes(PLAN.read_bytes())
    trace = hl.trace_plan(plan)
    assert trace._kept.scene["saved"] == "Nothing to save yet"
    for x in (200.0, 1000.0):
        trace.act("click", x=x, y=900.0)
    assert not trace.state_path.exists()
    trace.act("text", text="8")
    assert trace.state_path == tmp_path / "house.pdf.trace.json"
    assert json.loads(trace.state_path.read_text())["pages"][0]["scale"]["length_m"] == 8.0
    assert trace._kept.scene["saved"] == "Saved in house.pdf.trace.json"
    assert hl.trace_plan(plan)._kept.session.tool == "room"


def test_a_tracing_that_cannot_be_saved_goes_on_and_says_so(tmp_path):
    trace = hl.trace_plan(PLAN, state=tmp_path / "none" / "lodge.json")
    for x in (200.0, 1000.0):
        trace.act("click", x=x, y=900.0)
    trace.act("text", text="8")
    assert trace._kept.session.page.scale is not None
    assert trace._kept.scene["saved"] == "Not saved: No such file or directory"


def test_the_survey_file_has_a_mark_for_what_a_plan_does_not_contain(trace, tmp_path):
    text = trace.to_toml(project="Alder\nLodge", indoor_c=20.0, height_m=2.4)
    head = text.splitlines()[:3]
    assert head[0] == "# Alder\\nLodge: traced on plan.pdf, to be completed on site."
    assert re.fullmatch(r"# Page 1: A length of 4 m is right to within \d+ mm\.", head[1])
    tables = tomllib.loads(text)
    assert [room["level_m"] for room in tables["room"]] == [0.0] * 4 + [2.65] * 5
    assert {room["indoor_c"] for room in tables["room"]} == {20.0}
    windows = [
        one for room in tables["room"] for wall in room["walls"] for one in wall.get("openings", ())
        if one["kind"] == "window"
    ]  # fmt: skip
    assert {one["height_m"] for one in windows} == {"?"}
    written = trace.save(tmp_path / "job", outdoor_c=-3.0, flow_temp_c=50.0)
    assert [path.name for path in written] == ["survey.toml", "catalogue.toml"]
    with pytest.raises(hl.InputError) as error:
        hl.read_survey(written[0])
    assert {issue.found for issue in error.value.issues} == {"the text '?'", '"?"'}
    assert len(hl.plan(written[0]).levels) == 2
    with pytest.raises(hl.InputError, match="there already"):
        trace.save(tmp_path / "job")


def test_the_object_describes_itself(trace):
    assert str(trace).startswith(f"{PLAN}: 9 rooms and 25 openings traced; page 1: A length of 4 m is right to within")


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        ({"page": 0}, "page: found (0,)"),
        ({"page": []}, "page: found ()"),
        ({"page": [1, 1]}, "each page once"),
        ({"page": ["1"]}, "numbers of pages"),
        ({"page": [1, 2], "level_m": [0.0]}, "one for each page"),
        ({"level_m": "up"}, "level_m"),
        ({"level_m": math.nan}, "level_m"),
        ({"north_deg": 400.0}, "north_deg: found 400.0"),
        ({"dpi": 5.0}, "dpi: found 5.0"),
        ({"page": 3}, "a page from 1 to 2"),
    ],
)
def test_arguments_that_cannot_be_used(arguments, found, tmp_path):
    with pytest.raises(hl.InputError) as error:
        hl.trace_plan(PLAN, state=tmp_path / "lodge.json", **arguments)
    assert found in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("content", [b"not JSON", b"\xff\xfe", b"[" * 100_000])
def test_a_state_that_is_none_is_refused_in_one_line(content, tmp_path):
    path = tmp_path / "lodge.json"
    path.write_bytes(content)
    with pytest.raises(hl.InputError) as error:
        hl.trace_plan(PLAN, state=path)
    assert str(error.value).startswith(f"{path}: found a file that cannot be read as JSON")
    with pytest.raises(hl.InputError, match="cannot be read as JSON"):
        hl.trace_plan(PLAN, state=tmp_path)


@pytest.mark.parametrize("missing", ["anywidget", "pypdfium2"])
def test_without_its_library_one_line_says_what_to_install(missing, monkeypatch):
    from heatloop.workflows.tracing import trace_plan

    find = trace_plan.find_spec
    monkeypatch.setattr(trace_plan, "find_spec", lambda name: None if name == missing else find(name))
    with pytest.raises(hl.InputError) as error:
        hl.trace_plan(PLAN)
    assert f"{missing}, which is not installed" in str(error.value)
    assert 'pip install "heatloop[trace]"' in str(error.value)
    assert "\n" not in str(error.value)


def test_a_step_that_does_not_exist_is_refused(trace):
    with pytest.raises(ValueError, match="events are click"):
        trace.act("draw", text="x")
