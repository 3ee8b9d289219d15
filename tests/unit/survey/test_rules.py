"""Every kind of bad survey gives one line: location, found, required."""

from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey
from heatloop.survey.read import read_catalogue
from tests.helpers.bad_surveys import BAD, CASES, GOOD, changed
from tests.helpers.paths import DATA


def faults_of(path: Path) -> InputError:
    with pytest.raises(InputError) as caught:
        read_survey(path)
    return caught.value


def test_the_survey_that_is_changed_is_good():
    assert read_survey(GOOD / "survey.toml").project.name == "Harbour Loft"


FANLIGHT = (
    'openings = [{ name = "lobby door", kind = "door", start_m = 0.8,',
    'openings = [{ name = "fanlight", kind = "window", start_m = 0.9, width_m = 0.6, height_m = 0.3, sill_m = SILL, '
    'build_up = "partition" }, { name = "lobby door", kind = "door", start_m = 0.8,',
)


def test_openings_may_stand_one_above_another_and_not_one_in_another(tmp_path):
    """A fanlight over a door 2.04 m high."""
    above = read_survey(changed(tmp_path / "above", [[FANLIGHT[0], FANLIGHT[1].replace("SILL", "2.1")]]))
    assert [opening.name for opening in above.rooms[0].walls[2].openings] == ["fanlight", "lobby door"]
    within = faults_of(changed(tmp_path / "within", [[FANLIGHT[0], FANLIGHT[1].replace("SILL", "1.9")]]))
    assert any("do not overlap" in issue.required for issue in within.issues)


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_changed_survey_is_told(case, tmp_path):
    file = case.get("file", "survey")
    error = faults_of(changed(tmp_path, case["change"], file))
    fault = next((fault for fault in error.issues if fault.place == case["place"]), None)
    assert fault is not None, f"expected {case['place']}, reported:\n{error}"
    assert case["found"] in fault.found, str(fault)
    assert case["required"] in fault.required, str(fault)
    assert fault.file == str(tmp_path / f"{file}.toml")
    if case.get("alone", True):
        assert len(error.issues) == 1, str(error)


def test_every_fault_of_both_files_is_told_at_once():
    told = str(faults_of(BAD / "several_faults.toml")).splitlines()
    places = [line.partition(".toml: ")[2].partition(": found")[0] for line in told]
    assert sorted(places) == sorted(
        [
            'room "Parlour", indoor_c',
            'room "Parlour", wall 1, build_up',
            'room "Parlour", wall 1, opening "bay", start_m',
            'room "Parlour", wall 2, length_m',
            'room "Parlour", wall 3',
            'loop "Parlour", tails, length_m',
            'loop "Parlour", trunk',
            'valve "lockshield 15", kv_m3_h, value 2',
        ]
    )
    assert all(" found " in line and "; required: " in line for line in told)
    assert told[-1].startswith(str(BAD / "bad_catalogue.toml"))


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("not_toml.toml", "line 3, column 15: found a decimal comma"),
        ("not_toml.toml", "required: a decimal point, not a comma"),
        ("unfinished.toml", "line 2, column 19: found a text without its closing quote"),
        ("latin_1.toml", "line 3: found the byte 0xe9, which is not UTF-8; required: a text file saved as UTF-8"),
        ("not_there.toml", "found no such file"),
        ("bad_catalogue.toml", "found the tables of a catalogue; required: those of a survey"),
        ("", "found a folder"),
        ("a\0b", "found a file that cannot be opened"),
    ],
)
def test_file_that_cannot_be_read_at_all(file, line):
    error = faults_of(BAD / file)
    assert len(error.issues) == 1
    assert line in str(error)


@pytest.mark.parametrize(
    ("line", "is_comma"),
    [
        ("flow_temp_c = 52,5", True),
        ("flow_temp_c = -52,5  # degrees", True),
        ("wall = { length_m = 4,80, turn_deg = 90 }", True),
        ("wall = { length_m = 4,8 }", True),
        ("walls = [1, 2", False),
        ("name = Hall", False),
    ],
)
def test_a_decimal_comma_is_told_apart(line, is_comma, tmp_path):
    path = tmp_path / "survey.toml"
    path.write_text(f"[project]\n{line}\n", encoding="utf-8")
    assert ("required: a decimal point, not a comma" in str(faults_of(path))) == is_comma


def test_empty_file_is_told_what_it_lacks():
    assert [fault.place for fault in faults_of(BAD / "empty.toml").issues] == ["project", "room", "loop"]


@pytest.mark.parametrize(
    ("file", "found"),
    [
        ("mill-annexe/year.toml", "the tables of a year file; required: those of a survey: [project]"),
        ("alder-lodge/prices.csv", "a CSV file, such as prices, readings or a list of rooms; required: a TOML file or"),
        ("alder-lodge/readings-after.csv", "a CSV file, such as prices, readings or a list of rooms; required: a TOML"),
    ],
)
def test_another_kind_of_file_given_as_survey_is_one_error(file, found):
    error = faults_of(DATA / file)
    assert len(error.issues) == 1
    assert f"{file}: found {found}" in str(error)


def test_survey_given_as_catalogue():
    with pytest.raises(InputError, match="found the tables of a survey; required: those of a catalogue"):
        read_catalogue(GOOD / "survey.toml")


def test_catalogue_that_is_not_toml_is_told_with_the_survey(tmp_path):
    path = changed(tmp_path, [["indoor_c = 21.0", "indoor_c = 99"]])
    (tmp_path / "catalogue.toml").write_text("[[profile]\n", encoding="utf-8")
    files = [Path(fault.file).name for fault in faults_of(path).issues]
    assert files == ["survey.toml", "catalogue.toml"]


def test_number_in_quotes_is_told_to_lose_them(tmp_path):
    path = changed(tmp_path, [["indoor_c = 21.0", 'indoor_c = "21,5"']])
    assert "21.5 without quotes" in str(faults_of(path))


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "1" * 5000])
def test_freak_files_are_told_too(text, tmp_path):
    path = tmp_path / "survey.toml"
    path.write_text(text, encoding="utf-8")
    assert len(faults_of(path).issues) == 1


def test_fault_of_a_room_is_told_once_for_the_rooms_like_it(tmp_path):
    path = changed(tmp_path, [["start_m = 0.5, width_m = 1.4", "start_m = 2.5, width_m = 1.4"]])
    assert [fault.place for fault in faults_of(path).issues] == [
        'room "Cabin A", wall 1, opening "french window", start_m'
    ]
