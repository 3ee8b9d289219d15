"""Which files of a folder are surveys, and which catalogues they name."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.survey.converting import convert_file
from heatloop.workflows.study.cases import folder_cases, short_name, unique
from heatloop.workflows.study.kinds import is_other_file, is_survey_workbook, named_files
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project with survey and catalogue, each also as a workbook, and a year file."""
    folder = tmp_path_factory.mktemp("project")
    for name in ("survey", "catalogue"):
        shutil.copy(DATA / "alder-lodge" / f"{name}.toml", folder)
        convert_file(folder / f"{name}.toml", folder / f"{name}.xlsx")
    shutil.copy(DATA / "alder-lodge" / "year.toml", folder)
    return folder


def test_catalogues_and_year_files_are_not_surveys(project: Path) -> None:
    others = {path.name for path in project.iterdir() if is_other_file(path)}
    assert others == {"catalogue.toml", "catalogue.xlsx", "year.toml"}
    assert is_survey_workbook(project / "survey.xlsx")
    assert not is_survey_workbook(project / "catalogue.xlsx")
    cases = folder_cases(project, project / "results")
    assert [case.origin for case in cases] == ["survey.toml", "survey.xlsx"]
    assert [case.name for case in cases] == ["survey.toml", "survey.xlsx"]  # not the same short name


@pytest.mark.parametrize("suffix", ["toml", "xlsx"])
def test_the_catalogue_of_a_survey_is_among_the_files_that_it_names(project: Path, suffix: str) -> None:
    survey = hl.read_survey(project / f"survey.{suffix}")
    assert Path(survey.catalogue_file) in list(named_files(project / f"survey.{suffix}"))


@pytest.mark.parametrize(
    "written", ['"own\\u0020stock.toml"', "'own stock.toml'", '"own stock.toml"', '"./own stock.toml"']
)
def test_a_name_with_escapes_or_other_quotes(tmp_path: Path, written: str) -> None:
    (tmp_path / "own stock.toml").write_text("")
    (tmp_path / "survey.toml").write_text(f"[project]\ncatalogue = {written}\n")
    assert [path.resolve() for path in named_files(tmp_path / "survey.toml")] == [tmp_path / "own stock.toml"]


@pytest.mark.parametrize("text", ["", "[project", "[[room]]\nname = 1", "project.name = 'x'", "[other]\n"])
def test_a_survey_with_faults_is_still_a_survey(tmp_path: Path, text: str) -> None:
    (tmp_path / "survey.toml").write_text(text)
    (tmp_path / "survey.xlsx").write_bytes(text.encode())
    assert not is_other_file(tmp_path / "survey.toml")
    assert not is_other_file(tmp_path / "survey.xlsx")


def test_hidden_and_open_files_are_left_out(tmp_path: Path) -> None:
    for name in ("house.toml", ".hidden.toml", "~$house.xlsx", ".git/x.toml", "results/y.toml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("[project]")
    assert [case.origin for case in folder_cases(tmp_path, tmp_path / "results")] == ["house.toml"]


def test_short_and_unique_names() -> None:
    assert [short_name(path) for path in ("survey.toml", "a/survey.toml", "a/b.xlsx", "a.b/c")] == [
        "survey", "a", "a/b", "a.b/c",
    ]  # fmt: skip
    assert unique(["a", "a", "a (2)", "a"]) == ["a", "a (2)", "a (2) (2)", "a (3)"]
