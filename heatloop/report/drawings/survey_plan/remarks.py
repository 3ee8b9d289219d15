"""Faults of a survey by number, each with the room and the wall that it belongs to."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from heatloop.findings.input_errors import InputIssue

WALL = re.compile(r", wall (\d+)(?=,|$)")


@dataclass(frozen=True)
class Remark:
    """A fault: its number from 1, its words without the file, and room (from 0) and wall (from 1) where it has them."""

    number: int
    words: str
    room: int | None = None
    wall: int | None = None


def remarks_of(issues: Sequence[InputIssue], places: Sequence[str]) -> tuple[Remark, ...]:
    """The faults of a survey by number; `places` has for every room its place in their words."""
    remarks = []
    for number, issue in enumerate(issues, start=1):
        place = f"{issue.place}: " if issue.place else ""
        words = f"{place}found {issue.found}; required: {issue.required}"
        inner = issue.place
        if inner.endswith(")") and "!" in inner.partition(" (")[0]:  # a cell of a workbook in front of its place
            inner = inner.partition(" (")[2][:-1]
        room = next(
            (i for i, room_place in enumerate(places) if inner == room_place or inner.startswith(f"{room_place}, ")),
            None,
        )
        wall = WALL.match(inner[len(places[room]) :]) if room is not None else None
        remarks.append(Remark(number, words, room, int(wall[1]) if wall else None))
    return tuple(remarks)
