"""Operating point: the frozen result of a system at given conditions, with its tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.solver.operating_state import Operation
from heatloop.layout.model import Layout
from heatloop.results.summaries import rating_account
from heatloop.survey.survey import Survey
from heatloop.text.summary import Account, Speaks
from heatloop.text.table_set import SCHEMA_VERSION, table_records


@dataclass(frozen=True, eq=False, repr=False)
class Rating(Speaks):
    """What `rate` found: the survey at the conditions rated, the solved system, and the tables."""

    survey: Survey
    layout: Layout
    room_losses: tuple[RoomLoss, ...]
    operation: Operation
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    @property
    def loops(self) -> pd.DataFrame:
        """One row a loop: its state (open, throttled, shut), flow against design, temperatures, output."""
        return self.frames["loops"].copy()

    @property
    def rooms(self) -> pd.DataFrame:
        """One row a room: its loss now, what the skirting gives, whether it is satisfied, what governs it."""
        return self.frames["rooms"].copy()

    @property
    def elements(self) -> pd.DataFrame:
        """One row an element in water order: temperatures, heat and pressure drop."""
        return self.frames["elements"].copy()

    @property
    def valves(self) -> pd.DataFrame:
        """One row a valve: its setting, Kv now, flow and pressure drop."""
        return self.frames["valves"].copy()

    @property
    def pumps(self) -> pd.DataFrame:
        """One row a pump: its duty point, how it runs, its power where the efficiency is known."""
        return self.frames["pumps"].copy()

    @property
    def along(self) -> pd.DataFrame:
        """Water temperature along every channel, point by point."""
        return self.frames["along"].copy()

    @property
    def summary(self) -> dict[str, Any]:
        """Source and pump, what the rooms get, residuals."""
        return dict(self.facts)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables by name."""
        return {name: frame.copy() for name, frame in self.frames.items()}

    def account(self) -> Account:
        """Rooms that are warm or not, loops and their state: what is printed and shown in a notebook."""
        return rating_account(self.facts, self.frames)

    def __repr__(self) -> str:
        return f"<Rating of {self.facts['project']!r}: {len(self.frames['loops'])} loops>"

    def to_dict(self) -> dict[str, Any]:
        """All tables as lists of row objects, `summary` and `schema_version`: the JSON form."""
        return {"schema_version": SCHEMA_VERSION, **table_records(self.frames, self.facts)}
