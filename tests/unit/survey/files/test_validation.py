"""A key by its old name is one fault that names the new one."""

import re
import shutil
from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey
from heatloop.survey.files.validation import RENAMED_KEYS
from heatloop.survey.starter_files import start_files
from tests.helpers.input_lines import lines_of
from tests.helpers.paths import DATA, HARBOUR_LOFT

ADDED = {  # keys that no demo states, beside one that it states
    "crossing_drop_m": ('kind = "base units", ', 'kind = "base units", crossing_drop_m = 0.3, '),
    "greatest_c": ("relief_kpa = 300", "relief_kpa = 300\ngreatest_c = 80"),
    "top_m": ("relief_kpa = 300", "relief_kpa = 300\ntop_m = 5.0"),
    "sweep_m_s": ("relief_kpa = 300", "relief_kpa = 300\nsweep_m_s = 0.7"),
    "other_water": ("additional_volume = [", "other_water = ["),
}


def with_old_key(folder: Path, old: str, new: str) -> Path:
    """A copy of a demo survey in which one key has its old name."""
    for demo in (DATA / "alder-lodge", HARBOUR_LOFT):
        shutil.copytree(demo, folder, dirs_exist_ok=True)
        for file in (folder / "survey.toml", folder / "catalogue.toml"):
            text = file.read_text(encoding="utf-8")
            if old in ADDED:
                changed = text.replace(*ADDED[old], 1)
            else:
                changed = re.sub(rf"(?<!\w){new}(?= =|\])", old, text, count=1)
            if changed != text:
                file.write_text(changed, encoding="utf-8")
                return folder / "survey.toml"
    raise AssertionError(f"no demo to state {old} in")


@pytest.mark.parametrize(("old", "new"), RENAMED_KEYS.items(), ids=RENAMED_KEYS.keys())
def test_an_old_key_is_one_fault_that_names_the_new_one(old: str, new: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_survey(with_old_key(tmp_path, old, new))
    (issue,) = caught.value.issues
    assert (issue.found, issue.required) == (f'the key "{old}"', f'the key "{new}"')


@pytest.mark.parametrize("name", ["", "two\\nlines", "Bed\u202eroom"])
def test_a_name_that_cannot_be_used_is_one_fault_wherever_it_is_used(name: str, tmp_path: Path) -> None:
    start_files(tmp_path / "job")
    path = tmp_path / "job" / "survey.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('name = "Bedroom"', f'name = "{name}"', 1), encoding="utf-8")
    (line,) = lines_of(path)
    assert "required: a name, as a text in quotes on one line" in line


def test_a_name_like_one_that_is_there_is_a_fault_beside_one_that_cannot_be_used(tmp_path: Path) -> None:
    start_files(tmp_path / "job")
    path = tmp_path / "job" / "survey.toml"
    text = path.read_text(encoding="utf-8").replace('name = "Bedroom"', 'name = ""', 1)
    path.write_text(text.replace('sensor_room = "Living room"', 'sensor_room = "Livng room"'), encoding="utf-8")
    unusable, unknown = lines_of(path)
    assert "a name, as a text in quotes" in unusable
    assert 'found "Livng room"; required: the name of a room; the nearest is "Living room"' in unknown


@pytest.mark.parametrize("key", ["project", "building", "system"])
def test_a_table_in_double_brackets_is_told_to_be_in_single_ones(key: str, tmp_path: Path) -> None:
    start_files(tmp_path / "job")
    path = tmp_path / "job" / "survey.toml"
    text = path.read_text(encoding="utf-8")
    assert f"\n[{key}]" in text
    path.write_text(text.replace(f"\n[{key}]", f"\n[[{key}]]"), encoding="utf-8")
    (line,) = lines_of(path)
    assert f"{key}: found a list of 1; required: [{key}] in single brackets, once" in line
