"""Every row of data/published is worked out by one test module, and every quantity that one names has rows."""

from collections import Counter

import pytest

from tests.helpers.published import PUBLISHED, half_a_digit, read_rows
from tests.published.page import PAGE, all_modules, page

FILES = sorted(path.stem for path in PUBLISHED.iterdir())


@pytest.fixture(scope="module")
def worked_out():
    """Modules by file and quantity, all modules of this folder read."""
    return all_modules()


def test_files_are_those_that_are_replayed(worked_out):
    assert set(FILES) == set(worked_out)


@pytest.mark.parametrize("file", FILES)
def test_every_row_is_worked_out_by_one_module(file, worked_out):
    rows = read_rows(file)
    assert rows
    nobody = [f"{file}.csv, row {row.line}: {row.quantity}" for row in rows if row.quantity not in worked_out[file]]
    assert not nobody
    unasked = set(worked_out[file]) - {row.quantity for row in rows}
    assert not unasked
    twice = {quantity: modules for quantity, modules in worked_out[file].items() if len(modules) > 1}
    assert not twice


@pytest.mark.parametrize("file", FILES)
def test_no_row_stands_twice(file):
    asked = Counter((row.quantity, *row.inputs.items(), row.expected, row.source) for row in read_rows(file))
    assert max(asked.values()) == 1


@pytest.mark.parametrize("file", FILES)
def test_no_row_asks_for_what_it_is_given(file):
    """A quantity of a row whose every answer is one of its inputs would be an identity."""
    given = {}
    for row in read_rows(file):
        given.setdefault(row.quantity, []).append(bool(row.inputs) and row.expected in row.inputs.values())
    assert not [quantity for quantity, found in given.items() if all(found)]


@pytest.mark.parametrize(
    ("printed", "half"),
    [("0.30", 0.005), ("12", 0.5), ("1.28e5", 500.0), ("-0.00492", 5e-6), ("2.3e-05", 5e-7)],
)
def test_tolerances_come_from_printed_digits(printed, half):
    assert half_a_digit(printed) == pytest.approx(half, rel=1e-12)


def test_page_of_published_cases_is_what_the_rows_give_now():
    assert PAGE.read_text(encoding="utf-8") == page(), "run python -m tests.published.page and read the change"
