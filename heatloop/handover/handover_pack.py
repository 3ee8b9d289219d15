"""What is handed over with the keys: sheet of the day, settings as left, water record, user's page, yearly checks.

All of it is tables, so that the page, the workbook and any program read the same; boxes to be filled in by hand are
empty columns. Nothing here is a certificate: local codes and licensed people decide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import pandas as pd

from heatloop.checks import TOUCH_C, Check
from heatloop.handover import commissioning as sheet
from heatloop.handover import keeping, treatment
from heatloop.handover.commissioning import Day
from heatloop.handover.contents import Content, content_l, contents, contents_table
from heatloop.handover.filling import fill_and_vent_table, filling_steps
from heatloop.handover.pressures import Pressures, pressure_checks, pressures, pressures_table
from heatloop.handover.purge import Purge, purge_table, purges
from heatloop.physics.water import Fluid
from heatloop.plant import fluid_of
from heatloop.result import Design


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
    """The design in the weather of a day, with all that its commissioning and its users need."""

    design: Design
    today: Day
    contents: tuple[Content, ...]
    pressures: Pressures
    purges: tuple[Purge, ...]
    running_kpa: float
    frames: Mapping[str, pd.DataFrame]

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """All tables by name, fresh copies in the order of the pack."""
        return {name: frame.copy() for name, frame in self.frames.items()}

    @property
    def summary(self) -> dict[str, Any]:
        """The figures at the head of the sheet."""
        return {
            "project": self.design.summary["project"],
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
            "pump_head_kpa": self.design.summary["pump_head_kpa"],
            "pump_flow_l_h": self.design.summary["pump_flow_l_h"],
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


def hand_over_pack(
    design: Design,
    outdoor_c: float | None = None,
    flow_temp_c: float | None = None,
    treatment_rules: str | Path | None = None,
) -> Pack:
    """The pack of a design; `outdoor_c` and `flow_temp_c` (degC) of the day go before the survey's weather, rules of
    treatment in a file of your own (TOML) before those of the package.

    Raises SurveyError for a day that cannot be, ValueError for rules that are none, OSError where they cannot be read.
    """
    rules = None if treatment_rules is None else treatment.load_rules(Path(treatment_rules))
    water = fluid_of(design.survey)
    survey, layout, system = design.survey, design.layout, design.operation.assembly
    today = sheet.day(design, outdoor_c, flow_temp_c)
    held = contents(survey, layout, system)
    found = pressures(survey, layout, content_l(held), float(design.operation.supply_c.max()), water)
    swept = purges(survey, system.loops, water)
    facts = treatment.facts(survey, content_l(held))
    now = sheet.state_at(design, today.flow_temp_c)
    targets = sheet.commissioning_table(design, today, now)
    ladder = sheet.part_load_table(design)
    frames = {
        "commissioning": targets,
        "part_load": ladder,
        "surfaces": sheet.surfaces_table(design, now, TOUCH_C),
        "contents": contents_table(held),
        "pressures": pressures_table(survey, found),
        "fill_and_vent": fill_and_vent_table(filling_steps(survey, layout, found, swept)),
        "purge": purge_table(swept),
        "treatment": treatment.treatment_table(facts, rules),
        "doses": treatment.doses_table(facts),
        "settings_as_left": keeping.settings_table(design, found, ladder),
        "water_record": keeping.water_record_table(facts),
        "user_page": keeping.user_table(design, found, ladder),
        "yearly_checks": keeping.yearly_table(design, found, facts),
        "handover_checks": _checks_table([*pressure_checks(found), *treatment.treatment_checks(facts)]),
    }
    return Pack(design, today, held, found, swept, _running_kpa(found, targets, water), frames)


def _running_kpa(found: Pressures, targets: pd.DataFrame, water: Fluid) -> float:
    """Pressure to expect on the day, the content at the mean of flow and return; the greatest temperature at most."""
    mean_c = float((targets["flow_temp_c"] + targets["return_temp_c"]).mean() / 2.0)
    if pd.isna(mean_c):
        return float("nan")
    return found.running_kpa(water, min(mean_c, found.greatest_c))


def _checks_table(rows: list[Check]) -> pd.DataFrame:
    """Checks as a table, the worst first."""
    frame = pd.DataFrame([asdict(row) for row in rows], columns=[field.name for field in fields(Check)])
    rank = frame["verdict"].map({"fail": 0, "caution": 1, "pass": 2})
    return frame.loc[rank.sort_values(kind="stable").index].reset_index(drop=True)
