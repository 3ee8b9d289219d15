"""Pressures of the closed system: static head, vessel, cold fill, relief valve, strength test, weakest part.

All are gauge pressures in kPa at the level of the vessel. The formulas are those of
:mod:`heatloop.physics.pressurisation`, applied to the survey. Values that the survey does not state are calculated or
common practice; the table states which."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import pandas as pd

from heatloop.layout.model import Layout, PlacedEnd
from heatloop.layout.piece_ends import joint_positions, kind_and_name
from heatloop.physics import pressurisation
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData
from heatloop.text.column import Column, TableDescription, figure_column, text_column
from heatloop.text.table_set import table_frame

COMMON_SIZES_L = (8.0, 12.0, 18.0, 25.0, 35.0, 50.0, 80.0, 100.0, 140.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0)
"""Usual volumes of vessels, common practice; beyond the last the minimum volume itself is used."""

EN_12828 = "EN 12828 annex D, from memory"
BOYLE = "Boyle's law"
PRACTICE = "common practice"
STATED = "survey"
RATING_SOURCE = "catalogue and survey"

RatedKind = Literal["profile", "joint", "end", "pipe", "valve", "emitter", "source", "vessel"]


@dataclass(frozen=True)
class PressureRating:
    """A part under pressure, and its maximum pressure in kPa (None: not stated)."""

    kind: RatedKind
    name: str
    max_pressure_kpa: float | None

    @property
    def words(self) -> str:
        return f"{self.kind}: {self.name}"


@dataclass(frozen=True)
class Pressures:
    """All pressures of a system; NaN where there is none (a vessel that cannot work has no fill pressure).

    Gauge pressures in kPa at the level of the vessel; levels in m. `..._stated`: the survey states the value before it.

    - `content_l`; `fill_c`, `max_temp_c`: temperature when filled, and the maximum in operation
    - `expansion`, `expansion_l`: between these two, as a fraction of the content (`by_table`: of EN 12828), in litres
    - `highest_point_m`, `vessel_m`: levels of the highest point of the system and of the vessel
    - `static_kpa`, `below_kpa`: head from the vessel up to the highest point, and down to the lowest part
    - `margin_kpa`, `precharge_kpa`: addition to the static head, and the precharge
    - `relief_kpa`, `final_kpa`: setting of the relief valve, and the maximum working pressure below it
    - `reserve_l`, `min_vessel_l`, `vessel_l`: water in the cold vessel; minimum volume, and volume of the vessel
    - `min_fill_kpa`, `max_fill_kpa`, `fill_kpa`: range of the cold fill, and its middle; `hot_kpa`: when hot
    - `test_kpa`, `test_source`: the strength test; `parts`: the parts with their maximum pressures
    """

    content_l: float
    fill_c: float
    max_temp_c: float
    by_table: bool
    expansion: float
    expansion_l: float
    highest_point_m: float
    vessel_m: float
    static_kpa: float
    below_kpa: float
    margin_kpa: float
    precharge_kpa: float
    precharge_stated: bool
    relief_kpa: float
    final_kpa: float
    reserve_l: float
    min_vessel_l: float
    vessel_l: float
    vessel_stated: bool
    min_fill_kpa: float
    max_fill_kpa: float
    fill_kpa: float
    hot_kpa: float
    test_kpa: float
    test_source: str
    parts: tuple[PressureRating, ...]

    @property
    def weakest(self) -> PressureRating | None:
        """The part with the lowest stated rating; None where none is stated."""
        stated = [part for part in self.parts if part.max_pressure_kpa is not None]
        return min(stated, key=lambda part: part.max_pressure_kpa or math.inf, default=None)

    @property
    def unrated(self) -> tuple[PressureRating, ...]:
        """Parts without a stated maximum pressure."""
        return tuple(part for part in self.parts if part.max_pressure_kpa is None)

    def running_kpa(self, fluid: Fluid, temp_c: float) -> float:
        """Pressure when the whole content is at `temp_c` after a cold fill at `fill_kpa`, by density."""
        if math.isnan(self.fill_kpa) or temp_c <= self.fill_c:
            return self.fill_kpa
        grown_l = self.content_l * pressurisation.expansion_by_density(fluid, self.fill_c, temp_c)
        return pressurisation.hot_pressure_kpa(self.vessel_l, grown_l, self.precharge_kpa, self.fill_kpa)


def pressures(survey: SurveyData, layout: Layout, content_l: float, flow_temp_c: float, fluid: Fluid) -> Pressures:
    """Calculate all pressures for a content in litres; `flow_temp_c` is the warmest flow of the design.

    Levels come from the rooms: the top of the system is the top of the highest skirting, the vessel is on
    the lowest floor, unless the survey states otherwise. Sources are beside each row of `pressures_table`.
    """
    water_system = survey.system
    max_temp_c = next(t for t in (water_system.max_temp_c, survey.source.max_flow_temp_c, flow_temp_c) if t is not None)
    max_temp_c = max(max_temp_c, water_system.fill_c)
    by_table = water_system.expansion == "EN 12828" and max_temp_c >= 30.0 and survey.project.antifreeze is None
    expansion = (
        pressurisation.expansion_en_12828(max_temp_c)
        if by_table
        else pressurisation.expansion_by_density(fluid, water_system.fill_c, max_temp_c)
    )
    floors_m, highest_point_m, vessel_m = _levels_m(survey, layout)
    density = float(fluid.density_kg_m3(water_system.fill_c))
    static_kpa = pressurisation.static_head_kpa(highest_point_m - vessel_m, density)
    required_kpa = pressurisation.precharge_for_head_kpa(static_kpa, water_system.static_margin_kpa)
    precharge_kpa = required_kpa if water_system.vessel.precharge_kpa is None else water_system.vessel.precharge_kpa
    final_kpa = pressurisation.final_under_relief_kpa(water_system.relief_kpa)
    min_l, reserve_l = _min_vessel(content_l, expansion, precharge_kpa, final_kpa)
    vessel_l = _next_size_l(min_l) if water_system.vessel.volume_l is None else water_system.vessel.volume_l
    fill = _fill(vessel_l, content_l, expansion, precharge_kpa, final_kpa)
    fill_kpa = (fill.min_kpa + fill.max_kpa) / 2.0
    expansion_l = content_l * expansion
    test = water_system.test
    return Pressures(
        content_l=content_l,
        fill_c=water_system.fill_c,
        max_temp_c=max_temp_c,
        by_table=by_table,
        expansion=expansion,
        expansion_l=expansion_l,
        highest_point_m=highest_point_m,
        vessel_m=vessel_m,
        static_kpa=static_kpa,
        below_kpa=pressurisation.static_head_kpa(max(vessel_m - min(floors_m), 0.0), density),
        margin_kpa=water_system.static_margin_kpa,
        precharge_kpa=precharge_kpa,
        precharge_stated=water_system.vessel.precharge_kpa is not None,
        relief_kpa=water_system.relief_kpa,
        final_kpa=final_kpa,
        reserve_l=reserve_l,
        min_vessel_l=min_l,
        vessel_l=vessel_l,
        vessel_stated=water_system.vessel.volume_l is not None,
        min_fill_kpa=fill.min_kpa,
        max_fill_kpa=fill.max_kpa,
        fill_kpa=fill_kpa,
        hot_kpa=_hot_kpa(vessel_l, expansion_l, precharge_kpa, fill_kpa),
        test_kpa=pressurisation.strength_test_kpa(water_system.relief_kpa, test.factor)
        if test.pressure_kpa is None
        else test.pressure_kpa,
        test_source=test.source or (pressurisation.TEST_FACTOR_SOURCE if test.pressure_kpa is None else STATED),
        parts=tuple(dict.fromkeys(_parts(survey, layout))),
    )


def _levels_m(survey: SurveyData, layout: Layout) -> tuple[list[float], float, float]:
    """Levels in m: floors of the heated rooms, highest point of the system, and vessel."""
    water_system = survey.system
    served = {piece.room for loop in layout.loops for piece in loop.pieces}
    served |= {emitter.room for loop in survey.loops for emitter in loop.emitters}
    floors_m = [room.level_m for room in survey.rooms if room.name in served]
    tallest_m = max((profile.height_mm for profile in survey.profiles), default=0.0) / 1000.0
    highest_point_m = (
        max(floors_m) + tallest_m if water_system.highest_point_m is None else water_system.highest_point_m
    )
    vessel_m = (
        min(room.level_m for room in survey.rooms)
        if water_system.vessel.level_m is None
        else water_system.vessel.level_m
    )
    return floors_m, highest_point_m, vessel_m


def _min_vessel(content_l: float, expansion: float, precharge_kpa: float, final_kpa: float) -> tuple[float, float]:
    """Minimum volume and its reserve in litres; both NaN where the precharge leaves no volume."""
    if not precharge_kpa < final_kpa:
        return math.nan, math.nan
    need = pressurisation.vessel_need(content_l, expansion, precharge_kpa, final_kpa)
    return need.min_volume_l, need.reserve_l


def _next_size_l(min_l: float) -> float:
    return next((size for size in COMMON_SIZES_L if size >= min_l), min_l)


def _fill(
    vessel_l: float, content_l: float, expansion: float, precharge_kpa: float, final_kpa: float
) -> pressurisation.FillPressures:
    """Range of the cold fill; NaN where the vessel is too small."""
    try:
        return pressurisation.fill_pressures(vessel_l, content_l, expansion, precharge_kpa, final_kpa)
    except ValueError:
        return pressurisation.FillPressures(math.nan, math.nan)


def _hot_kpa(vessel_l: float, expansion_l: float, precharge_kpa: float, fill_kpa: float) -> float:
    if math.isnan(fill_kpa):
        return math.nan
    return pressurisation.hot_pressure_kpa(vessel_l, expansion_l, precharge_kpa, fill_kpa)


def _parts(survey: SurveyData, layout: Layout) -> Iterator[PressureRating]:
    """Every part of this survey that is under pressure."""
    catalogue = survey.catalogue
    for profile in survey.profiles:
        yield PressureRating("profile", profile.name, profile.max_pressure_kpa)
    for place in joint_positions(survey, layout):
        _, name = kind_and_name(catalogue, place.meets)
        if name and isinstance(place.meets, PlacedEnd):
            yield PressureRating("end", name, catalogue.end(name).max_pressure_kpa)
        elif name:
            yield PressureRating("joint", name, catalogue.joint(name).max_pressure_kpa)
    crossings = (rule.pipe for rule in (loop.crossing for loop in survey.loops) if rule is not None)
    for name in (*(t.pipe for t in survey.trunks), *(loop.tails.pipe for loop in survey.loops), *crossings):
        yield PressureRating("pipe", name, catalogue.pipe(name).max_pressure_kpa)
    for loop in survey.loops:
        for pair in (loop.valves, *loop.arm_valves):
            for valve in (pair.flow, pair.return_):
                if valve is not None:
                    yield PressureRating("valve", valve, catalogue.valve(valve).max_pressure_kpa)
        for emitter in loop.emitters:
            yield PressureRating("emitter", emitter.emitter, catalogue.emitter(emitter.emitter).max_pressure_kpa)
    yield PressureRating("source", survey.source.kind, survey.source.max_pressure_kpa)
    yield PressureRating("vessel", "expansion vessel", survey.system.vessel.max_pressure_kpa)


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
            "the first that is stated: for the system, for the source, for the design",
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
            "precharge of the vessel",
            found.precharge_kpa,
            "kPa",
            "as stated" if found.precharge_stated else f"static head + {found.margin_kpa:g}",
            _own(found.precharge_stated, EN_12828),
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


def _density_source(survey: SurveyData) -> str:
    return "IAPWS-95 through CoolProp" if survey.project.antifreeze is None else "Melinder through CoolProp"


def _own(stated: bool, otherwise: str) -> str:
    """ "survey" where it states the value, else the source of the default."""
    return STATED if stated else otherwise
