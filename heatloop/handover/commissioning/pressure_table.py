"""Table of the pressures of the closed system, each with its unit, formula and source."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pandas as pd

from heatloop.handover.commissioning.pressure_checks import accepted_pressures, in_kpa, precharge_to_set_kpa
from heatloop.handover.commissioning.pressures import BOYLE, EN_12828, PRACTICE, STATED, Pressures
from heatloop.survey.survey import SurveyData
from heatloop.text.column import Column, TableDescription, figure_column, text_column
from heatloop.text.table_set import table_frame

RATING_SOURCE = "catalogue and survey"

PressureRow = tuple[str, float, str, str, str]
"""Quantity, value, unit, formula, source."""
PRESSURES = TableDescription(
    "pressures",
    "Pressures",
    "Gauge pressures at the level of the vessel, each with its formula and source.",
    (
        text_column("quantity", "Quantity"),
        figure_column("value", "Value"),
        Column("unit", "Unit", kind="unit"),
        text_column("formula", "Formula"),
        text_column("source", "Source"),
    ),
)


def pressures_table(survey: SurveyData, found: Pressures) -> pd.DataFrame:
    """Pressures with unit, formula and source."""
    rows = (*_water_rows(survey, found), *_vessel_rows(found), *_fill_rows(found), *_test_rows(survey, found))
    return table_frame(PRESSURES, rows)


def _water_rows(survey: SurveyData, found: Pressures) -> Iterator[PressureRow]:
    """Water content, temperatures and expansion."""
    by = "EN 12828 table, filled at 10 °C" if found.by_table else "density cold / density hot - 1"
    yield from (
        (
            "water content",
            found.content_l,
            "l",
            "cross-sections times lengths, plus stated volumes",
            "table of water content",
        ),
        ("temperature when filled", found.fill_c, "degC", "as stated, otherwise 10", STATED),
        (
            "maximum temperature",
            found.max_temp_c,
            "degC",
            _max_temp_words(survey),
            STATED,
        ),
        ("expansion", 100.0 * found.expansion, "%", by, EN_12828 if found.by_table else _density_source(survey)),
        ("expansion volume", found.expansion_l, "l", "content x expansion", "definition"),
    )


def _vessel_rows(found: Pressures) -> Iterator[PressureRow]:
    """Static head, precharge, relief valve and size of the vessel."""
    yield from (
        (
            "static head",
            found.static_kpa,
            "kPa",
            f"rho g ({found.highest_point_m:.2f} m - {found.vessel_m:.2f} m)",
            "levels of the rooms",
        ),
        (
            "precharge for the calculation",
            found.precharge_kpa,
            "kPa",
            "as stated" if found.precharge_stated else f"static head + {found.margin_kpa:g}",
            _own(found.precharge_stated, EN_12828),
        ),
        (
            "precharge to set at the vessel",
            precharge_to_set_kpa(found),
            "kPa",
            f"nearest whole kPa within the accepted range, {in_kpa(accepted_pressures(found).precharge)}",
            PRACTICE,
        ),
        ("relief valve", found.relief_kpa, "kPa", "as stated, otherwise 300", f"{STATED}, otherwise {PRACTICE}"),
        (
            "maximum working pressure",
            found.final_kpa,
            "kPa",
            "relief valve - the larger of 50 kPa and 10 % of its setting",
            EN_12828,
        ),
        (
            "reserve of the vessel",
            found.reserve_l,
            "l",
            "if the minimum vessel is at most 15 l, 20 % of its volume; else 0.5 % of the water content, at least 3 l",
            EN_12828,
        ),
        (
            "minimum vessel",
            found.min_vessel_l,
            "l",
            "(expansion + reserve)(maximum + 100)/(maximum - precharge), with the maximum working pressure",
            f"{EN_12828}; {BOYLE}",
        ),
        (
            "vessel",
            found.vessel_l,
            "l",
            "as stated, otherwise the next common size",
            _own(found.vessel_stated, PRACTICE),
        ),
    )


def _fill_rows(found: Pressures) -> Iterator[PressureRow]:
    """Fill pressures, cold and hot."""
    yield from (
        ("minimum cold fill", found.min_fill_kpa, "kPa", "the vessel holds the reserve", BOYLE),
        ("maximum cold fill", found.max_fill_kpa, "kPa", "when hot, the maximum working pressure is reached", BOYLE),
        ("cold fill pressure", found.fill_kpa, "kPa", "middle of the range", PRACTICE),
        ("pressure at the top, cold", found.fill_kpa - found.static_kpa, "kPa", "fill - static head", "definition"),
        ("pressure at the maximum temperature", found.hot_kpa, "kPa", "gas compressed by the expansion", BOYLE),
    )


def _test_rows(survey: SurveyData, found: Pressures) -> Iterator[PressureRow]:
    """The strength test and the ratings of the parts."""
    water_system, test = survey.system, survey.system.test
    tested = "stated" if test.pressure_kpa is not None else f"{test.factor:g} x relief valve"
    weakest = found.weakest
    rating = math.nan if weakest is None or weakest.max_pressure_kpa is None else weakest.max_pressure_kpa
    yield from (
        ("strength test", found.test_kpa, "kPa", tested, found.test_source),
        (
            "wait before the strength test",
            test.settle_minutes,
            "min",
            "water and metal reach one temperature",
            test.source or PRACTICE,
        ),
        (
            "duration of the strength test",
            test.minutes,
            "min",
            "no fall of pressure, no leak visible",
            test.source or PRACTICE,
        ),
        (
            "lowest pressure rating of a part",
            rating,
            "kPa",
            "no rating is stated for any part" if weakest is None else weakest.words,
            RATING_SOURCE,
        ),
    )
    if water_system.hose_kpa is not None:
        yield "pressure at the filling hose", water_system.hose_kpa, "kPa", "stated", STATED
    if found.unrated:
        names = ", ".join(part.words for part in found.unrated)
        yield (
            "parts without a stated pressure rating",
            float(len(found.unrated)),
            "",
            names,
            "to be obtained from the makers",
        )


def _max_temp_words(survey: SurveyData) -> str:
    """Which of the stated temperatures is the maximum temperature of the water."""
    if survey.system.max_temp_c is not None:
        return "as stated for the system"
    if survey.source.max_flow_temp_c is not None:
        return "as stated for the heat source, because none is stated for the system"
    return "flow temperature of the design, because none is stated for the system or the heat source"


def _density_source(survey: SurveyData) -> str:
    return "IAPWS-95 through CoolProp" if survey.project.antifreeze is None else "Melinder through CoolProp"


def _own(stated: bool, otherwise: str) -> str:
    """ "survey" where it states the value, else the source of the default."""
    return STATED if stated else otherwise
