"""Checks and table of the pressures of the closed system, with the values to set and the ranges accepted on site.

Checked are vessel, precharge, hot pressure, and the strength test against every part. No accepted range has a value
that a check refuses."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from heatloop.findings.limits import CheckResult, Limit, check_at_least, check_at_most
from heatloop.handover.commissioning.pressures import BOYLE, EN_12828, PRACTICE, STATED, Pressures
from heatloop.physics import pressurisation
from heatloop.survey.survey import SurveyData
from heatloop.text.column import Column, TableDescription, figure_column, text_column
from heatloop.text.table_set import table_frame

VESSEL = Limit("vessel volume", "l", f"{EN_12828}; {BOYLE}", "fit a larger vessel, or a second vessel")
PRECHARGE = Limit(
    "precharge of the vessel", "kPa", f"static head and its margin: {EN_12828}",
    "set the gas charge of the empty vessel before filling: below this, the top of the system can run dry", "caution",
)  # fmt: skip
ROOM_ABOVE = Limit(
    "precharge below the maximum working pressure", "kPa", EN_12828,
    "choose a higher relief setting if all parts allow it, or place the vessel higher in the building",
)  # fmt: skip
HOT = Limit(
    "pressure when hot", "kPa", f"{BOYLE}; margin under the relief valve: {EN_12828}",
    "fit a larger vessel, or choose a lower fill pressure",
)  # fmt: skip
WEAKEST = Limit(
    "maximum pressure of the weakest part", "kPa", "catalogue or survey entry of that part",
    "choose a lower relief setting, or another part",
)  # fmt: skip
TEST = Limit(
    "strength test within the rating of every part", "kPa", "catalogue or survey entry of that part",
    "isolate this part for the test, or obtain its permitted test pressure from the maker", "caution",
)  # fmt: skip

SEAL_PROOF_KPA = 1000.0
"""Usual proof pressure of a seal between profile and fitting, at most (10 bar)."""
SEAL = Limit(
    "strength test within the proof pressure of seals", "kPa", f"{PRACTICE}: a seal is proved at up to 10 bar",
    "choose a lower test pressure, or enter the maker's rating of the seals as max_pressure_kpa of joints and "
    "ends", "caution",
)  # fmt: skip


def pressure_checks(found: Pressures) -> list[CheckResult]:
    """Every limit of the pressures with its verdict."""
    required_kpa = pressurisation.precharge_for_head_kpa(found.static_kpa, found.margin_kpa)
    # a precharge that suffices is the one that is set, in whole kPa
    precharge_kpa = precharge_to_set_kpa(found) if found.precharge_kpa >= required_kpa else found.precharge_kpa
    rows = [
        check_at_least(PRECHARGE, "vessel", precharge_kpa, required_kpa),
        check_at_most(ROOM_ABOVE, "vessel", precharge_kpa, found.final_kpa),
    ]
    if not math.isnan(found.min_vessel_l):
        rows.append(check_at_least(VESSEL, "vessel", found.vessel_l, found.min_vessel_l))
    if not math.isnan(found.hot_kpa):
        rows.append(check_at_most(HOT, "system", found.hot_kpa, found.final_kpa))
    if any(part.kind in ("joint", "end") for part in found.unrated):
        rows.append(check_at_most(SEAL, "seals of joints and ends", found.test_kpa, SEAL_PROOF_KPA))
    for part in found.parts:
        if part.max_pressure_kpa is not None:
            rows.append(check_at_least(WEAKEST, part.words, part.max_pressure_kpa, found.relief_kpa + found.below_kpa))
            rows.append(check_at_least(TEST, part.words, part.max_pressure_kpa, found.test_kpa))
    return rows


SETTING_TOLERANCE_KPA = 10.0
"""By how much a pressure that is set or read on a gauge may differ; common practice."""

Range = tuple[float, float]


@dataclass(frozen=True)
class AcceptedPressures:
    """Gauge pressures in kPa that are accepted on site, each from and to; NaN where there is no fill pressure.

    - `precharge`: never below that required, and so that the vessel works at the cold fill pressure of the design
    - `fill`: within the range of the vessel at every accepted precharge
    - `running`: that of a cold fill and a precharge within their ranges, and the tolerance of the gauge
    """

    precharge: Range
    fill: Range
    running: Range


def accepted_pressures(found: Pressures, running_kpa: float = math.nan) -> AcceptedPressures:
    """Accepted ranges, one from another: a reading within its range leaves the next within its own.

    `running_kpa`: pressure expected with warm water, at the precharge and cold fill of the design. A precharge stated
    below that required, which a check reports, is accepted as stated. Source: Boyle's law, the checks of this module,
    and a tolerance of common practice.
    """
    stated_kpa, fill_kpa = found.precharge_kpa, found.fill_kpa
    required_kpa = pressurisation.precharge_for_head_kpa(found.static_kpa, found.margin_kpa)
    low_kpa = min(max(required_kpa, stated_kpa - SETTING_TOLERANCE_KPA), stated_kpa)
    high_kpa = stated_kpa + SETTING_TOLERANCE_KPA
    if math.isnan(fill_kpa):
        return AcceptedPressures((low_kpa, high_kpa), (math.nan, math.nan), (math.nan, math.nan))
    air_kpa = pressurisation.ATMOSPHERE_KPA
    # at the minimum fill the vessel holds its reserve: both rise in proportion
    per_precharge = (found.min_fill_kpa + air_kpa) / (stated_kpa + air_kpa)
    high_kpa = min(high_kpa, (fill_kpa + air_kpa) / per_precharge - air_kpa)
    low_kpa = max(low_kpa, _lowest_precharge_kpa(found))
    fill = (
        max(fill_kpa - SETTING_TOLERANCE_KPA, (high_kpa + air_kpa) * per_precharge - air_kpa),
        min(fill_kpa + SETTING_TOLERANCE_KPA, _max_fill_kpa(found, low_kpa)),
    )
    gas_kpa_l = found.vessel_l * (stated_kpa + air_kpa)
    grown_l = gas_kpa_l / (fill_kpa + air_kpa) - gas_kpa_l / (running_kpa + air_kpa)
    running = (
        _running_kpa(found, grown_l, high_kpa, fill[0]) - SETTING_TOLERANCE_KPA,
        min(_running_kpa(found, grown_l, low_kpa, fill[1]) + SETTING_TOLERANCE_KPA, found.final_kpa),
    )
    return AcceptedPressures((low_kpa, high_kpa), fill, running)


def _lowest_precharge_kpa(found: Pressures) -> float:
    """Precharge at which the cold fill of the design reaches the maximum working pressure when hot."""
    air_kpa = pressurisation.ATMOSPHERE_KPA
    cold_kpa, hot_kpa = found.fill_kpa + air_kpa, found.final_kpa + air_kpa
    return min(found.expansion_l * cold_kpa * hot_kpa / (hot_kpa - cold_kpa) / found.vessel_l - air_kpa,
               found.precharge_kpa)  # fmt: skip


def _max_fill_kpa(found: Pressures, precharge_kpa: float) -> float:
    """Cold fill at which the maximum working pressure is reached when hot, at that precharge."""
    air_kpa = pressurisation.ATMOSPHERE_KPA
    gas_kpa_l = found.vessel_l * (precharge_kpa + air_kpa)
    return gas_kpa_l / (gas_kpa_l / (found.final_kpa + air_kpa) + found.expansion_l) - air_kpa


def _running_kpa(found: Pressures, grown_l: float, precharge_kpa: float, fill_kpa: float) -> float:
    """Pressure after the water has grown by that volume in litres."""
    if math.isnan(grown_l):
        return math.nan
    return pressurisation.hot_pressure_kpa(found.vessel_l, grown_l, precharge_kpa, fill_kpa)


def _step_kpa(accepted: Range) -> float:
    """Step to which a range is rounded: 1 kPa, as a gauge shows; 0.1 kPa where no whole kPa lies within it."""
    return 1.0 if math.floor(accepted[1] + 1e-9) >= math.ceil(accepted[0] - 1e-9) else 0.1


def _inwards(accepted: Range) -> Range:
    """Both ends of a range rounded inwards, in kPa."""
    step_kpa = _step_kpa(accepted)
    return (
        step_kpa * math.ceil(accepted[0] / step_kpa - 1e-9),
        step_kpa * math.floor(accepted[1] / step_kpa + 1e-9),
    )


def to_set_kpa(designed_kpa: float, accepted: Range) -> float:
    """Pressure to set on site, kPa: the value nearest to that of the design within the accepted range as printed.

    In whole kPa, as a gauge shows. That of the design where there is no range.

    >>> to_set_kpa(57.35, (57.35, 67.35)), to_set_kpa(171.2, (148.0, 193.4))
    (58.0, 171.0)
    """
    if math.isnan(designed_kpa) or any(map(math.isnan, accepted)):
        return designed_kpa
    low_kpa, high_kpa = _inwards(accepted)
    step_kpa = _step_kpa(accepted)
    return min(max(step_kpa * round(designed_kpa / step_kpa), low_kpa), high_kpa)


def precharge_to_set_kpa(found: Pressures) -> float:
    """Precharge to set at the vessel, kPa: the value that every document has."""
    return to_set_kpa(found.precharge_kpa, accepted_pressures(found).precharge)


def in_bar(accepted: Range) -> str:
    """A range in bar, both ends rounded inwards to the hundredth that a gauge shows.

    >>> in_bar((57.35, 67.35)), in_bar((math.nan, math.nan))
    ('0.58 to 0.67 bar', '–')
    """
    if any(map(math.isnan, accepted)):
        return "\N{EN DASH}"
    (low_kpa, high_kpa), decimals = _inwards(accepted), 2 if _step_kpa(accepted) == 1.0 else 3
    return f"{low_kpa / 100.0:.{decimals}f} to {high_kpa / 100.0:.{decimals}f} bar"


def in_kpa(accepted: Range) -> str:
    """A range in kPa, both ends rounded inwards to whole ones; to tenths where no whole kPa lies within it.

    >>> in_kpa((57.35, 67.35)), in_kpa((57.31, 57.9))
    ('58 to 67 kPa', '57.4 to 57.9 kPa')
    """
    low_kpa, high_kpa = _inwards(accepted)
    decimals = 0 if _step_kpa(accepted) == 1.0 else 1
    return f"{low_kpa:.{decimals}f} to {high_kpa:.{decimals}f} kPa"


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
    by = "EN 12828 table, filled at 10 °C" if found.by_table else "density cold / density hot − 1"
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
        ("expansion volume", found.expansion_l, "l", "content × expansion", "definition"),
    )


def _vessel_rows(found: Pressures) -> Iterator[PressureRow]:
    """Static head, precharge, relief valve and size of the vessel."""
    yield from (
        (
            "static head",
            found.static_kpa,
            "kPa",
            f"density × g × ({found.highest_point_m:.2f} m − {found.vessel_m:.2f} m)",
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
            "relief valve − the larger of 50 kPa and 10 % of its setting",
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
            "(expansion + reserve) × (maximum + 100) / (maximum − precharge), with the maximum working pressure",
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
        ("minimum cold fill", found.min_fill_kpa, "kPa", "the vessel contains the reserve for its own volume", BOYLE),
        ("maximum cold fill", found.max_fill_kpa, "kPa", "when hot, the maximum working pressure is reached", BOYLE),
        ("cold fill pressure", found.fill_kpa, "kPa", "middle of the range", PRACTICE),
        ("pressure at the top, cold", found.fill_kpa - found.static_kpa, "kPa", "fill − static head", "definition"),
        ("pressure at the maximum temperature", found.hot_kpa, "kPa", "gas compressed by the expansion", BOYLE),
    )


def _test_rows(survey: SurveyData, found: Pressures) -> Iterator[PressureRow]:
    """The strength test and the ratings of the parts."""
    water_system, test = survey.system, survey.system.test
    tested = "stated" if test.pressure_kpa is not None else f"{test.factor:g} × relief valve"
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
