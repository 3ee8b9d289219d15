"""Faults of the input: one plain line each, and an error that carries all of a file's faults."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """What is wrong, in one line: the file, the place in it, what was found, what is wanted."""

    file: str
    place: str
    found: str
    wanted: str

    def __str__(self) -> str:
        place = f"{self.place}: " if self.place else ""
        return f"{self.file}: {place}found {self.found}, wanted {self.wanted}"


class SurveyError(Exception):
    """The input cannot be used; `faults` lists every reason, `str()` has one line for each.

    `readable` is what of a faulty survey is sound enough to be looked at further, with the loops alone that no
    fault touches; None where there is nothing.
    """

    def __init__(self, faults: Iterable[Fault], readable: object = None) -> None:
        self.faults = tuple(faults)
        self.readable = readable
        super().__init__("\n".join(str(fault) for fault in self.faults))
