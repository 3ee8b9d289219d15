"""Commissioning and handover documents as one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.findings.verdict import Verdict
from heatloop.handover.commissioning import final_settings, tables, user_documents
from heatloop.handover.commissioning.conditions import CommissioningConditions
from heatloop.handover.commissioning.filling import FILL_AND_VENT
from heatloop.handover.commissioning.pressure_checks import PRESSURES, precharge_to_set_kpa
from heatloop.handover.commissioning.pressures import Pressures
from heatloop.handover.commissioning.purging import PURGE, PurgeResult
from heatloop.handover.commissioning.water_treatment import DOSES, TREATMENT
from heatloop.hydraulics.analysis.water_content import ContentItem
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.text.column import Column, number_column, share_column, text_column
from heatloop.text.formatting import cell_text
from heatloop.text.summary import BulletList, Summary, grid
from heatloop.text.table_set import Table, TableSet


@dataclass(frozen=True)
class DocumentSection:
    """A section of the pack: its title, a sentence or two, its table, and its safety notices.

    `cautions` are their titles."""

    title: str
    about: str
    table: str
    cautions: tuple[str, ...] = ()


PACK_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    number_column("outdoor_c", "Outdoor temperature", "°C", 1),
    number_column("flow_temp_c", "Flow temperature", "°C", 1),
    text_column("flow_temp_from", "Source of the flow temperature"),
    share_column("load_share", "Load", "share of the design load"),
    number_column("water_content_l", "Water content", "l", 1),
    number_column("precharge_kpa", "Precharge of the vessel", "kPa", 0),
    number_column("fill_kpa", "Cold fill pressure", "kPa", 0),
    number_column("running_kpa", "Pressure on the gauge today, system warm", "kPa", 0),
    number_column("relief_kpa", "Relief valve", "kPa", 0),
    number_column("test_kpa", "Strength test", "kPa", 0),
    number_column("pump_head_kpa", "Required pump head", "kPa", 1),
    number_column("pump_flow_l_h", "Pump flow", "l/h", 0),
)
"""Columns of the figures at the head of the sheet."""


def pack_figures(
    system: SizedSystem, today: CommissioningConditions, system_pressures: Pressures, water_l: float, running_kpa: float
) -> dict[str, Any]:
    """Figures at the head of the sheet.

    `water_l` of the whole system, and `running_kpa`: the expected pressure of the day.
    """
    return {
        "project": system.survey.project.name,
        "outdoor_c": today.outdoor_c,
        "flow_temp_c": today.flow_temp_c,
        "flow_temp_from": today.how,
        "load_share": today.share,
        "water_content_l": water_l,
        "precharge_kpa": precharge_to_set_kpa(system_pressures),
        "fill_kpa": system_pressures.fill_kpa,
        "running_kpa": running_kpa,
        "relief_kpa": system_pressures.relief_kpa,
        "test_kpa": system_pressures.test_kpa,
        "pump_head_kpa": system.duty.head_kpa,
        "pump_flow_l_h": system.duty.flow_l_h,
    }


@dataclass(frozen=True, eq=False, repr=False)
class CommissioningResult(TableSet):
    """The design in the weather of a day, with all data for commissioning and for the users.

    `verdict` is that of the design.
    """

    system: SizedSystem
    today: CommissioningConditions
    contents: tuple[ContentItem, ...]
    pressures: Pressures
    purges: tuple[PurgeResult, ...]
    frames: Mapping[str, pd.DataFrame]
    facts: Mapping[str, Any]
    verdict: Verdict

    summary_columns = PACK_SUMMARY
    _internal = frozenset({"system", "today", "contents", "pressures", "purges"})
    commissioning = Table(tables.COMMISSIONING)
    part_load = Table(tables.PART_LOAD)
    surface_temperatures = Table(tables.SURFACES)
    water_content = Table(tables.CONTENTS)
    pressures_table = Table(PRESSURES)
    fill_and_vent = Table(FILL_AND_VENT)
    purging = Table(PURGE)
    treatment = Table(TREATMENT)
    doses = Table(DOSES)
    settings_as_left = Table(final_settings.SETTINGS_AS_LEFT)
    water_record = Table(user_documents.WATER_RECORD)
    user_guide = Table(user_documents.USER_PAGE)
    annual_checks = Table(user_documents.YEARLY_CHECKS)
    commissioning_checks = Table(tables.HANDOVER_CHECKS)

    def summary_block(self) -> Summary:
        """Weather, pressures and settings, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").commissioning(outdoor_c=5.0).summary_block().title
        'Mill Annexe, commissioning: flow 55.2 °C, outdoor 5.0 °C'
        """
        written = {column.name: cell_text(column, self.facts[column.name]) for column in PACK_SUMMARY}
        checks = self.commissioning_checks
        failed = checks[checks["verdict"] == "fail"]
        items = tuple(f"{row.check}, {row.location}. {row.recommendation}" for row in failed.itertuples())
        return Summary(
            f"{written['project']}, commissioning: flow {written['flow_temp_c']} °C, outdoor {written['outdoor_c']} °C",
            (
                self.verdict.headline,
                f"Cold fill {written['fill_kpa']} kPa, precharge {self.facts['precharge_kpa']:g} kPa, "
                f"{written['running_kpa']} kPa when warm today; water content {written['water_content_l']} l.",
            ),
            (grid("Valves", self.commissioning.to_dict("records"), tables.COMMISSIONING.headed(SHOWN)),),
            (BulletList("Failed checks", items),) if items else (),
        )

    def __repr__(self) -> str:
        return f"<Pack of {self.facts['project']!r}: {len(self.frames['commissioning'])} rows to set>"

    @property
    def sections(self) -> tuple[DocumentSection, ...]:
        """The parts of the pack in order, each with its table and the cautions to show beside it.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").commissioning(outdoor_c=5.0).sections[0].title
        'Limits of the closed system'
        """
        return SECTIONS


SHOWN = {
    "loop": "Loop",
    "valve": "Balancing valve",
    "set_to": "Nearest setting",
    "flow_heads_removed_l_h": "Flow, heads removed",
    "min_flow_l_h": "Accept from",
    "max_flow_l_h": "Accept to",
    "expected_flow_temp_c": "Flow",
    "return_temp_heads_removed_c": "Return",
}
"""Columns of the commissioning table that a summary shows, with short headings."""

SECTIONS = (
    DocumentSection(
        "Limits of the closed system",
        "Checks of the closed system with calculated value, limit and source.",
        "commissioning_checks",
    ),
    DocumentSection(
        "Water content",
        "All parts that hold water; vessel, flushing and doses are calculated from the total.",
        "water_content",
    ),
    DocumentSection(
        "Pressures",
        "Gauge pressures at the level of the vessel, each with its formula and source.",
        "pressures",
        ("Pressure", "Gas, oil, refrigerant and flues"),
    ),
    DocumentSection(
        "Fill, test, vent and drain",
        "From the lowest point upwards, the remote ends last; tick each step.",
        "fill_and_vent",
        ("Pressure", "Scalding", "Electricity", "Freezing and leaks"),
    ),
    DocumentSection(
        "Purge flows", "Flow that purges the air from each loop, with its valves fully open, and its drive.", "purging"
    ),
    DocumentSection(
        "Water treatment", "Clean, flush, protect, label, in this order.", "treatment", ("Chemicals", "Scalding")
    ),
    DocumentSection("Doses", "From the label of each additive, as stated in the survey.", "doses", ("Chemicals",)),
    DocumentSection(
        "Commissioning",
        "Remove the thermostatic heads, set each valve and run for an hour. Read flow and return, compare them "
        "with the columns for removed heads, and record the settings as left. Refit the heads last. Design figures, "
        "in grey, are for reference.",
        "commissioning",
        ("Hot surfaces", "Scalding", "Electricity", "Gas, oil, refrigerant and flues"),
    ),
    DocumentSection(
        "Other weather", "Expected values from the design outdoor temperature to milder weather.", "part_load"
    ),
    DocumentSection(
        "Surface temperatures",
        "The hottest skirting of each room; rooms marked for vulnerable people first.",
        "surface_temperatures",
        ("Hot surfaces",),
    ),
    DocumentSection("Final settings", "Design values, with boxes for the final settings.", "settings_as_left"),
    DocumentSection("Water record", "Fill in at each test.", "water_record", ("Chemicals", "Scalding")),
    DocumentSection(
        "For the user",
        "Operation, what not to cover, and where not to drill.",
        "user_guide",
        ("Hot surfaces", "Drilling and cutting", "Electricity", "Freezing and leaks"),
    ),
    DocumentSection(
        "Annual checks",
        "Checks for each year, with the person responsible.",
        "annual_checks",
        ("Pressure", "Chemicals", "Gas, oil, refrigerant and flues", "Electricity"),
    ),
)
