"""Tables of cases: CSV and workbook alike; all faults at once, each at its row."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import pytest

import heatloop as hl
from heatloop.workflows.study.case_table import table_cases
from tests.helpers.paths import DATA

ROWS = [
    ["survey", "name", "project.flow_temp_c", "project.delta_t_k", "room.Annexe.indoor_c", "room.Annexe.use"],
    ["annexe/survey.toml", "", 70, 15, None, None],
    ["annexe/survey.toml", "cold room", 70, None, 18, None],
    ["annexe/survey.toml", "", 60, "", "", ""],
]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(DATA / "mill-annexe", tmp_path / "annexe")
    return tmp_path


def as_csv(folder: Path, rows: list[list[object]]) -> Path:
    path = folder / "cases.csv"
    lines = (",".join("" if cell is None else str(cell) for cell in row) for row in rows)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def as_workbook(folder: Path, rows: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(folder / "cases.xlsx")
    return folder / "cases.xlsx"


WRITERS = pytest.mark.parametrize("written", [as_csv, as_workbook], ids=["csv", "workbook"])


@WRITERS
def test_a_sweep_of_one_survey(folder: Path, written) -> None:  # type: ignore[no-untyped-def]
    path = written(folder, ROWS)
    cases = table_cases(path)
    assert [case.name for case in cases] == [
        "annexe, flow_temp_c 70, delta_t_k 15", "cold room", "annexe, flow_temp_c 60",
    ]  # fmt: skip
    found = hl.study(path, folder / "results", executor=1)
    survey = hl.read_survey(folder / "annexe" / "survey.toml")
    changed = [
        survey.with_values({"project": {"flow_temp_c": 70.0, "delta_t_k": 15.0}}),
        survey.with_values({"project": {"flow_temp_c": 70.0}, "room": {"Annexe": {"indoor_c": 18.0}}}),
        survey.with_values({"project": {"flow_temp_c": 60.0}}),
    ]
    sized = hl.SizedDwellings.joined(hl.size_many(changed, [case.name for case in cases]))
    for name in ("pump_flow_l_h", "heat_loss_w", "heat_to_rooms_w", "return_temp_c"):
        assert found.dwellings[name].tolist() == pytest.approx(sized.dwellings[name].tolist(), rel=1e-6)
    assert found.dwellings["changes"].tolist()[1] == "project.flow_temp_c = 70; room.Annexe.indoor_c = 18"
    assert found.by_flow_temp["flow_temp_c"].tolist() == [60.0, 70.0]


def test_a_change_that_a_survey_does_not_allow_is_the_fault_of_its_row(folder: Path) -> None:
    path = as_csv(folder, [["survey", "room.Attic.indoor_c"], ["annexe/survey.toml", 20], ["annexe/survey.toml", ""]])
    found = hl.study(path, folder / "results", executor=1)
    assert found.dwellings["sizing"].tolist() == ["not sized", "in a lot"]
    assert 'found "Attic"' in found.dwellings["fault"].iloc[0]


def test_loops_above_a_changed_flow_temperature_are_lowered_to_it(folder: Path) -> None:
    rows = [["survey", "project.flow_temp_c", "loop.Annexe.flow_temp_c"], ["annexe/survey.toml", 65, 60],
            ["annexe/survey.toml", 65, ""]]  # fmt: skip
    path = as_csv(folder, rows)
    found = hl.study(path, folder / "results", executor=1)
    assert found.loops["flow_temp_c"].tolist() == pytest.approx([60.0, 65.0], abs=0.5)


FAULTY = [
    ["survey", "name", "project.flow_temp_c", "project.delta_t_k", "project.flow_c", "project.size_by", "room.Hall"],
    ["annexe/survey.toml", "one", 200, 5, 1, "drop", 1],
    ["nowhere.toml", "one", "warm", -5, 1, "drops", 1],
    ["", "two", 45, 5, 1, "drop", 1],
]
FAULTS = [
    '"project.flow_c"', 'the nearest is "project.flow_temp_c"', '"room.Hall"', "200", "nowhere.toml", '"warm"', "-5",
    'the nearest is "drop"', "nothing", '"one" again',
]  # fmt: skip


@WRITERS
def test_all_faults_of_a_table_are_listed_and_nothing_is_begun(folder: Path, written) -> None:  # type: ignore[no-untyped-def]
    path = written(folder, FAULTY)
    with pytest.raises(hl.InputError) as found:
        hl.study(path, folder / "results", executor=1)
    lines = str(found.value).splitlines()
    assert len(lines) == 9
    for words in FAULTS:
        assert any(words in line for line in lines), words
    row = "line 3, project.delta_t_k" if path.suffix == ".csv" else "Sheet!D3 (project.delta_t_k)"
    assert sum(row in line for line in lines) == 1
    assert not (folder / "results").exists()


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "no table"),
        ("name\nx\n", 'no column "survey"'),
        ("survey;name\nannexe/survey.toml;x\n", "semicolons between the columns; required: commas"),
        ("survey\n", "no row"),
        ("survey,survey\nannexe/survey.toml,annexe/survey.toml\n", '"survey" twice'),
        ('survey\n"annexe/survey.toml\n', "not a CSV record"),
        ("survey\nannexe/survey.toml,5\n", "found 2 cells; required: at most 1"),
        ("survey,\nannexe/survey.toml,5\n", 'headings: found ""'),
    ],
)
def test_a_table_that_cannot_be_read(folder: Path, text: str, found: str) -> None:
    path = folder / "cases.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(hl.InputError, match=found):
        table_cases(path)


def test_a_formula_without_a_result_is_a_fault(folder: Path) -> None:
    path = as_workbook(folder, [["survey", "project.delta_t_k"], ["annexe/survey.toml", "=1+4"]])
    with pytest.raises(hl.InputError, match=r"Sheet!B2: found a formula whose result is not saved"):
        table_cases(path)


def test_flow_temperatures_are_given_once(folder: Path) -> None:
    path = as_csv(folder, ROWS)
    with pytest.raises(hl.InputError, match="in a column of the table, too"):
        hl.study(path, folder / "results", flow_temps_c=[45.0])


def test_another_catalogue_in_a_column_belongs_to_the_study(folder: Path) -> None:
    shutil.copy(folder / "annexe" / "catalogue.toml", folder / "annexe" / "other.toml")
    path = as_csv(folder, [["survey", "project.catalogue"], ["annexe/survey.toml", "other.toml"]])
    hl.study(path, folder / "results", executor=1)
    with (folder / "annexe" / "other.toml").open("a") as file:
        file.write("\n")
    with pytest.raises(Exception, match="before their surveys or catalogues were changed"):
        hl.study(path, folder / "results", executor=1)
