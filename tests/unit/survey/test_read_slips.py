"""One slip of a survey or its catalogue gives one line, however many places refer to it; the issues name all places."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey
from heatloop.survey.starter_files import start_files
from tests.helpers.paths import DATA

BUILD_UPS = re.compile(r"^\[\[build_up\]\]\n.*?(?=^\[(?!\[build_up))", re.DOTALL | re.MULTILINE)


def _error(folder: Path, file: str, old: str, new: str) -> InputError:
    """The error of Alder Lodge with a text of one of its files replaced everywhere."""
    shutil.copytree(DATA / "alder-lodge", folder / "site")
    path = folder / "site" / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_survey(folder / "site" / "survey.toml")
    return caught.value


@pytest.mark.parametrize(
    ("name", "issues"), [("partition", 26), ("upper floor", 8), ("loft", 5), ("outer wall", 21), ("front door", 1)]
)
def test_a_build_up_renamed_in_its_own_table_is_one_line(name: str, issues: int, tmp_path: Path) -> None:
    heading = '[[build_up]]\nname = "'
    error = _error(tmp_path, "survey.toml", f'{heading}{name}"', f'{heading}{name}x"')
    (line,) = str(error).splitlines()
    assert f'found "{name}"; required: the name of a build-up; the nearest is "{name}x"' in line
    assert len(error.issues) == issues
    assert len({issue.place for issue in error.issues}) == issues


@pytest.mark.parametrize(("name", "issues"), [("Kitchen-diner", 8), ("Hall", 6), ("Box room", 3)])
def test_a_room_renamed_in_its_own_table_is_one_line(name: str, issues: int, tmp_path: Path) -> None:
    heading = '[[room]]\nname = "'
    error = _error(tmp_path, "survey.toml", f'{heading}{name}"', f'{heading}{name}x"')
    (line,) = str(error).splitlines()
    assert f'found "{name}"; required: the name of a room' in line
    assert f'the nearest is "{name}x"' in line
    assert len(error.issues) == issues


@pytest.mark.parametrize(("name", "files", "issues"), [("two-channel 140", 2, 15), ("three-channel 175", 1, 8)])
def test_a_renamed_profile_is_one_line_for_each_file(name: str, files: int, issues: int, tmp_path: Path) -> None:
    heading = '[[profile]]\nname = "'
    error = _error(tmp_path, "catalogue.toml", f'{heading}{name}"', f'{heading}{name}x"')
    lines = str(error).splitlines()
    assert len(lines) == files
    assert all(f'the name of a profile of the catalogue; the nearest is "{name}x"' in line for line in lines)
    assert len(error.issues) == issues


@pytest.mark.parametrize(
    ("old", "new", "issues"),
    [
        ("depth_m", "drop_m", 6),
        ("length_m", "lenght_m", 59),
        ("beyond =", "beyondd =", 63),
        ("turn_deg", "turn_dg", 10),
    ],
)
def test_a_key_repeated_in_many_tables_is_one_line(old: str, new: str, issues: int, tmp_path: Path) -> None:
    """The keys that are then missing give no errors of their own, such as turns that do not sum to 360 degrees."""
    error = _error(tmp_path, "survey.toml", old, new)
    (line,) = str(error).splitlines()
    assert f'found the key "{new.split()[0]}"; required: ' in line
    assert f'"{old.split()[0]}"' in line
    assert len(error.issues) == issues


def test_a_survey_without_build_ups_has_one_line_for_each_name(tmp_path: Path) -> None:
    start_files(tmp_path)
    path = tmp_path / "survey.toml"
    path.write_text(BUILD_UPS.sub("", path.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_survey(path)
    assert len(caught.value.issues) == 18
    assert len(str(caught.value).splitlines()) == len({issue.found for issue in caught.value.issues}) == 6
