"""Pressures of the closed system: static head, vessel, cold fill, relief valve, strength test, weakest part.

All are gauge pressures in kPa at the level of the vessel. The formulas are those of
:mod:`heatloop.physics.pressurisation`, applied to the survey. Values that the survey does not state are calculated or
common practice; the table of pressures states which."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from heatloop.layout.model import Layout, PlacedEnd
from heatloop.layout.piece_ends import joint_positions, kind_and_name
from heatloop.physics import pressurisation
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData

COMMON_SIZES_L = (8.0, 12.0, 18.0, 25.0, 35.0, 50.0, 80.0, 100.0, 140.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0)
"""Usual volumes of vessels, common practice; beyond the last the minimum volume itself is used."""

EN_12828 = "EN 12828 annex D, from memory"
BOYLE = "Boyle's law"
PRACTICE = "common practice"
STATED = "survey"

TEST_SOURCE = (
    f"{PRACTICE}; EN 14336, as quoted by others, applies the factor 1.3 to the working pressure; the maker's "
    "instructions and local rules take precedence"
)

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
        test_source=test.source or (TEST_SOURCE if test.pressure_kpa is None else STATED),
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
