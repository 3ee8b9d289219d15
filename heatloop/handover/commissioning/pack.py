"""Commissioning and handover documents as one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.handover.commissioning.conditions import Day
from heatloop.handover.commissioning.pressures import Pressures
from heatloop.handover.commissioning.purging import Purge
from heatloop.hydraulics.analysis.water_content import Content, content_l
from heatloop.hydraulics.sizing.sized_system import SizedSystem


@dataclass(frozen=True)
class Section:
    """One part of the pack: its title, what it says in a sentence or two, its table, and the cautions that go with it.

    `cautions` are titles.
    """

    title: str
    about: str
    table: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Pack:
    """The design in the weather of a day, with all that its commissioning and its users need.

    `unfit` is the verdict of a design or closed system that fails a check, "" where none fails.
    """

    system: SizedSystem
    today: Day
    contents: tuple[Content, ...]
    pressures: Pressures
    purges: tuple[Purge, ...]
    running_kpa: float
    frames: Mapping[str, pd.DataFrame]
    unfit: str = ""

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables by name, fresh copies in the order of the pack."""
        return {name: frame.copy() for name, frame in self.frames.items()}

    @property
    def summary(self) -> dict[str, Any]:
        """The figures at the head of the sheet."""
        return {
            "project": self.system.survey.project.name,
            "outdoor_c": self.today.outdoor_c,
            "flow_temp_c": self.today.flow_temp_c,
            "flow_temp_from": self.today.how,
            "load_share": self.today.share,
            "content_l": content_l(self.contents),
            "precharge_kpa": self.pressures.precharge_kpa,
            "fill_kpa": self.pressures.fill_kpa,
            "running_kpa": self.running_kpa,
            "relief_kpa": self.pressures.relief_kpa,
            "test_kpa": self.pressures.test_kpa,
            "pump_head_kpa": self.system.duty.head_kpa,
            "pump_flow_l_h": self.system.duty.flow_l_h,
        }

    @property
    def sections(self) -> tuple[Section, ...]:
        """The parts of the pack in order, each with its table and the cautions to show beside it."""
        return SECTIONS


SECTIONS = (
    Section("Limits of the closed system", "What was tried and what would mend it.", "handover_checks"),
    Section(
        "Water content", "Every part that holds water; vessel, flushing and doses follow from the whole.", "contents"
    ),
    Section(
        "Pressures",
        "Gauge pressures at the level of the vessel, each with its formula and source.",
        "pressures",
        ("Pressure", "Gas, oil, refrigerant and flues"),
    ),
    Section(
        "Fill, test, vent and drain",
        "From the low point up, the far ends last; tick each step.",
        "fill_and_vent",
        ("Pressure", "Scalding", "Electricity", "Freezing and leaks"),
    ),
    Section("Purge flows", "What sweeps the air out of each loop, valves wide open, and what drives it.", "purge"),
    Section("Water treatment", "Clean, flush, protect, label, in this order.", "treatment", ("Chemicals", "Scalding")),
    Section("Doses", "By the label of each additive as the survey copies it.", "doses", ("Chemicals",)),
    Section(
        "Commissioning",
        "Set each valve to its mark and run for an hour, heads off; read flow and return, compare, write down what is "
        "left. Heads on last.",
        "commissioning",
        ("Hot surfaces", "Scalding", "Electricity", "Gas, oil, refrigerant and flues"),
    ),
    Section("Other weather", "What to expect on a colder or milder day.", "part_load"),
    Section(
        "Surface temperatures",
        "The hottest skirting of each room; rooms marked for vulnerable people first.",
        "surfaces",
        ("Hot surfaces",),
    ),
    Section("Settings as left", "What was designed, and a box for what was left.", "settings_as_left"),
    Section("Water record", "Fill in at each test.", "water_record", ("Chemicals", "Scalding")),
    Section(
        "For the user",
        "How to run it, what not to cover, where not to drill.",
        "user_page",
        ("Hot surfaces", "Drilling and cutting", "Electricity", "Freezing and leaks"),
    ),
    Section(
        "Every year",
        "Checks that keep it running, and who does them.",
        "yearly_checks",
        ("Pressure", "Chemicals", "Gas, oil, refrigerant and flues", "Electricity"),
    ),
)
