"""A finished design: the frozen result of sizing and its tables.

The tables are pandas DataFrames with stable columns, each with its unit in its name. Every access returns a copy.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import pandas as pd

from heatloop.findings.verdict import Verdict
from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.layout.model import Layout
from heatloop.results.assumptions import ASSUMPTIONS
from heatloop.results.checks.design_checks import CHECKS
from heatloop.results.compare import differences
from heatloop.results.summaries import design_summary
from heatloop.results.tables.glazing import GLAZING
from heatloop.results.tables.heat import LOSSES, SOURCE_HEAT
from heatloop.results.tables.loops_and_rooms import ALONG, ELEMENTS, LOOPS, ROOMS
from heatloop.results.tables.output_range import OUTPUT_RANGE, RATINGS
from heatloop.results.tables.pumps import PUMP_CURVES, PUMPS
from heatloop.results.tables.sensors import SENSORS
from heatloop.results.tables.summary import SUMMARY
from heatloop.results.tables.valves import SHUT, VALVES
from heatloop.survey.survey import SurveyData
from heatloop.text.summary import Summary
from heatloop.text.table_set import Table, TableSet


class Figures(Protocol):
    """Results calculated from a sized system."""

    @property
    def frames(self) -> Mapping[str, pd.DataFrame]:
        """The tables by name."""

    @property
    def facts(self) -> Mapping[str, Any]:
        """The key figures by name."""

    @property
    def verdict(self) -> Verdict:
        """Whether the design meets its limits, with the failed checks and cautions."""


@dataclass(frozen=True, eq=False, repr=False)
class DesignResult(TableSet):
    """Result of `size`: the survey, the sized system, the tables and the verdict.

    All except the system is calculated when first requested.
    """

    system: SizedSystem
    figures: Figures

    @cached_property
    def frames(self) -> Mapping[str, pd.DataFrame]:  # type: ignore[override]
        """The tables by name."""
        return self.figures.frames

    @cached_property
    def facts(self) -> Mapping[str, Any]:  # type: ignore[override]
        """The key figures by name."""
        return self.figures.facts

    @property
    def verdict(self) -> Verdict:
        """Whether the design meets its limits; what fails or requires caution.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").verdict.outcome
        'caution'
        """
        return self.figures.verdict

    @property
    def survey(self) -> SurveyData:
        """The survey that was designed."""
        return self.system.survey

    @property
    def layout(self) -> Layout:
        """Layout of skirting and pipes.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").layout.loop("Annexe").loop
        'Annexe'
        """
        return self.system.layout

    @property
    def room_losses(self) -> tuple[RoomLoss, ...]:
        """Heat loss of every room, part by part."""
        return self.system.room_losses

    @property
    def operation(self) -> SystemState:
        """The solved system at the design condition."""
        return self.system.state

    summary_columns = SUMMARY
    _internal = frozenset({"system", "figures", "operation", "room_losses"})
    rooms = Table(ROOMS)
    loops = Table(LOOPS)
    elements = Table(ELEMENTS)
    valves = Table(VALVES)
    pumps = Table(PUMPS)
    pump_curves = Table(PUMP_CURVES)
    loop_isolation = Table(SHUT)
    remote_sensors = Table(SENSORS)
    temperature_profile = Table(ALONG)
    heat_loss_parts = Table(LOSSES)
    source_heat_balance = Table(SOURCE_HEAT)
    glazing_comfort = Table(GLAZING)
    profile_ratings = Table(RATINGS)
    output_range = Table(OUTPUT_RANGE)
    checks = Table(CHECKS)
    assumptions = Table(ASSUMPTIONS)

    def summary_block(self) -> Summary:
        """Verdict, rooms, loops and checks that are not met, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").summary_block().title
        'Mill Annexe: flow temperature 70.0 °C, outdoor temperature -4.0 °C'
        """
        return design_summary(self.facts, self.frames, self.verdict)

    def __repr__(self) -> str:
        return f"<Design of {self.facts['project']!r}: {len(self.survey.rooms)} rooms, {len(self.survey.loops)} loops>"

    def compare(self, other: DesignResult) -> pd.DataFrame:
        """The differences from another design, of the same survey or of another one.

        Parameters
        ----------
        other : Design
            The other design.

        Returns
        -------
        pandas.DataFrame
            One row for each difference: a quantity of the project, of a room or of a loop, or a verdict. Columns: what,
            name, quantity (with its unit), before (here), after (in `other`), change.

        Examples
        --------
        >>> import heatloop as hl
        >>> design = hl.size("data/mill-annexe/survey.toml")
        >>> design.compare(design.resize(flow_temp_c=50.0)).columns.tolist()
        ['what', 'name', 'quantity', 'before', 'after', 'change']
        """
        return differences((self.facts, self.frames), (other.facts, other.frames))
