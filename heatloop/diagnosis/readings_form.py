"""The form for readings taken on site."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from heatloop.diagnosis.readings import (
    HEADS,
    HOURS,
    NOT_READ,
    QUANTITIES,
    REQUIRED,
    RETURN_TEMP,
    SURFACE_TEMP,
    Quantity,
    Readings,
    arms_of,
    places_of,
)
from heatloop.hydraulics.sizing.sized_system import SizedSystem


def readings_sheet(system: SizedSystem) -> str:
    """A file of readings to be filled in, loop by loop: every required row, and the others marked as not read."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n").writerow
    write([*REQUIRED[:2], "arm", *REQUIRED[2:]])
    for quantity, of, arm in _to_fill_in(system):
        value = "" if quantity.needed and not arm else NOT_READ
        write([quantity.name, of, arm or "", value, quantity.unit, quantity.usual_error])
    return out.getvalue()


def _to_fill_in(system: SizedSystem) -> Iterator[tuple[Quantity, str, int]]:
    of_loops = [q for q in QUANTITIES.values() if q.of == "loop" and q.name != SURFACE_TEMP]
    for loop in places_of(of_loops[0], system):
        for quantity in of_loops:
            yield quantity, loop, 0
            arms = arms_of(system, loop) if quantity.name == RETURN_TEMP else 0
            yield from ((quantity, loop, arm) for arm in range(1, arms + 1) if arms > 1)
    for quantity in QUANTITIES.values():
        if quantity.of != "loop":
            yield from ((quantity, name, 0) for name in (places_of(quantity, system) if quantity.of else [""]))


def readings_text(readings: Readings, notes: Sequence[str] = ()) -> str:
    """Readings as the text of a file that `read_readings` reads; `notes` stand before it as comments."""
    out = io.StringIO()
    for note in notes:
        out.write(f"# {note}\n")
    write = csv.writer(out, lineterminator="\n").writerow
    surfaces = ["channel", "piece"] if any(item.channel for item in readings.items) else []
    write([*REQUIRED[:2], "arm", *REQUIRED[2:], *surfaces])
    for item in readings.items:
        quantity = QUANTITIES[item.quantity]
        where = [item.channel or "", item.piece] if surfaces else []
        values = [f"{item.value:g}", quantity.unit, f"{item.error:.3g}"]
        write([item.quantity, item.of, item.arm or "", *values, *where])
    blank = [""] * len(surfaces)
    if readings.thermostatic_heads_removed is not None:
        write([HEADS, "", "", "off" if readings.thermostatic_heads_removed else "on", "", "", *blank])
    if readings.hours_running is not None:
        write([HOURS, "", "", f"{readings.hours_running:g}", QUANTITIES[HOURS].unit, "", *blank])
    return out.getvalue()
