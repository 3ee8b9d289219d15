"""An assumption made where the survey or the catalogue states nothing."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Assumption:
    """An assumption and its source."""

    text: str
    source: str

    def __str__(self) -> str:
        return f"{self.text}: {self.source}"
