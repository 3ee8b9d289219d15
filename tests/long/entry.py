"""Wrong entries in workbooks and survey files, each reported at its place; and random surveys there and back."""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Iterator
from pathlib import Path

from openpyxl import load_workbook

import heatloop as hl
from heatloop.survey.files.key_path import location_text
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.toml.toml_reader import load_toml
from heatloop.survey.toml.toml_writer import toml_text
from heatloop.survey.workbook.read_workbook import cell_address
from heatloop.survey.workbook.rows import grids_of
from heatloop.survey.workbook.sheets import SURVEY_SHEETS
from tests.helpers.random_tables import random_survey_tables
from tests.helpers.repository_surveys import SURVEYS
from tests.helpers.round_trips import round_trip_faults, values_in
from tests.helpers.wrong_entries import WRONG_CELLS, keys_of, misspelt, told_cells, with_key, wrong_cell_targets
from tests.long.records import write_record

EACH = 50  # between two lines of progress


def entry(arguments: list[str]) -> int:
    """Make `--wrong` cells and as many keys wrong, take `--surveys` there and back; 1 where there is a fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.long entry", description=__doc__)
    parser.add_argument("--wrong", type=int, default=300)
    parser.add_argument("--surveys", type=int, default=200)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args(arguments)
    values, faults = 0, list[str]()
    with tempfile.TemporaryDirectory() as name:
        faults += wrong_cells(Path(name), asked.wrong, asked.seed)
        faults += wrong_keys(Path(name), asked.wrong, asked.seed)
        for seed in range(asked.seed, asked.seed + asked.surveys):
            tables = random_survey_tables(seed)
            values += values_in(tables)
            faults += [f"seed {seed}: {form} not equal" for form in round_trip_faults(tables, Path(name))]
            progress(seed - asked.seed + 1, "random surveys there and back")
    print(f"{asked.wrong} wrong cells, {asked.wrong} wrong keys, {asked.surveys} surveys: {len(faults)} faults")
    print("\n".join(faults))
    if not faults:
        figures = {"wrong": asked.wrong, "surveys": asked.surveys, "seed": asked.seed, "values": values}
        write_record("entry", figures)
    return int(bool(faults))


def progress(count: int, what: str) -> None:
    """A line after every `EACH`."""
    if count % EACH == 0:
        print(f"{count} {what}", flush=True)


def wrong_cells(folder: Path, count: int, seed: int) -> Iterator[str]:
    """Cells of the workbooks of all surveys made wrong in turn; a line for each that is not reported at its cell."""
    draw, tried = random.Random(seed), 0
    for number, path in enumerate(SURVEYS):
        survey = hl.read_survey(path)
        file = survey.save(new_folder(folder, f"cells-{number}") / "wrong.xlsx")
        targets = list(wrong_cell_targets(grids_of(SURVEY_SHEETS, survey_to_tables(survey), 3)))
        book = load_workbook(file)
        for title, row, place, _ in draw.choices(targets, k=share(count, number)):
            cell, wrong = book[title].cell(row, place + 1), draw.choice(WRONG_CELLS)
            held, cell.value = cell.value, wrong
            book.save(file)
            cell.value = held
            at = cell_address(title, row, place + 1)
            told = reading(file)
            if not isinstance(told, hl.InputError) or at not in told_cells(told):
                yield f"{path}, {at} made {wrong}: {told}"
            tried += 1
            progress(tried, "wrong cells")


def wrong_keys(folder: Path, count: int, seed: int) -> Iterator[str]:
    """Keys of all survey files misspelt in turn; a line for each that is not reported at its table."""
    draw, tried = random.Random(seed), 0
    known = {heading for sheet in SURVEY_SHEETS.sheets for one in sheet.columns for heading in one.keys}
    for number, path in enumerate(SURVEYS):
        job = new_folder(folder, f"keys-{number}")
        hl.read_survey(path).save(job / "right.toml")  # with its catalogue
        tables, right = (load_toml(one, SURVEY_SHEETS.kind.list_names()) for one in (path, job / "right.toml"))
        tables["project"]["catalogue"] = right["project"]["catalogue"]
        for loc in draw.choices(list(keys_of(tables)), k=share(count, number)):
            wrong = str(loc[-1])
            while wrong in known or wrong == loc[-1]:
                wrong = misspelt(str(loc[-1]), draw)
            altered = with_key(tables, loc, wrong)
            (job / "wrong.toml").write_text(toml_text(altered, "a test"), encoding="utf-8")
            told, place = reading(job / "wrong.toml"), location_text(altered, loc[:-1])
            issues = told.issues if isinstance(told, hl.InputError) else ()
            if (place, f'the key "{wrong}"') not in {(issue.place, issue.found) for issue in issues}:
                yield f"{path}, {place}, {loc[-1]} written {wrong}: {told}"
            tried += 1
            progress(tried, "wrong keys")


def new_folder(folder: Path, name: str) -> Path:
    """A folder for the files of a survey."""
    (folder / name).mkdir()
    return folder / name


def share(count: int, number: int) -> int:
    """How many of `count` are of survey `number`."""
    return count * (number + 1) // len(SURVEYS) - count * number // len(SURVEYS)


def reading(path: Path) -> object:
    """The survey of a file, or what reading it ended in."""
    try:
        return hl.read_survey(path)
    except Exception as error:  # any other than InputError is a fault, to be listed
        return error
