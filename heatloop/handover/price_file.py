"""A price file: price of each item, the unit of the price, discount, and minutes to fit it.

CSV in UTF-8 with a header row. Columns: item, price, per (piece, metre, litre or pack) and, where needed,
discount_percent and labour_min (minutes for one unit of the price). The currency is in lines before the header, `#
currency: EUR`, or in a column `currency`. A price may be empty: it is then missing, not zero. An item that comes in
several packs may be priced by pack as "item, name of the pack".
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.handover.price_workbook import in_cells, price_workbook_bytes, prices_as_csv
from heatloop.survey.converting import Conversion
from heatloop.survey.files.fields import NUMBER
from heatloop.survey.toml.header_row import header_faults
from heatloop.survey.toml.input_text import file_error, input_text
from heatloop.survey.toml.new_file import write_new
from heatloop.survey.workbook.read_workbook import is_workbook
from heatloop.text.quoting import suggestion

REQUIRED = ("item", "price", "per")
MAY = ("discount_percent", "labour_min", "currency")
PERS = ("piece", "metre", "litre", "pack")


@dataclass(frozen=True)
class Price:
    """One line of a price file. `price` is None where the file leaves it empty.

    `discount_percent` is deducted from it; `labour_min`: minutes for one unit of `per`.
    """

    item: str
    price: float | None
    per: str
    discount_percent: float = 0.0
    labour_min: float = 0.0

    @property
    def net_price(self) -> float | None:
        """The price less its discount."""
        return None if self.price is None else self.price * (1.0 - self.discount_percent / 100.0)


@dataclass(frozen=True)
class PriceList:
    """The prices of one file, in one currency."""

    file: str
    currency: str
    prices: tuple[Price, ...]

    def price(self, item: str) -> Price | None:
        """The line of that item, or None."""
        return next((line for line in self.prices if line.item == item), None)

    def nearest(self, item: str) -> str | None:
        """The item of the file with the most similar name, or None."""
        return suggestion(item, (line.item for line in self.prices))


def read_prices(path: str | Path) -> PriceList:
    """The prices in a CSV file or a workbook; raises InputError with every fault of it."""
    path = Path(path)
    if not is_workbook(path):
        return prices_of(input_text(path, "a CSV file of prices"), str(path))
    text = prices_as_csv(path)
    try:
        return prices_of(text, str(path))
    except InputError as error:
        columns = [name.strip().lower() for name in next(csv.reader([text.partition("\n")[0]]), [])]
        raise InputError([in_cells(issue, columns) for issue in error.issues]) from None


def is_price_file(*paths: Path) -> bool:
    """Whether one of the paths is that of a CSV file, by its name."""
    return any(path.suffix.lower() == ".csv" for path in paths)


def convert_prices(source: Path, target: Path) -> Conversion:
    """Write a price file as the other kind of file: CSV as a workbook, a workbook as CSV, without comments.

    Raises InputError: the target exists or has neither kind of name, or the source has errors.
    """
    if {source.suffix.lower(), target.suffix.lower()} != {".csv", ".xlsx"}:
        found = f"{source.name} and {target.name}"
        raise file_error("convert", "", found, "a price file (.csv) and a workbook (.xlsx), the one from the other")
    held = read_prices(source)
    headings = (*REQUIRED, *MAY)
    rows: list[tuple[str | float | None, ...]] = [
        (
            p.item,
            p.price,
            p.per,
            p.discount_percent or None,
            p.labour_min or None,
            None if number else held.currency,
        )
        for number, p in enumerate(held.prices)
    ]
    if is_workbook(target):
        write_new(target, price_workbook_bytes(headings, rows))
    else:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows([headings, *rows])
        write_new(target, text.getvalue())
    return Conversion("price file", target, _comments(source))


def _comments(source: Path) -> int:
    """Comments of a CSV file without the line that states the currency."""
    if is_workbook(source):
        return 0
    lines = [line.strip().lower() for line in input_text(source, "a CSV file of prices").splitlines()]
    return sum(line.startswith("#") and not line[1:].strip().startswith("currency") for line in lines)


def prices_of(text: str, file: str) -> PriceList:
    """Prices in the text of a CSV file, called `file` in messages; raises InputError with all errors.

    Every field is text until it is converted here, so that no text is read as "not available".
    """
    heads, records = _records(text, file)
    if not records:
        raise file_error(file, "", "no table", f"a header row with {', '.join(REQUIRED)}")
    (header_line, header), *body = records
    columns = [name.lower() for name in header]
    faults = list(header_faults(file, header_line, columns, REQUIRED, MAY))
    if faults:
        raise InputError(faults)
    numbered: list[tuple[int, dict[str, str]]] = []
    for line, fields in body:
        if len(fields) == len(columns):
            numbered.append((line, dict(zip(columns, fields, strict=True))))
        else:
            required = f"{len(columns)}, one for each column, with commas between"
            faults.append(InputIssue(file, f"line {line}", f"{len(fields)} fields", required))
    prices: list[Price] = []
    for line, row in numbered:
        found_faults, price = _price(file, line, row)
        faults += found_faults
        prices.append(price)
    faults += _twice(file, numbered)
    currency, currency_faults = _currency(file, heads, numbered)
    faults += currency_faults
    if faults:
        raise InputError(faults)
    return PriceList(file, currency, tuple(prices))


def _records(text: str, file: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Comment lines (#) before the header, and every record that is not blank, with its last line."""
    lines = io.StringIO(text, newline=None).read().split("\n")
    blank = [not line.strip() or line.lstrip().startswith("#") for line in lines]
    start = blank.index(False) if False in blank else len(lines)
    heads = [line.lstrip()[1:].strip() for line in lines[:start]]
    reader = csv.reader(io.StringIO("\n".join(lines[start:])), strict=True, skipinitialspace=True)
    records: list[tuple[int, list[str]]] = []
    try:
        for fields in reader:
            stripped = [field.strip() for field in fields]
            if any(stripped):
                records.append((start + reader.line_num, stripped))
    except csv.Error as error:
        place = f"line {start + reader.line_num}"
        required = "fields with commas between, quotes closed"
        raise file_error(file, place, f"what is not a CSV record ({error})", required) from None
    return heads, records


def _price(file: str, line: int, row: dict[str, str]) -> tuple[list[InputIssue], Price]:
    """One line and its errors; a faulty value is read as 0."""
    faults: list[InputIssue] = []
    item = row["item"]
    place = f'line {line}, "{item}"' if item else f"line {line}"
    if not item:
        faults.append(InputIssue(file, place, "no item", "the name of an item of the parts list"))
    if row["per"] not in PERS:
        close = suggestion(row["per"], PERS)
        hint = f'; the nearest is "{close}"' if close else ""
        found = f'"{row["per"]}"' if row["per"] else "nothing"
        faults.append(InputIssue(file, f"{place}, per", found, f"{', '.join(PERS[:-1])} or {PERS[-1]}{hint}"))
    values: dict[str, float | None] = {}
    for key, maximum in (("price", math.inf), ("discount_percent", 100.0), ("labour_min", math.inf)):
        text = row.get(key, "")
        value = _number(text)
        values[key] = value
        if text and (value is None or not 0.0 <= value <= maximum):
            limits = "0 or more" if maximum == math.inf else f"0 to {maximum:g}"
            comma = "; a decimal point, not a comma" if value is None and "," in text and NUMBER.fullmatch(text) else ""
            faults.append(InputIssue(file, f"{place}, {key}", text, f"a number, {limits}{comma}"))
    return faults, Price(
        item, values["price"], row["per"], values["discount_percent"] or 0.0, values["labour_min"] or 0.0
    )


def _number(text: str) -> float | None:
    """A plain decimal number, or None: 12, 12.5 or .5 with a sign, no powers and no separators."""
    return float(text) if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", text, re.ASCII) else None


def _twice(file: str, numbered: list[tuple[int, dict[str, str]]]) -> Iterator[InputIssue]:
    first: dict[str, int] = {}
    for line, row in numbered:
        item = row["item"]
        if item and item in first:
            yield InputIssue(
                file, f'line {line}, "{item}"', "the item again", f"one line an item; line {first[item]} has it"
            )
        first.setdefault(item, line)


def _currency(file: str, heads: list[str], numbered: list[tuple[int, dict[str, str]]]) -> tuple[str, list[InputIssue]]:
    """The currency that header lines or the column name; one fault where there is none, or more than one."""
    required = 'one currency, in a line before the header ("# currency: EUR") or in a column "currency"'
    named: dict[str, str] = {}
    for head in heads:
        key, _, value = head.replace("=", ":").partition(":")
        if key.strip().lower() == "currency" and value.strip():
            named.setdefault(value.strip(), "before the header")
    for line, row in numbered:
        if row.get("currency"):
            named.setdefault(row["currency"], f"line {line}")
    if not named:
        return "", [InputIssue(file, "", "no currency", required)]
    if len(named) > 1:
        found = " and ".join(f'"{name}" ({where})' for name, where in named.items())
        return "", [InputIssue(file, "", found, required)]
    return next(iter(named)), []
