"""Read site readings from a file: CSV in UTF-8, one row for each reading; all faults are reported together.

Columns: reading, of, value, unit, error and, where needed, arm, channel, piece and note. `error` is the uncertainty of
the instrument in the unit of the value or, for flows and heads, in per cent ("5 %"). Lines that begin with # are left
out.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path

from heatloop.diagnosis.readings import (
    FLOW_TEMP,
    HEADS,
    HOURS,
    NOT_READ,
    OUTDOOR_TEMP,
    PERCENT,
    QUANTITIES,
    REQUIRED,
    RETURN_TEMP,
    ROOM_TEMP,
    SURFACE_TEMP,
    TEMPERATURES,
    TOTAL_FLOW,
    Quantity,
    Reading,
    ReadingQuery,
    Readings,
    arms_of,
    channels_of,
    pieces_of,
    places_of,
)
from heatloop.diagnosis.site_model.reading_conditions import loops_on_own_pipe
from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.survey.files.fields import NUMBER
from heatloop.survey.toml.header_row import SEMICOLONS, header_faults
from heatloop.survey.toml.input_text import file_error, input_text
from heatloop.text.formatting import unit_text
from heatloop.text.quoting import closest_name

MAY = ("arm", "channel", "piece", "note")

SAVED_AS = 'a text file saved as UTF-8 (in a spreadsheet: "CSV UTF-8")'

UNITS = {"degC": ("degc", "°c", "c", "deg c"), "K": ("k",), "l/h": ("l/h",), "kPa": ("kpa",), "h": ("h",), "": ("",)}

FAHRENHEIT = ("degf", "°f", "f", "deg f")

MIN_EXCESS_K = 10.0
"""Minimum difference between water and rooms for a meaningful diagnosis by temperatures."""

HOT_K = 25.0
"""Margin above the design's warmest water beyond which a pipe temperature is rejected."""


def readings_in_file(path: str | Path, system: SizedSystem) -> Readings:
    """The readings in a CSV file, of the loops and rooms of a design; raises InputError with every fault of it."""
    path = Path(path)
    return readings_of(input_text(path, "a CSV file of readings", SAVED_AS), str(path), system)


def readings_of(text: str, file: str, system: SizedSystem) -> Readings:
    """The readings in the text of a CSV file, called `file` in faults; raises InputError with all of them."""
    header_line, columns, body = _table(text, file)
    faults = list(header_faults(file, header_line, columns, REQUIRED, MAY, SEMICOLONS | {"\t": "tabs"}))
    if faults:
        raise InputError(faults)
    rows: list[_Row] = []
    for line, fields in body:
        if len(fields) == len(columns):
            rows.append(_Row(file, line, dict(zip(columns, fields, strict=True)), system))
        else:
            required = f"{len(columns)}, one for each column, with commas between and a point in numbers"
            faults.append(InputIssue(file, f"line {line}", f"{len(fields)} fields", required))
    for row in rows:
        faults += row.faults()
    faults += _twice(rows)
    faults += _absent(file, rows, system)
    if faults:
        raise InputError(sorted(faults, key=_line_of))
    return _readings(file, rows, system)


@dataclass(frozen=True)
class _Row:
    file: str
    line: int
    fields: dict[str, str]
    system: SizedSystem

    @property
    def quantity(self) -> Quantity | None:
        return QUANTITIES.get(self.fields["reading"].casefold())

    @property
    def not_read(self) -> bool:
        return self.fields["value"].casefold() == NOT_READ

    def _whole(self, column: str) -> int:
        text = self.fields.get(column, "")
        return int(text) if text.isascii() and text.isdigit() else 0

    @property
    def arm(self) -> int:
        return self._whole("arm")

    @property
    def channel(self) -> int:
        return self._whole("channel")

    @property
    def piece(self) -> str:
        """The piece as the design writes it, where the design has it."""
        text = self.fields.get("piece", "")
        known = pieces_of(self.system, self.fields["of"], self.arm or 1)
        return next((name for name in known if name.casefold() == text.casefold()), text)

    @property
    def key(self) -> tuple[str, str, int, int, str]:
        texts = self.fields["reading"].casefold(), self.fields["of"].casefold()
        return *texts, self.arm, self.channel, self.piece.casefold()

    def fault(self, column: str, found: str, required: str) -> InputIssue:
        return InputIssue(self.file, f'line {self.line}, column "{column}"', found, required)

    def faults(self) -> Iterator[InputIssue]:
        quantity = self.quantity
        if quantity is None:
            found = f'"{self.fields["reading"]}"' if self.fields["reading"] else "nothing"
            yield self.fault("reading", found, closest_name("a quantity", self.fields["reading"], QUANTITIES))
            return
        yield from self._place_faults(quantity)
        yield from self._unit_faults(quantity)
        if not self.not_read:
            yield from self._value_faults(quantity)
            yield from self._error_faults(quantity)

    def _place_faults(self, quantity: Quantity) -> Iterator[InputIssue]:
        of = self.fields["of"]
        known = places_of(quantity, self.system)
        if quantity.of == "" and of:
            yield self.fault("of", f'"{of}"', f"nothing: the {quantity.name} belongs to the whole site")
        elif quantity.of and of.casefold() not in {name.casefold() for name in known}:
            found = f'"{of}"' if of else "nothing"
            yield self.fault("of", found, closest_name(f"a {quantity.of} of the design", of, known))
        arm = self.fields.get("arm", "")
        if arm:
            arms = arms_of(self.system, of)
            if quantity.name not in (RETURN_TEMP, SURFACE_TEMP):
                required = "nothing: for an arm, only return and surface temperatures are used"
                yield self.fault("arm", f'"{arm}"', required)
            elif not (arm.isascii() and arm.isdigit() and 1 <= int(arm) <= arms) or arms < 2:
                required = f"a number from 1 to {arms}" if arms > 1 else "nothing: this loop has no arms"
                yield self.fault("arm", f'"{arm}"', required)

        yield from self._surface_faults(quantity)

    def _surface_faults(self, quantity: Quantity) -> Iterator[InputIssue]:
        channel, piece = (self.fields.get(column, "") for column in ("channel", "piece"))
        if quantity.name != SURFACE_TEMP:
            for column, text in (("channel", channel), ("piece", piece)):
                if text:
                    yield self.fault(column, f'"{text}"', "nothing: only surface temperatures have one")
            return
        of, channels = self.fields["of"], channels_of(self.system, self.fields["of"])
        if channels == 0:
            if arms_of(self.system, of):
                yield self.fault("of", f'"{of}"', "a loop with skirting")
            return
        if not 1 <= self.channel <= channels:
            yield self.fault("channel", f'"{channel}"' if channel else "nothing", f"a number from 1 to {channels}")
        if arms_of(self.system, of) > 1 and not self.arm:
            yield self.fault("arm", "nothing", f"a number from 1 to {arms_of(self.system, of)}")
            return
        known = pieces_of(self.system, of, self.arm or 1)
        if known and self.piece not in known:
            found = f'"{piece}"' if piece else "nothing"
            yield self.fault("piece", found, closest_name("a piece of this loop, or the far end", piece, known))

    def _unit_faults(self, quantity: Quantity) -> Iterator[InputIssue]:
        unit = self.fields["unit"]
        if unit.casefold() in UNITS[quantity.unit]:
            return
        required = quantity.unit or "nothing"
        if quantity.unit in ("degC", "K") and unit.casefold() in FAHRENHEIT:
            number = _number(self.fields["value"])
            as_c = "" if number is None else f"; {number:g} °F is {(number - 32.0) / 1.8:.1f} °C"
            yield self.fault("unit", f'"{unit}"', f"{required}{as_c}")
        else:
            yield self.fault("unit", f'"{unit}"' if unit else "nothing", required)

    def _value_faults(self, quantity: Quantity) -> Iterator[InputIssue]:
        text = self.fields["value"]
        if quantity.name == HEADS:
            if text.casefold() not in ("on", "off"):
                yield self.fault("value", f'"{text}"' if text else "nothing", '"on" or "off"')
            return
        number = _number(text)
        if number is None:
            comma = "; a decimal point, not a comma" if "," in text and NUMBER.fullmatch(text) else ""
            yield self.fault(
                "value",
                f'"{text}"' if text else "nothing",
                f'a number in {unit_text(quantity.unit)}, or "{NOT_READ}"{comma}',
            )
            return
        if self.fields["unit"].casefold() in FAHRENHEIT:
            return  # the unit is reported already
        minimum, maximum = self._range(quantity)
        if not minimum <= number <= maximum:
            required = f"{minimum:g} to {maximum:g} {unit_text(quantity.unit)}"
            as_c = (number - 32.0) / 1.8
            if quantity.name in TEMPERATURES and number > maximum and minimum <= as_c <= maximum:
                required += f"; read in Fahrenheit it would be {as_c:.1f} °C"
            elif quantity.name in TEMPERATURES and quantity.of == "loop" and number > maximum:
                required += ", 25 K above the design's warmest water: if the reading is right, check the source first"
            yield self.fault("value", f"{number:g} {unit_text(quantity.unit)}", required)

    def _range(self, quantity: Quantity) -> tuple[float, float]:
        maximum = quantity.maximum
        if quantity.name in TEMPERATURES and quantity.of == "loop":
            maximum = min(maximum, ceil(float(self.system.state.supply_c.max()) + HOT_K))
        return quantity.minimum, maximum

    def _error_faults(self, quantity: Quantity) -> Iterator[InputIssue]:
        text = self.fields["error"]
        if not quantity.usual_error:
            if text:
                yield self.fault("error", f'"{text}"', "nothing")
            return
        percent = text.endswith("%")
        number = _number(text.removesuffix("%").strip())
        required = f'the uncertainty of the instrument in {quantity.unit}, such as "{quantity.usual_error}"'
        if percent and quantity.name not in PERCENT:
            yield self.fault(
                "error", f'"{text}"', f"the uncertainty in {quantity.unit}: per cent of a temperature has no meaning"
            )
        elif number is None:
            comma = "; a decimal point, not a comma" if "," in text else ""
            yield self.fault("error", f'"{text}"' if text else "nothing", required + comma)
        elif not 0.0 < number <= (50.0 if percent else max(quantity.maximum, 10.0) / 4.0):
            yield self.fault("error", f'"{text}"', f"above 0 and plausible; {required}")

    def reading(self) -> Reading:
        """The row as a value; only of a row without faults."""
        quantity = self.quantity
        assert quantity is not None
        value = _number(self.fields["value"]) or 0.0
        text = self.fields["error"]
        number = _number(text.removesuffix("%").strip()) or 0.0
        error = abs(value) * number / 100.0 if text.endswith("%") else number
        of = next((n for n in places_of(quantity, self.system) if n.casefold() == self.fields["of"].casefold()), "")
        return Reading(quantity.name, of, value, error, self.arm, self.line, self.channel, self.piece)


def _number(text: str) -> float | None:
    """A plain decimal number, or None: 12, -12.5 or .5, no powers and no separators."""
    return float(text) if re.fullmatch(r"[+-]?(\d{1,12}\.?\d*|\.\d+)", text, re.ASCII) else None


def _line_of(fault: InputIssue) -> int:
    match = re.match(r"line (\d+)", fault.place)
    return int(match[1]) if match else 0


def _twice(rows: Sequence[_Row]) -> Iterator[InputIssue]:
    first: dict[tuple[str, str, int, int, str], int] = {}
    for row in rows:
        if row.quantity is not None and row.key in first:
            of = f' of "{row.fields["of"]}"' if row.fields["of"] else ""
            found = f"the {row.quantity.name}{of} again"
            yield row.fault("reading", found, f"it once; line {first[row.key]} has it. Enter the mean of two readings")
        first.setdefault(row.key, row.line)


def _absent(file: str, rows: Sequence[_Row], system: SizedSystem) -> Iterator[InputIssue]:
    there, left_out = {row.key[:3] for row in rows}, _left_out(rows, system)
    for quantity in QUANTITIES.values():
        if not quantity.needed:
            continue
        for name in places_of(quantity, system):
            if (quantity.name, name.casefold(), 0) not in there and name not in left_out:
                required = f'a row with it, or with the value "{NOT_READ}"'
                yield InputIssue(file, "", f'no {quantity.name} of the loop "{name}"', required)


def _left_out(rows: Sequence[_Row], system: SizedSystem) -> list[str]:
    """Loops of which the file has no row at all, where it has one of another loop: only some loops were visited."""
    seen = {row.fields["of"].casefold() for row in rows if row.quantity is not None and row.quantity.of == "loop"}
    names = [path.loop.name for path in system.state.network.loops]
    return [name for name in names if name.casefold() not in seen] if seen & {n.casefold() for n in names} else []


def _readings(file: str, rows: Sequence[_Row], system: SizedSystem) -> Readings:
    items = tuple(r.reading() for r in rows if not r.not_read and r.quantity and r.quantity.name not in (HEADS, HOURS))
    said = {row.quantity.name: row for row in rows if row.quantity and not row.not_read}
    heads = said[HEADS].fields["value"].casefold() == "off" if HEADS in said else None
    hours = _number(said[HOURS].fields["value"]) if HOURS in said else None
    readings = Readings(file, items, (), heads, hours)
    queries = [*_return_above_flow(readings), *_not_read(file, rows), *_of_the_day(readings, system)]
    if left_out := _left_out(rows, system):
        names = ", ".join(left_out)
        queries.append(ReadingQuery(file, "", f"loops left out of the file: {names}. Their flows are assumed"))
    return Readings(file, items, tuple(queries), heads, hours)


def _return_above_flow(readings: Readings) -> Iterator[ReadingQuery]:
    for item in readings.items:
        if item.quantity != RETURN_TEMP or item.arm:
            continue
        flow = readings.get(FLOW_TEMP, item.of)
        if flow is not None and item.value > flow.value + 2.0 * (flow.error**2 + item.error**2) ** 0.5:
            yield ReadingQuery(
                readings.file,
                f'line {item.line}, column "value"',
                f"the return of {item.of}, {item.value:g} °C, is above its flow, {flow.value:g} °C (line "
                f"{flow.line}): were the two readings interchanged, or are the pipes crossed?",
            )


def _not_read(file: str, rows: Sequence[_Row]) -> Iterator[ReadingQuery]:
    for row in rows:
        if row.not_read and row.quantity is not None and row.quantity.needed:
            text = f"the {row.quantity.name} of {row.fields['of']} was not read: its diagnosis is less certain"
            yield ReadingQuery(file, f'line {row.line}, column "value"', text)


def _of_the_day(readings: Readings, system: SizedSystem) -> Iterator[ReadingQuery]:
    rooms = [item for item in readings.items if item.quantity == ROOM_TEMP]
    outdoor = readings.get(OUTDOOR_TEMP)
    if readings.thermostatic_heads_removed is None:
        yield ReadingQuery(
            readings.file, "", "were the thermostatic heads off? Assumed to be at their proportional band"
        )
    if not rooms:
        yield ReadingQuery(
            readings.file, "", "no room temperature was read: rooms are assumed at their design temperatures"
        )
    elif readings.hours_running is None:
        text = (
            f'how long had the heating run unchanged? Without "{HOURS}" room temperatures are not used for their heat'
        )
        yield ReadingQuery(readings.file, "", text)
    elif outdoor is None:
        yield ReadingQuery(
            readings.file, "", "no outdoor temperature was read: room temperatures are not used for their heat"
        )
    warm = [item.value for item in readings.items if item.quantity == FLOW_TEMP]
    inside_c = max((item.value for item in rooms), default=max(room.indoor_c for room in system.survey.rooms))
    if warm and max(warm) < inside_c + MIN_EXCESS_K:
        text = f"the water was at most {max(warm) - inside_c:.0f} K above the rooms: the diagnosis is uncertain"
        yield ReadingQuery(readings.file, "", text)
    total = readings.get(TOTAL_FLOW)
    if total is not None and not loops_on_own_pipe(system.state.network):
        text = "the total flow is not used: with mixed circuits or a bypass it is not the sum of the loops"
        yield ReadingQuery(readings.file, f'line {total.line}, column "value"', text)
    coolest = min(room.indoor_c for room in system.survey.rooms)
    if outdoor is not None and outdoor.value > coolest - 5.0:
        text = f"outdoors {outdoor.value:g} °C, within 5 K of the coolest room: was it read in Celsius, on this day?"
        yield ReadingQuery(readings.file, f'line {outdoor.line}, column "value"', text)


def _table(text: str, file: str) -> tuple[int, list[str], list[tuple[int, list[str]]]]:
    """The line of the header, its columns, and every other record with its line."""
    lines = io.StringIO(text.removeprefix("\ufeff"), newline=None).read().split("\n")
    kept = [line if not line.lstrip().startswith("#") else "" for line in lines]
    reader = csv.reader(io.StringIO("\n".join(kept)), strict=True, skipinitialspace=True)
    records: list[tuple[int, list[str]]] = []
    try:
        for fields in reader:
            stripped = [re.sub(" +", " ", field.strip()) for field in fields]
            if any(stripped):
                records.append((reader.line_num, stripped))
    except csv.Error as error:
        required = "fields with commas between, quotes closed"
        raise file_error(file, f"line {reader.line_num}", f"what is not a CSV record ({error})", required) from None
    if not records:
        raise file_error(file, "", "nothing to read", f"a header row with {', '.join(REQUIRED)} and a row a reading")
    (line, header), *body = records
    columns = [name.casefold() for name in _without_empty_end(header, 1)]
    return line, columns, [(number, _without_empty_end(fields, len(columns))) for number, fields in body]


def _without_empty_end(fields: list[str], minimum: int) -> list[str]:
    """Fields without the empty ones that a spreadsheet adds at the end of a row."""
    count = len(fields)
    while count > minimum and not fields[count - 1]:
        count -= 1
    return fields[:count]
