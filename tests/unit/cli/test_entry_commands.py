"""Commands that bring a survey in: check, convert and start with a workbook; any command takes a workbook."""

import shutil
from dataclasses import replace

import pytest
from openpyxl import load_workbook

import heatloop as hl
from heatloop.__main__ import main
from heatloop.handover.price_file import read_prices
from heatloop.survey.read import read_catalogue
from tests.helpers.paths import DATA, HARBOUR_LOFT

LODGE = DATA / "alder-lodge"

NO_ERRORS = "{0}: no input errors; 9 rooms, 6 loops\nThe design has not been checked yet: run heatloop size {0}\n"
"""What `check` prints of the demonstration."""


@pytest.fixture
def folder(tmp_path):
    """A copy of the demonstration."""
    return shutil.copytree(LODGE, tmp_path / "lodge")


def run(capsys, *arguments):
    """Status, output and errors of a command."""
    status = main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return status, out, err


def test_there_and_back_by_convert(folder, capsys):
    text = (folder / "survey.toml").read_text(encoding="utf-8")
    status, out, _ = run(capsys, "convert", folder / "survey.toml", folder / "survey.xlsx")
    comments = sum("#" in line for line in text.splitlines())
    assert (status, out) == (0, f"{folder / 'survey.xlsx'}: the survey; {comments} comments not copied\n")
    assert run(capsys, "check", folder / "survey.xlsx")[:2] == (
        0,
        NO_ERRORS.format(folder / "survey.xlsx"),
    )
    book = load_workbook(folder / "survey.xlsx")
    walls = book["Walls"]
    walls.cell(3, walls.max_column).value = "tape again"
    book.save(folder / "survey.xlsx")
    status, out, _ = run(capsys, "convert", folder / "survey.xlsx", folder / "again.toml")
    assert (status, out) == (0, f"{folder / 'again.toml'}: the survey; 1 comment not copied\n")
    assert replace(hl.read_survey(folder / "again.toml"), path=None) == replace(
        hl.read_survey(folder / "survey.toml"), path=None
    )


def test_a_catalogue_by_convert_and_a_survey_that_names_it(folder, capsys):
    assert run(capsys, "convert", folder / "catalogue.toml", folder / "catalogue.xlsx")[1].count("the catalogue")
    assert read_catalogue(folder / "catalogue.xlsx") == read_catalogue(folder / "catalogue.toml")
    assert run(capsys, "convert", folder / "catalogue.xlsx", folder / "again.toml")[0] == 0
    assert read_catalogue(folder / "again.toml") == read_catalogue(folder / "catalogue.toml")
    text = (folder / "survey.toml").read_text(encoding="utf-8").replace('"catalogue.toml"', '"catalogue.xlsx"')
    (folder / "survey.toml").write_text(text, encoding="utf-8")
    assert run(capsys, "check", folder / "survey.toml")[0] == 0


def test_faults_of_a_catalogue_are_told_at_its_cells(folder, capsys):
    run(capsys, "convert", folder / "catalogue.toml", folder / "catalogue.xlsx")
    book = load_workbook(folder / "catalogue.xlsx")
    book["Pipes"]["B3"] = "wide"
    book.save(folder / "catalogue.xlsx")
    with pytest.raises(hl.InputError, match=r"catalogue.xlsx: Pipes!B3 \(pipe \"copper 15\", bore_mm\): found"):
        read_catalogue(folder / "catalogue.xlsx")


def test_prices_by_convert(folder, capsys):
    before = read_prices(folder / "prices.csv")
    status, out, _ = run(capsys, "convert", folder / "prices.csv", folder / "prices.xlsx")
    assert (status, out) == (0, f"{folder / 'prices.xlsx'}: the price file; 1 comment not copied\n")
    assert run(capsys, "convert", folder / "prices.xlsx", folder / "again.csv")[0] == 0
    for name in ("prices.xlsx", "again.csv"):
        again = read_prices(folder / name)
        assert (again.currency, again.prices) == (before.currency, before.prices)
    book = load_workbook(folder / "prices.xlsx")
    book["Prices"]["B4"], book["Prices"]["C5"] = "cheap", "dozen"
    book.save(folder / "prices.xlsx")
    with pytest.raises(hl.InputError) as caught:
        read_prices(folder / "prices.xlsx")
    cells = [issue.place.partition(" (")[0] for issue in caught.value.issues]
    assert cells == ["Prices!B4", "Prices!C5"]
    book.remove(book["Prices"])
    book.create_sheet("Sums")
    book.save(folder / "prices.xlsx")
    with pytest.raises(hl.InputError, match="no sheet Prices"):
        read_prices(folder / "prices.xlsx")


@pytest.mark.parametrize(
    ("source", "target", "words"),
    [
        ("survey.toml", "prices.csv", "a price file (.csv) and a workbook"),
        ("survey.toml", "other.toml", "a TOML file (.toml) and a workbook (.xlsx)"),
        ("no.toml", "no.xlsx", "no such file"),
        ("survey.toml", "there.xlsx", "a file there already"),
        ("survey.toml", "no/there.xlsx", "a place that cannot be written to"),
        ("prices.csv", "there.xlsx", "a file there already"),
    ],
)
def test_what_convert_refuses(folder, capsys, source, target, words):
    (folder / "there.xlsx").write_bytes(b"mine")
    held = {path.name: path.read_bytes() for path in folder.iterdir()}
    status, out, err = run(capsys, "convert", folder / source, folder / target)
    assert (status, out) == (2, "")
    assert words in err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == held


def test_what_no_cell_can_hold_is_told_in_the_words_of_the_file(folder, capsys):
    path = folder / "survey.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("indoor_c", "indoors_c", 1), encoding="utf-8")
    status, _, err = run(capsys, "convert", path, folder / "survey.xlsx")
    assert status == 2
    assert 'found the key "indoors_c"; required: the key "indoor_c"' in err
    assert not (folder / "survey.xlsx").exists()


def test_a_draft_with_questions_is_converted_as_it_stands(folder, capsys):
    path = folder / "survey.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("outdoor_c = -3.0", 'outdoor_c = "?"'), encoding="utf-8")
    assert run(capsys, "convert", path, folder / "survey.xlsx")[0] == 0
    status, _, err = run(capsys, "check", folder / "survey.xlsx")
    assert status == 2
    assert "Job!C3 (project, outdoor_c): found the text '?'" in err
    assert run(capsys, "convert", folder / "survey.xlsx", folder / "again.toml")[0] == 0
    assert 'outdoor_c = "?"' in (folder / "again.toml").read_text(encoding="utf-8")


def test_the_catalogue_is_named_from_the_new_folder(folder, capsys):
    (folder / "sheets").mkdir()
    target = folder / "sheets" / "survey.xlsx"
    assert run(capsys, "convert", folder / "survey.toml", target)[0] == 0
    assert hl.read_survey(target).project.catalogue == "../catalogue.toml"


def test_check_marks_the_cells_and_asks_for_a_workbook(folder, capsys):
    assert "--mark for a file that is no workbook" in run(capsys, "check", folder / "survey.toml", "--mark")[2]
    run(capsys, "convert", folder / "survey.toml", folder / "survey.xlsx")
    status, out, _ = run(capsys, "check", folder / "survey.xlsx", "--mark")
    assert (status, out) == (0, NO_ERRORS.format(folder / "survey.xlsx"))
    book = load_workbook(folder / "survey.xlsx")
    book["Walls"]["E3"] = "Studdy"
    book.save(folder / "survey.xlsx")
    status, out, err = run(capsys, "check", folder / "survey.xlsx", "--mark")
    assert (status, out) == (2, f"{folder / 'survey.faults.xlsx'}\n")
    assert err.count("\n") == 1
    assert "survey.xlsx: Walls!E3 (room" in err
    book["Walls"]["E3"] = "Hall"
    book.save(folder / "survey.xlsx")
    status, out, _ = run(capsys, "check", folder / "survey.xlsx", "--mark")
    assert (status, out.splitlines()[1]) == (0, f"removed the earlier {folder / 'survey.faults.xlsx'}")
    assert not (folder / "survey.faults.xlsx").exists()
    (folder / "survey.faults.xlsx").write_text("another's")
    assert run(capsys, "check", folder / "survey.xlsx", "--mark")[1].count("\n") == 1
    assert (folder / "survey.faults.xlsx").exists()


def test_check_tells_faults_of_the_layout(folder, capsys):
    text = (folder / "survey.toml").read_text(encoding="utf-8")
    head, tail = text.split('[[loop]]\nname = "Kitchen"\n', 1)
    lines = [line for n, line in enumerate(tail.split("\n")) if not (line.startswith("crossing = ") and n < 12)]
    (folder / "survey.toml").write_text(head + '[[loop]]\nname = "Kitchen"\n' + "\n".join(lines), encoding="utf-8")
    status, _, err = run(capsys, "check", folder / "survey.toml")
    assert status == 2
    assert "to cross and no pipe for it" in err


def test_a_started_workbook_is_checked_and_sized(tmp_path, capsys):
    status, out, _ = run(capsys, "start", tmp_path / "house", "--workbook")
    assert status == 0
    assert out.splitlines()[-1] == f"next: heatloop size {tmp_path / 'house' / 'survey.xlsx'}"
    names = sorted(path.name for path in (tmp_path / "house").iterdir())
    assert names == ["catalogue.toml", "design.ipynb", "survey.xlsx"]
    assert "survey.xlsx" in (tmp_path / "house" / "design.ipynb").read_text(encoding="utf-8")
    status, out, _ = run(capsys, "size", tmp_path / "house" / "survey.xlsx")
    assert status == 0
    with pytest.raises(hl.InputError, match="workbook and drawing together"):
        hl.start_project(tmp_path / "other", workbook=True, drawing="plan.dxf")
    status, _, err = run(capsys, "start", tmp_path / "house", "--workbook")
    assert status == 2
    assert "nothing is overwritten" in err


def test_a_workbook_of_another_survey_gives_the_same_listing(tmp_path, capsys):
    job = shutil.copytree(HARBOUR_LOFT, tmp_path / "loft")
    run(capsys, "convert", job / "survey.toml", job / "survey.xlsx")
    assert run(capsys, "size", job / "survey.xlsx") == run(capsys, "size", job / "survey.toml")
