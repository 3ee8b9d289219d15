"""Price files: read as they stand, or refused in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.handover.price_file import Price, PriceList, prices_of, read_prices

HEAD = "item,price,per,discount_percent,labour_min,currency\n"


def test_a_price_file_as_it_stands() -> None:
    text = (
        "\ufeff# Prices from the shelf\r\n\r\n# Currency = GBP\r\nItem, Price ,per\r\n"
        '"tee, 15", 1.50, piece\r\n\r\nN/A,2,pack\r\n'
    )
    found = prices_of(text.lstrip("\ufeff"), "prices.csv")
    # what looks like "not available" is a name like any other
    assert found == PriceList("prices.csv", "GBP", (Price("tee, 15", 1.5, "piece"), Price("N/A", 2.0, "pack")))
    assert found.price("tee, 15") == Price("tee, 15", 1.5, "piece")
    assert found.price("tee") is None


def test_currency_in_a_column() -> None:
    assert prices_of(HEAD + "a,1,piece,,,SEK\nb,2,piece,,,\n", "p.csv").currency == "SEK"


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("", ["p.csv: found no table; required: a header row with item, price, per"]),
        ("# currency: EUR\n", ["p.csv: found no table; required: a header row with item, price, per"]),
        (
            "item;price;per\na;1;piece\n",
            ["p.csv: line 1: found semicolons between the columns; required: commas, and a decimal point in numbers"],
        ),
        (
            "# currency: EUR\nitem,prise,per\n",
            [
                'p.csv: line 2: found no column "price" (there is "prise"); required: the columns item, price, per',
                'p.csv: line 2: found the column "prise"; required: one of item, price, per, discount_percent, '
                "labour_min, currency",
            ],
        ),
        ("# currency: EUR\nitem,price,per,per\n", ['p.csv: line 2: found the column "per" twice; required: it once']),
        (
            HEAD + 'a,-1,foot,120,-5,EUR\n,"1,5",piece,,,\na,nan,metre,,,\nb,1\nc,1_000,pack,,,\nd,inf,peice,,,\n',
            [
                "p.csv: line 5: found 2 fields; required: 6, one for each column, with commas between",
                'p.csv: line 2, "a", per: found "foot"; required: piece, metre, litre or pack',
                'p.csv: line 2, "a", price: found -1; required: a number, 0 or more',
                'p.csv: line 2, "a", discount_percent: found 120; required: a number, 0 to 100',
                'p.csv: line 2, "a", labour_min: found -5; required: a number, 0 or more',
                "p.csv: line 3: found no item; required: the name of an item of the parts list",
                "p.csv: line 3, price: found 1,5; required: a number, 0 or more; a decimal point, not a comma",
                'p.csv: line 4, "a", price: found nan; required: a number, 0 or more',
                'p.csv: line 6, "c", price: found 1_000; required: a number, 0 or more',
                'p.csv: line 7, "d", per: found "peice"; required: piece, metre, litre or pack; the nearest is "piece"',
                'p.csv: line 7, "d", price: found inf; required: a number, 0 or more',
                'p.csv: line 4, "a": found the item again; required: one line an item; line 2 has it',
            ],
        ),
        (
            "item,price,per\na,1,piece\n",
            [
                'p.csv: found no currency; required: one currency, in a line before the header ("# currency: EUR") or '
                'in a column "currency"'
            ],
        ),
        (
            "# currency: EUR\n" + HEAD + "a,1,piece,,,GBP\n",
            [
                'p.csv: found "EUR" (before the header) and "GBP" (line 3); required: one currency, in a line before '
                'the header ("# currency: EUR") or in a column "currency"'
            ],
        ),
        (
            '# currency: EUR\nitem,price,per\na,"1,piece\n',
            [
                "p.csv: line 3: found what is not a CSV record (unexpected end of data); required: fields with commas "
                "between, quotes closed"
            ],
        ),
    ],
    ids=["empty", "no header", "semicolons", "columns", "twice", "values", "no currency", "two currencies", "quotes"],
)
def test_price_files_that_cannot_be_used(text: str, lines: list[str]) -> None:
    with pytest.raises(InputError) as error:
        prices_of(text, "p.csv")
    assert str(error.value).splitlines() == lines


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("gone.csv", None, "found no such file; required: the path of a CSV file of prices"),
        ("", None, "found a folder; required: the path of a CSV file of prices"),
        ("latin.csv", b"# currency: EUR\nitem,price,per\ncaf\xe9,1,piece\n", "line 3: found the byte 0x"),
        ("a\0b", None, "found a file that cannot be opened"),
    ],
)
def test_price_files_that_cannot_be_read(tmp_path: Path, name: str, data: bytes | None, words: str) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError) as error:
        read_prices(tmp_path / name)
    assert words in str(error.value)


def test_a_byte_order_mark_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "prices.csv"
    path.write_text("item,price,per,currency\na,1.5,piece,EUR\n", encoding="utf-8-sig")
    assert read_prices(path).prices == (Price("a", 1.5, "piece"),)
