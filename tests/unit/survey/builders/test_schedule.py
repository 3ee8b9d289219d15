"""A client's schedule of rooms becomes a survey and a first quotation, its columns named by whoever uses it."""

import pandas as pd
import pytest
from openpyxl import Workbook

import heatloop as hl
from heatloop.__main__ import main
from tests.helpers.paths import DATA

CATALOGUE, PRICES = DATA / "alder-lodge" / "catalogue.toml", DATA / "alder-lodge" / "prices.csv"
COLUMNS = {"name": "Raum", "indoor_c": "Soll", "heat_loss_w": "Last", "estimated_wall_m": "Wand"}
TABLE = [("Raum", "Soll", "Last", "Wand", "Bemerkung"), ("Wohnen", 21, 900, 9.5, "x"), ("Bad", 24, 400.5, 3, None)]


@pytest.fixture
def schedules(tmp_path):
    """The same schedule as CSV, workbook and data frame."""
    text = "\n".join(",".join("" if cell is None else str(cell) for cell in row) for row in TABLE)
    (tmp_path / "rooms.csv").write_text(text + "\n\n", encoding="utf-8")
    book = Workbook()
    for row in TABLE:
        book.active.append(row)
    book.save(tmp_path / "rooms.xlsx")
    return tmp_path / "rooms.csv", tmp_path / "rooms.xlsx", pd.DataFrame(TABLE[1:], columns=TABLE[0])


def estimated(schedule, **given):
    return hl.survey_from_schedule(schedule, CATALOGUE, -5.0, 55.0, **{"columns": COLUMNS, **given})


def test_file_workbook_and_frame_give_the_same_survey(schedules):
    surveys = [estimated(schedule) for schedule in schedules]
    for survey in surveys:
        assert [(room.name, room.indoor_c, room.heat_loss_w, room.estimated_wall_m) for room in survey.rooms] == [
            ("Wohnen", 21.0, 900.0, 9.5),
            ("Bad", 24.0, 400.5, 3.0),
        ]
        assert survey.loops == surveys[0].loops
    assert [loop.name for loop in surveys[0].loops] == ["Wohnen", "Bad"]
    assert surveys[0].rooms[0].heat_loss_source == "list of rooms, rooms.csv"


def test_a_loss_by_area(schedules):
    frame = schedules[2].drop(columns="Last").assign(m2=[20.0, 6])
    columns = {"name": "Raum", "indoor_c": "Soll", "estimated_wall_m": "Wand", "area_m2": "m2"}
    survey = estimated(frame, columns=columns, heat_w_m2=50.0)
    assert [room.heat_loss_w for room in survey.rooms] == [1000.0, 300.0]
    with pytest.raises(hl.InputError, match='no heading "heat_loss_w"'):
        estimated(frame, columns=columns)


def test_faults_of_a_schedule(schedules, tmp_path):
    with pytest.raises(hl.InputError) as caught:
        estimated(schedules[2], columns={**COLUMNS, "indoor_c": "Sol", "colour": "x"})
    assert [issue.found for issue in caught.value.issues] == ['"colour"', 'no heading "Sol"']
    assert 'the nearest is "Soll"' in caught.value.issues[1].required
    frame = schedules[2].assign(Last=["viel", 400])
    with pytest.raises(hl.InputError, match="room \"Wohnen\", heat_loss_w: found the text 'viel'"):
        estimated(frame)
    frame = schedules[2].assign(Wand=[None, 3.0], Raum=["Bad", "Bad"])
    with pytest.raises(hl.InputError, match=r"estimated_wall_m|Bad"):
        estimated(frame)
    (tmp_path / "none.csv").write_text("\n", encoding="utf-8")
    with pytest.raises(hl.InputError, match="found no table"):
        estimated(tmp_path / "none.csv")


def test_estimate_prints_a_quotation_and_saves_the_survey(schedules, tmp_path, capsys):
    columns = [word for key, heading in COLUMNS.items() for word in ("--column", f"{key}={heading}")]
    given = ["--catalogue", CATALOGUE, "--prices", PRICES, "--outdoor", -5, "--flow-temp", 55, *columns]
    saved = tmp_path / "survey.toml"
    status = main([str(word) for word in ("estimate", schedules[0], *given, "--save", saved)])
    out = capsys.readouterr().out
    assert status in (0, 1)
    assert "rooms.csv, quotation" in out
    assert "Estimate: one or more rooms have not been surveyed." in out
    assert hl.read_survey(saved).rooms == estimated(schedules[0]).rooms
    assert main(["estimate", str(schedules[0]), *map(str, given), "--column", "Raum"]) == 2
    assert "required: KEY=HEADING" in capsys.readouterr().err
