"""A line of what was taken for granted where the survey or the catalogue is silent."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Assumption:
    """What was taken, and on whose word."""

    text: str
    source: str

    def __str__(self) -> str:
        return f"{self.text}: {self.source}"
