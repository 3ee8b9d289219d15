"""Operating point: the frozen result of a system at given conditions, with its tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.layout.model import Layout
from heatloop.results.checks.design_checks import CHECKS
from heatloop.results.checks.operating_checks import SCOPE
from heatloop.results.summaries import operating_summary_block
from heatloop.results.tables.loops_and_rooms import ALONG, ELEMENTS
from heatloop.results.tables.operating_point import RATED_LOOPS, RATED_PUMPS, RATED_ROOMS, RATED_VALVES, RATING_SUMMARY
from heatloop.survey.survey import SurveyData
from heatloop.text.summary import Summary
from heatloop.text.table_set import Table, TableSet


@dataclass(frozen=True, eq=False, repr=False)
class OperatingPoint(TableSet):
    """A system at given conditions, as :func:`heatloop.simulate` returns it.

    Attributes
    ----------
    survey : Survey
        The survey at these conditions.
    loops, rooms, elements, valves, pumps, temperature_profile, checks : pandas.DataFrame
        The tables; the page "Tables" of the documentation describes their columns.
    summary : dict
        Key figures by name, each with its unit in the name.
    operation : SystemState
        The solved system.

    Examples
    --------
    >>> import heatloop as hl
    >>> found = hl.simulate("data/mill-annexe/survey.toml", outdoor_c=8.0)
    >>> found.survey.project.outdoor_c
    8.0
    """

    survey: SurveyData
    layout: Layout
    room_losses: tuple[RoomLoss, ...]
    operation: SystemState
    frames: Mapping[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = RATING_SUMMARY
    _internal = frozenset({"room_losses", "operation"})
    loops = Table(RATED_LOOPS)
    rooms = Table(RATED_ROOMS)
    elements = Table(ELEMENTS)
    valves = Table(RATED_VALVES)
    pumps = Table(RATED_PUMPS)
    temperature_profile = Table(ALONG)
    checks = Table(CHECKS)

    @property
    def scope(self) -> tuple[str, ...]:
        """What is checked at these conditions. The verdict of a system is that of its design.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.simulate("data/mill-annexe/survey.toml", outdoor_c=8.0).scope[0]
        'heat to rooms'
        """
        return SCOPE

    def summary_block(self) -> Summary:
        """Rooms with their heat, loops and their state, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.simulate("data/mill-annexe/survey.toml", outdoor_c=8.0).summary_block().title
        'Mill Annexe, operating point: flow temperature 70.0 °C, outdoor temperature 8.0 °C'
        """
        return operating_summary_block(self.facts, self.frames)

    def __repr__(self) -> str:
        return f"<OperatingPoint of {self.facts['project']!r}: {len(self.frames['loops'])} loops>"
