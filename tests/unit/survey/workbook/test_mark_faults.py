"""What is wrong in a workbook is reported at its cell, once, and nothing that only follows from it."""

import random
import shutil
import zipfile

import pytest
from openpyxl import load_workbook

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.workbook import read_workbook
from heatloop.survey.workbook.mark_faults import mark_faults
from heatloop.survey.workbook.read_workbook import cell_address
from heatloop.survey.workbook.rows import grids_of
from heatloop.survey.workbook.sheets import FORM, SURVEY_SHEETS
from tests.helpers.paths import DATA
from tests.helpers.repository_surveys import SURVEYS, name_of
from tests.helpers.wrong_entries import WRONG_CELLS, survey_of_grids, told_cells, with_cell, wrong_cell_targets

LODGE = DATA / "alder-lodge" / "survey.toml"
SAMPLE = 40
"""How many cells are made wrong, one after another; 300 in `python -m tests.long entry`."""


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(LODGE)


@pytest.fixture(scope="module")
def grids(lodge):
    return grids_of(SURVEY_SHEETS, survey_to_tables(lodge), 3)


def test_the_cells_that_are_made_wrong_are_most_of_those_filled(grids):
    filled = sum(cell is not None for grid in grids for _, row in grid.rows for cell in row)
    assert len(list(wrong_cell_targets(grids))) > 0.6 * filled


def test_a_wrong_value_in_any_cell_is_told_at_that_cell(lodge, grids):
    rng = random.Random(7)
    all_targets = list(wrong_cell_targets(grids))
    for title, number, place, column in rng.sample(all_targets, SAMPLE):
        wrong = rng.choice(WRONG_CELLS)
        with pytest.raises(InputError) as caught:
            survey_of_grids(with_cell(grids, title, number, place, wrong), lodge)
        cell = cell_address(title, number, place + 1)
        assert cell in told_cells(caught.value), f"{cell} made {wrong}: {caught.value}"
        assert all("quotes" not in issue.required for issue in caught.value.issues if column is not None)


def test_a_required_cell_that_is_blank_is_told_at_that_cell(lodge, grids):
    rng = random.Random(8)
    needed = [target for target in wrong_cell_targets(grids) if target[3] is not None and target[3].is_required]
    for title, number, place, _ in rng.sample(needed, 15):
        with pytest.raises(InputError) as caught:
            survey_of_grids(with_cell(grids, title, number, place, None), lodge)
        cell = cell_address(title, number, place + 1)
        assert any(issue.place.startswith(f"{cell} (") and issue.found == "nothing" for issue in caught.value.issues), (
            f"{cell}: {caught.value}"
        )


@pytest.mark.parametrize("path", SURVEYS, ids=name_of)
def test_sheets_of_good_surveys_have_no_fault(path):
    survey = hl.read_survey(path)
    assert survey_of_grids(grids_of(SURVEY_SHEETS, survey_to_tables(survey), 3), survey).rooms == survey.rooms


# --- a workbook on disk ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def original(tmp_path_factory):
    folder = shutil.copytree(LODGE.parent, tmp_path_factory.mktemp("faults") / "lodge")
    return hl.read_survey(folder / "survey.toml").save(folder / "survey.xlsx")


@pytest.fixture(scope="module")
def pages(original):
    """The filled cells of that workbook as they were read."""
    known = (FORM, *(sheet.title for sheet in SURVEY_SHEETS.sheets))
    return {page.title: page for page in read_workbook.workbook_pages(original, known)}


@pytest.fixture
def change(original, pages, monkeypatch):
    """A function that reads the workbook with cells changed and gives the survey, or its faults in three words each.

    `edit` gets the cells by title and by (row, column), to be changed in any other way.
    """

    def changed(cells, edit=None):
        held = {title: {(row, col): value for row, col, value, _ in page.cells} for title, page in pages.items()}
        for at, value in cells.items():
            title, cell = at.split("!")
            held[title][int(cell[1:]), ord(cell[0]) - 64] = value
        if edit:
            edit(held)
        found = [
            read_workbook.Page(
                title,
                any(title == page.title and page.is_known for page in pages.values()),
                tuple(
                    (*place, value, "f" if value == "=" else "n")
                    for place, value in sorted(held[title].items())
                    if value is not None
                ),
            )
            for title in held
        ]
        monkeypatch.setattr(read_workbook, "workbook_pages", lambda path, known: found)
        try:
            return hl.read_survey(original)
        except InputError as error:
            return [(issue.place, issue.found, issue.required) for issue in error.issues]

    return changed


def cell_of(title, heading, row=3):
    """The cell of a key."""
    sheet = next(sheet for sheet in SURVEY_SHEETS.sheets if sheet.title == title)
    return cell_address(title, row, sheet.headings.index(heading) + 1)


@pytest.fixture(scope="module")
def cell_is(pages):
    """Whether a row of the sheet of single tables has a key."""
    return lambda row, key: (row, 2, key) in {cell[:3] for cell in pages[FORM].cells}


def test_places_in_words_stand_behind_the_cell(change):
    (fault,) = change({"Walls!E3": "Studdy"})
    assert fault == (
        'Walls!E3 (room "Kitchen-diner", wall 1, beyond)',
        '"Studdy"',
        'the name of a room or a space, or outdoors, ground, neighbour; the nearest is "Study"',
    )


def test_hints_are_those_of_a_workbook(change, cell_is):
    (fault,) = change({"Walls!C3": "4,60"})
    assert fault[2].endswith("; 4.60 with a decimal point")
    several = "; several values are separated by semicolons"
    assert change({cell_of("Route", "walls"): "3, 4, 1"})[0][2].endswith(several)
    assert not change({cell_of("Route", "walls"): "the third"})[0][2].endswith(several)
    pump = next(f"Job!C{row}" for row in range(2, 90) if cell_is(row, "pump.flow_m3_h"))
    assert change({pump: "0.0, 0.4, 0.8"})[0][2].endswith(several)
    assert change({cell_of("Rooms", "vulnerable"): "perhaps"})[0][2] == "TRUE or FALSE"


def test_a_formula_without_a_result_is_told_as_that(original, tmp_path):
    book = load_workbook(original)
    book["Walls"]["C3"] = "=3.2+1.4"
    book["Walls"]["C4"] = "#N/A"
    book["Walls"]["C4"].data_type = "e"
    path = tmp_path / "survey.xlsx"
    book.save(path)
    with pytest.raises(InputError) as caught:
        hl.read_survey(path)
    told = [(issue.place, issue.found) for issue in caught.value.issues]
    assert told == [("Walls!C3", "a formula whose result is not saved"), ("Walls!C4", "the error value #N/A")]
    assert "open the file in a spreadsheet program and save it" in caught.value.issues[0].required


def test_a_formula_counts_by_its_result(original, tmp_path):
    """A program that calculates saves the result beside the formula: written here by hand, as openpyxl cannot."""
    path = tmp_path / "survey.xlsx"
    with zipfile.ZipFile(original) as old, zipfile.ZipFile(path, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if b"<v>7.6</v>" in data:
                data = data.replace(b"<v>7.6</v>", b"<f>7+0.6</f><v>7.6</v>", 1)
            new.writestr(part, data)
    shutil.copy(original.parent / "catalogue.toml", tmp_path)
    assert load_workbook(path)["Walls"]["C3"].value == "=7+0.6"
    assert hl.read_survey(path).rooms == hl.read_survey(original).rooms


def test_a_changed_heading_is_told_once(change):
    (fault,) = change({"Walls!C1": "lenght_m"})
    assert fault == ("Walls!C1", 'the heading "lenght_m"', 'a heading; the nearest is "length_m"')
    (fault,) = change({"Rooms!A1": "nam"})
    assert fault[0] == "Rooms!A1"


def test_a_parent_that_is_unknown_is_told_and_nothing_that_follows(change):
    faults = change({"Walls!A3": "Kitchen-dinner"})
    assert [fault[0] for fault in faults] == ["Walls!A3"]
    assert faults[0][2] == 'the name of a room; the nearest is "Kitchen-diner"'
    (fault,) = change({"Openings!B3": 40})
    assert fault[0] == "Openings!B3"
    assert "1 to" in fault[2]


def test_type_faults_come_with_faults_of_the_sheets(change):
    faults = change({"Walls!A3": "Kitchen-dinner", "Rooms!B3": "warm", "Job!C4": -400})
    assert [fault[0].partition(" (")[0] for fault in faults] == ["Walls!A3", "Job!C4", "Rooms!B3"]


def test_walls_may_be_sorted_by_anything_and_gaps_and_doubles_are_told(change, original):
    def reverse(held):
        page = held["Walls"]
        last = max(row for row, _ in page)
        rows = [[page.pop((row, col), None) for col in range(1, 8)] for row in range(3, last + 1)]
        for number, row in enumerate(sorted(rows, key=lambda row: -row[2]), start=3):
            page.update({(number, place): value for place, value in enumerate(row, start=1)})

    sorted_by_length = change({}, reverse)
    assert isinstance(sorted_by_length, hl.Survey)
    assert sorted_by_length.rooms == hl.read_survey(original).rooms
    (double,) = change({"Walls!B4": 1})
    assert double[0] == "Walls!B4"
    assert double[2] == "wall 2: rows are numbered from 1 without gaps, each number once"
    assert [fault[0] for fault in change({"Walls!B3": "one"})] == ["Walls!B3"]


def test_names_and_numbers_left_blank_are_as_above(change, original):
    def sparse(held):
        page, above = held["Walls"], None
        for row in range(3, max(row for row, _ in page) + 1):
            name = page[row, 1]
            page[row, 2] = None
            page[row, 1] = None if name == above else name
            above = name

    found = change({}, sparse)
    assert isinstance(found, hl.Survey)
    assert found.rooms == hl.read_survey(original).rooms


def test_sheets_and_keys_of_other_names(change):
    assert change({"Job!B3": "outdor_c"})[0][:2] == ("Job!B3", '"outdor_c"')
    assert change({"Job!A3": "projekt"})[0][0] == "Job!A3"
    assert change({"Job!B4": "outdoor_c"})[0][1] == '"outdoor_c" a second time'

    def rename(held):
        held["Openning"] = held.pop("Openings")

    assert ('sheet "Openning"', "an unknown sheet", 'a sheet; the nearest is "Openings"') in change({}, rename)

    def more(held):
        held["My sums"] = {(1, 1): 3}

    assert isinstance(change({}, more), hl.Survey)
    assert isinstance(change({"Walls!H3": "a note"}), hl.Survey)
    assert change({"Walls!I1": "colour"})[0][0] == "Walls!I1"
    assert change({"Walls!I3": "x"})[0][:2] == ("Walls!I1", "nothing above a column that is filled")


def test_a_layout_that_cannot_be_built_is_told_at_its_cell(change):
    crossing = [cell_of("Loops", key) for key in ("crossing.pipe", "crossing.depth_m", "crossing.useful_share")]
    survey = change(dict.fromkeys(crossing))
    assert isinstance(survey, hl.Survey)
    with pytest.raises(InputError) as caught:
        hl.size(survey)
    assert {issue.place.partition(" (")[0] for issue in caught.value.issues} == {"Loops!A3"}


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 no workbook", b"name;length"])
def test_a_file_that_is_no_workbook_is_one_fault(data, tmp_path):
    path = tmp_path / "survey.xlsx"
    path.write_bytes(data)
    with pytest.raises(InputError, match="found a file that is no workbook, or a damaged one"):
        hl.read_survey(path)
    path.unlink()
    with pytest.raises(InputError, match="no such file"):
        hl.read_survey(path)
    path.mkdir()
    with pytest.raises(InputError, match="a folder"):
        hl.read_survey(path)


def test_any_bytes_of_a_workbook_changed_are_told_or_read(original, tmp_path):
    """A workbook with bytes changed at random reads, or is one fault, and never another exception."""
    data, rng = original.read_bytes(), random.Random(3)
    path = tmp_path / "survey.xlsx"
    shutil.copy(original.parent / "catalogue.toml", tmp_path)
    told = 0
    for _ in range(12):
        spoilt = bytearray(data)
        for _ in range(rng.choice([1, 30, 3000])):
            spoilt[rng.randrange(len(spoilt))] = rng.randrange(256)
        path.write_bytes(bytes(spoilt))
        try:
            hl.read_survey(path)
        except InputError:
            told += 1
    assert told > 0


def test_the_faults_are_marked_in_a_copy(original, tmp_path):
    path = tmp_path / "survey.xlsx"
    book = load_workbook(original)
    book["Walls"]["E3"], book["Walls"]["C5"], book["Walls"]["E5"] = "Studdy", "long", "Nowhere"
    book.save(path)
    shutil.copy(original.parent / "catalogue.toml", tmp_path)
    before = path.read_bytes()
    with pytest.raises(InputError) as caught:
        hl.read_survey(path)
    marked = mark_faults(path, caught.value.issues)
    assert marked == tmp_path / "survey.faults.xlsx"
    assert path.read_bytes() == before
    book = load_workbook(marked)
    assert book.sheetnames[0] == "Faults"
    page = book["Faults"]
    assert page["A2"].hyperlink.location or page["A2"].hyperlink.target
    cells = {page.cell(row, 1).value for row in range(2, page.max_row + 1)}
    assert {"Walls!E3", "Walls!C5", "Walls!E5"} <= cells
    assert book["Walls"]["E3"].fill.fgColor.rgb == "00F6C9C0"
    assert 'the nearest is "Study"' in book["Walls"]["E3"].comment.text
    assert mark_faults(path, caught.value.issues) == marked
    marked.write_bytes(before)
    with pytest.raises(InputError, match="not heatloop's"):
        mark_faults(path, caught.value.issues)
