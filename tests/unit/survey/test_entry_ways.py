"""The same house entered each way is the same design: TOML, workbook, frames, Python, form, drawing and schedule."""

import tomllib

import pandas as pd
import pytest

import heatloop as hl
from heatloop.__main__ import main
from heatloop.layout.draft_rooms import draft_plan
from heatloop.report.drawings.survey_form.sheets import form_room
from heatloop.survey.read import survey_of
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from tests.helpers.drawn_house import Sheet
from tests.helpers.entry_effort import entry_efforts
from tests.helpers.paths import DATA, ROOT
from tests.helpers.python_script import python_script
from tests.helpers.repository_surveys import SURVEYS

LODGE = DATA / "alder-lodge" / "survey.toml"
MAX_TYPED, MAX_CLICKS = 2700, 250
"""For nine rooms: characters in a workbook, clicks on a plan."""
FLAT = next(path for path in SURVEYS if path.parent.name == "templates")


def assert_same_design(one: hl.Design, other: hl.Design) -> None:
    """Every table of two designs, to 1e-9."""
    assert one.tables.keys() == other.tables.keys()
    for name, frame in other.tables.items():
        pd.testing.assert_frame_equal(one.tables[name], frame, rtol=0.0, atol=1e-9)


@pytest.fixture(scope="module")
def flat() -> hl.Survey:
    """Two rooms whose walls close exactly, as they do on a drawing."""
    return hl.read_survey(FLAT).with_values({"room": {"Living room": {"walls": {4: {"length_m": 4.80}}}}})


@pytest.fixture(scope="module")
def flat_design(flat) -> hl.Design:
    return hl.size(flat)


def test_nine_rooms_by_file_workbook_frames_and_python(alder_lodge, tmp_path):
    survey = hl.read_survey(LODGE)
    for ending in ("toml", "xlsx"):
        assert_same_design(hl.size(survey.save(tmp_path / f"lodge.{ending}")), alder_lodge)
    assert_same_design(hl.size(hl.survey_from_frames(survey.to_frames(), survey.catalogue)), alder_lodge)
    names: dict = {}
    exec(python_script(survey, str(LODGE.with_name("catalogue.toml"))), names)
    built = names["job"]
    assert (built.rooms, built.loops, built.build_ups) == (survey.rooms, survey.loops, survey.build_ups)
    assert_same_design(hl.size(built), alder_lodge)


def test_two_rooms_by_python(flat, flat_design):
    """With trunks, a pump and a water system."""
    names: dict = {}
    exec(python_script(flat, str(FLAT.with_name("catalogue.toml"))), names)
    built = names["job"]
    assert (built.rooms, built.loops, built.trunks, built.system) == (flat.rooms, flat.loops, flat.trunks, flat.system)
    assert_same_design(hl.size(built), flat_design)


def with_walls(survey, walls_by_room):
    """A survey with the walls and openings of some tables in place of its own; what they lack is as it was."""
    tables = survey_to_tables(survey)
    for room in tables["room"]:
        for wall, found in zip(room["walls"], walls_by_room[room["name"]], strict=True):
            for opening, other in zip(wall.get("openings", []), found.pop("openings", []), strict=True):
                opening |= other
            wall |= found
    return survey_of(tables, None, survey.catalogue)


def test_nine_rooms_typed_in_from_their_forms(alder_lodge):
    """What is printed on a form, column by column; a blank cell is the value that its heading states."""
    survey = hl.read_survey(LODGE)
    walls_by_room = {}
    for room in survey.rooms:
        form = form_room("", room, None)
        assert [float(form.fields[key]) for key in ("indoor_c", "height_m", "level_m")] == [
            room.indoor_c, room.height_m, room.level_m,
        ]  # fmt: skip
        walls = walls_by_room[room.name] = [
            {"length_m": float(row["length_m"]), "turn_deg": float(row["turn_deg"] or 90.0), "openings": [],
             **{key: row[key] for key in ("beyond", "build_up") if row[key]}}
            for row in form.walls
        ]  # fmt: skip
        for row in form.openings:
            numbers = {key: float(row[key] or 0.0) for key in ("start_m", "width_m", "height_m", "sill_m")}
            named = {"name": row["name"]} if row["name"] else {}
            walls[int(row["wall"]) - 1]["openings"].append({"kind": row["kind"], **numbers, **named})
        standing = [(o.kind, o.start_m, o.width_m, o.run) for wall in room.walls for o in wall.obstacles]
        written = [(r["kind"], float(r["start_m"]), float(r["width_m"]), r["run"]) for r in form.obstacles]
        assert [one for one in written if one[3] != "covered"] == standing
    assert_same_design(hl.size(with_walls(survey, walls_by_room)), alder_lodge)


def test_two_rooms_from_a_drawing(flat, flat_design, tmp_path, capsys):
    sheet = Sheet("mm")
    for _, rooms in draft_plan(flat).levels:
        for room in rooms:
            sheet.room(room.path_m[:-1])
            sheet.text(room.name, tuple(sum(values) / len(values) for values in zip(*room.path_m, strict=True)))
            for number, opening in enumerate(room.openings):
                (x0, y0), (x1, y1) = opening.points_m[0], opening.points_m[-1]
                block = f"{opening.item.kind.upper()} {room.name} {number}"
                width = {"WIDTH": opening.item.width_m, **({"NAME": opening.item.name} if opening.item.name else {})}
                sheet.tagged(((x0 + x1) / 2.0, (y0 + y1) / 2.0), block, **width)
    assert main(["start", str(tmp_path / "job"), "--drawing", str(sheet.save(tmp_path)), "--units", "mm"]) == 0
    drawn = tomllib.loads((tmp_path / "job" / "survey.toml").read_text(encoding="utf-8"))
    walls_by_room = {}
    for room in drawn["room"]:
        walls = walls_by_room[room["name"]] = [{"length_m": wall["length_m"], "openings": [
            {key: one[key] for key in ("kind", "start_m", "width_m")} for one in wall.get("openings", [])
        ]} for wall in room["walls"]]  # fmt: skip
        assert all(wall.get("turn_deg", 90.0) == 90.0 for wall in room["walls"])
        assert len(walls) == 4
    assert {wall["beyond"] for room in drawn["room"] for wall in room["walls"]} == {
        "outdoors", "Bedroom", "Living room",
    }  # fmt: skip
    assert_same_design(hl.size(with_walls(flat, walls_by_room)), flat_design)


def test_a_schedule_by_file_workbook_and_python(alder_lodge, tmp_path):
    """Rooms without walls: the same design whether the list is read, saved as TOML or workbook, or built."""
    rows = [
        {"name": row["room"], "indoor_c": row["indoor_c"], "heat_loss_w": round(row["heat_loss_w"]),
         "estimated_wall_m": 9.5}
        for row in alder_lodge.rooms.to_dict("records")
    ]  # fmt: skip
    path, catalogue = tmp_path / "rooms.csv", LODGE.with_name("catalogue.toml")
    pd.DataFrame(rows).to_csv(path, index=False)
    survey = hl.survey_from_schedule(path, catalogue, -3.0, 50.0)
    design = hl.size(survey)
    assert design.rooms["heat_loss_w"].tolist() == [row["heat_loss_w"] for row in rows]
    for ending in ("toml", "xlsx"):
        assert_same_design(hl.size(survey.save(tmp_path / f"rooms.{ending}")), design)
    assert_same_design(hl.size(hl.survey_from_frames(survey.to_frames(), catalogue)), design)


def test_the_page_states_characters_and_clicks_as_counted():
    """Of the house of nine rooms, by way; `python -m tests.helpers.entry_effort` prints the rows."""
    efforts = entry_efforts(hl.read_survey(LODGE))
    page = (ROOT / "docs" / "how-to" / "enter-a-survey.md").read_text(encoding="utf-8")
    _, _, table = page.partition("| way | drawn part: characters |")
    assert table.partition("\n\n")[0].splitlines()[2:] == [effort.row for effort in efforts]
    by_way = {effort.way: effort for effort in efforts}
    assert by_way["workbook"].whole[0] <= MAX_TYPED
    assert by_way["traced plan, then TOML"].drawn[1] <= MAX_CLICKS
