"""A finished design: the frozen result of sizing and its tables.

The tables are plain pandas DataFrames with stable columns, each carrying its unit in its name; a fresh
copy is handed out each time, so nothing done to one changes the design.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import Operation
from heatloop.layout.model import Layout
from heatloop.results.compare import compared
from heatloop.results.summaries import design_account
from heatloop.survey.survey import Survey
from heatloop.text.summary import Account, Speaks
from heatloop.text.table_set import SCHEMA_VERSION, table_records


@dataclass(frozen=True, eq=False, repr=False)
class Design(Speaks):
    """What `size` found: the survey, what was computed from it step by step, and the tables."""

    system: SizedSystem
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    @property
    def survey(self) -> Survey:
        """The survey that was designed."""
        return self.system.survey

    @property
    def layout(self) -> Layout:
        """Where skirting and pipe lie."""
        return self.system.layout

    @property
    def room_losses(self) -> tuple[RoomLoss, ...]:
        """Heat loss of every room, part by part."""
        return self.system.room_losses

    @property
    def operation(self) -> Operation:
        """The solved system at the design condition."""
        return self.system.state

    @property
    def loops(self) -> pd.DataFrame:
        """One row a loop: its flow, temperatures, output, pressure drop and presetting."""
        return self.frames["loops"].copy()

    @property
    def rooms(self) -> pd.DataFrame:
        """One row a room: its loss, what the skirting gives, how much wall is left."""
        return self.frames["rooms"].copy()

    @property
    def elements(self) -> pd.DataFrame:
        """One row an element in water order: temperatures, heat and pressure drop."""
        return self.frames["elements"].copy()

    @property
    def along(self) -> pd.DataFrame:
        """Water temperature along every channel, point by point."""
        return self.frames["along"].copy()

    @property
    def valves(self) -> pd.DataFrame:
        """One row a valve: its Kv, exact and real setting, target and achieved flow, pressure drop, authority."""
        return self.frames["valves"].copy()

    @property
    def pumps(self) -> pd.DataFrame:
        """One row a pump: its duty, what it can give, how it runs and its power."""
        return self.frames["pumps"].copy()

    @property
    def shut(self) -> pd.DataFrame:
        """One row a loop: what the others do when it shuts."""
        return self.frames["shut"].copy()

    @property
    def sensors(self) -> pd.DataFrame:
        """One row a room on another room's sensor: what it gets when the valve has throttled."""
        return self.frames["sensors"].copy()

    @property
    def losses(self) -> pd.DataFrame:
        """One row a part of a room's heat loss: what is beyond, area, U-value and watts."""
        return self.frames["losses"].copy()

    @property
    def source_heat(self) -> pd.DataFrame:
        """Where the source's heat goes: into rooms, through walls behind the skirting, out of pipes, below sills."""
        return self.frames["source_heat"].copy()

    @property
    def glazing(self) -> pd.DataFrame:
        """One row a glazed opening: its draught and cold, and what the skirting before it gives."""
        return self.frames["glazing"].copy()

    @property
    def ratings(self) -> pd.DataFrame:
        """One row a profile: its rating, what was identified from it, and how its test ran."""
        return self.frames["ratings"].copy()

    @property
    def band(self) -> pd.DataFrame:
        """Output of every room with what nobody knows exactly read otherwise, one thing at a time."""
        return self.frames["band"].copy()

    @property
    def checks(self) -> pd.DataFrame:
        """Every limit with its verdict, source and remedy."""
        return self.frames["checks"].copy()

    @property
    def assumptions(self) -> pd.DataFrame:
        """What was assumed, and on whose word."""
        return self.frames["assumptions"].copy()

    @property
    def summary(self) -> dict[str, Any]:
        """The duty of source and pump, the index loop, volume, residuals and the verdict."""
        return dict(self.facts)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables by name, in the order of the report."""
        return {name: frame.copy() for name, frame in self.frames.items()}

    def account(self) -> Account:
        """Verdict, rooms, loops and what is not met: what is printed and shown in a notebook."""
        return design_account(self.facts, self.frames)

    def __repr__(self) -> str:
        return f"<Design of {self.facts['project']!r}: {len(self.survey.rooms)} rooms, {len(self.survey.loops)} loops>"

    def compare(self, other: Design) -> pd.DataFrame:
        """What is another in `other`, side by side: one row a quantity of the job, a room or a loop, or a verdict.

        Columns: what, name, quantity (with its unit), before (here), after (in `other`), change.
        """
        return compared((self.facts, self.frames), (other.facts, other.frames))

    def to_dict(self) -> dict[str, Any]:
        """All tables as lists of row objects, `summary` and `schema_version`: the JSON form."""
        return {"schema_version": SCHEMA_VERSION, **table_records(self.frames, self.facts)}
