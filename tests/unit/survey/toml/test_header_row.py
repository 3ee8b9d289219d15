"""Faults of the header row of a CSV file: each missing, unknown or repeated column, or one for a wrong separator."""

from __future__ import annotations

import pytest

from heatloop.survey.toml.header_row import SEMICOLONS, header_faults

REQUIRED, OPTIONAL = ("item", "price"), ("note",)


def told(columns: list[str]) -> list[str]:
    separators = SEMICOLONS | {"\t": "tabs"}
    return [str(fault) for fault in header_faults("a.csv", 3, columns, REQUIRED, OPTIONAL, separators)]


def test_a_good_row_has_none() -> None:
    assert told(["item", "price"]) == told(["note", "price", "item"]) == []


@pytest.mark.parametrize(
    ("row", "name"), [("item;price", "semicolons"), ("item\tprice", "tabs"), ("a;\tb", "semicolons")]
)
def test_another_separator_is_one_fault(row: str, name: str) -> None:
    assert told([row]) == [
        f"a.csv: line 3: found {name} between the columns; required: commas, and a decimal point in numbers"
    ]


def test_a_separator_beside_commas_is_part_of_a_name() -> None:
    assert told(["item", "price", "a;b"]) == [
        'a.csv: line 3: found the column "a;b"; required: one of item, price, note'
    ]


def test_a_separator_that_is_not_named_is_part_of_a_name() -> None:
    assert len(list(header_faults("a.csv", 3, ["item\tprice"], REQUIRED, OPTIONAL))) == 3


def test_missing_unknown_and_repeated_columns_are_told_in_turn() -> None:
    assert told(["item", "prise", "item"]) == [
        'a.csv: line 3: found no column "price" (there is "prise"); required: the columns item, price',
        'a.csv: line 3: found the column "prise"; required: one of item, price, note',
        'a.csv: line 3: found the column "item" twice; required: it once',
    ]
