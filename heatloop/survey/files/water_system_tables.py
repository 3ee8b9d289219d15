"""The tables of a survey file that say how the water is driven and led: pump, source, trunks, bypasses, antifreeze.

The keys are those of :mod:`heatloop.survey.distribution`; a default is the one given there.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from heatloop.survey import water_system as kept
from heatloop.survey.files.catalogue_tables import Kv, Name, Note, Pressure, YesNo, Zeta
from heatloop.survey.files.fields import Choice, Many, Number, Table

Water = Annotated[float, Number("degrees C", least=0.1, most=110)]

PipeRun = Annotated[float, Number("metres", above=0, most=500)]

PumpFlow = Annotated[float, Number("m3/h", least=0, most=1000)]

PumpHead = Annotated[float, Number("kPa", least=0, most=2000)]

Differential = Annotated[float, Number("kPa", above=0, most=2000)]

GLYCOLS = ("propylene glycol", "ethylene glycol")


class PumpTable(Table):
    """A pump's curve at full speed, and how it runs: at `speed`, keeping a differential, or as commissioned."""

    flow_m3_h: Annotated[list[PumpFlow], Many("flows, rising", 2)]
    head_kpa: Annotated[list[PumpHead], Many("heads, falling", 2)]
    speed: Annotated[float, Number("a share of full speed", least=0.1, most=1)] | None = None
    constant_kpa: Differential | None = None
    proportional_kpa: Differential | None = None
    proportional_m3_h: Annotated[float, Number("m3/h", above=0, most=1000)] | None = None
    efficiency: Annotated[float, Number("", above=0, most=0.9)] | None = None

    def value(self) -> kept.PumpCurve:
        lists = {"flow_m3_h": tuple(self.flow_m3_h), "head_kpa": tuple(self.head_kpa)}
        return kept.PumpCurve(**{**dict(self), **lists})


class SourceTable(Table):
    """The heat source."""

    kind: Name = kept.Source.kind
    output_kw: Annotated[float, Number("kilowatts", above=0, most=1e4)] | None = None
    min_flow_l_h: Annotated[float, Number("litres an hour", least=0, most=1e6)] | None = None
    max_flow_temp_c: Water | None = None
    min_open_water_l: Annotated[float, Number("litres", least=0, most=1e5)] | None = None
    water_volume_l: Annotated[float, Number("litres", least=0, most=1e5)] = kept.Source.water_volume_l
    pump: PumpTable | None = None
    max_pressure_kpa: Pressure | None = None
    level_m: Annotated[float, Number("metres", least=-30, most=300)] = kept.Source.level_m

    def value(self) -> kept.Source:
        return kept.Source(**{**dict(self), "pump": self.pump.value() if self.pump else None})


class TrunkTable(Table):
    """`from` names another trunk; without it, or with "source", the trunk starts at the source."""

    name: Name
    pipe: Name
    length_m: PipeRun
    from_trunk: Name | None = Field(default=None, validation_alias="from")
    mixed_to_c: Water | None = None
    zeta: Zeta = kept.Trunk.zeta
    pump: PumpTable | None = None
    reverse_return: YesNo = kept.Trunk.reverse_return
    around_c: Annotated[float, Number("degrees C", least=-40, most=60)] | None = None

    def value(self) -> kept.Trunk:
        start = None if self.from_trunk == "source" else self.from_trunk
        pump = self.pump.value() if self.pump else None
        return kept.Trunk(**{**dict(self), "from_trunk": start, "pump": pump})


class BypassTable(Table):
    """From flow to return at the end of a trunk, or at the source."""

    name: Name
    kv_m3_h: Kv
    trunk: Name | None = None
    opens_at_kpa: Differential | None = None

    def value(self) -> kept.Bypass:
        return kept.Bypass(self.name, self.kv_m3_h, None if self.trunk == "source" else self.trunk, self.opens_at_kpa)


class AntifreezeTable(Table):
    """`percent_by_volume` or `mass_fraction`."""

    kind: Annotated[Literal["propylene glycol", "ethylene glycol"], Choice(GLYCOLS)]
    percent_by_volume: Annotated[float, Number("per cent", above=0, most=60)] | None = None
    mass_fraction: Annotated[float, Number("", above=0, most=0.6)] | None = None

    def value(self) -> kept.Antifreeze:
        return kept.Antifreeze(**dict(self))


Level = Annotated[float, Number("metres", least=-30, most=300)]

Litres = Annotated[float, Number("litres", above=0, most=1e5)]

Minutes = Annotated[float, Number("minutes", least=0, most=10_000)]

Ph = Annotated[float, Number("pH", least=0, most=14)]

METALS = ("copper", "brass", "steel", "stainless steel", "cast iron", "plastic")

Metal = Annotated[Literal["copper", "brass", "steel", "stainless steel", "cast iron", "plastic"], Choice(METALS)]


class VesselTable(Table):
    """The expansion vessel; what is not stated is worked out."""

    volume_l: Litres | None = None
    precharge_kpa: Pressure | None = None
    level_m: Level | None = None
    max_pressure_kpa: Pressure | None = None

    def value(self) -> kept.Vessel:
        return kept.Vessel(**dict(self))


class PressureTestTable(Table):
    """`pressure_kpa`, or `factor` times the setting of the relief valve."""

    factor: Annotated[float, Number("", least=1, most=5)] = kept.PressureTest.factor
    pressure_kpa: Pressure | None = None
    settle_minutes: Minutes = kept.PressureTest.settle_minutes
    minutes: Minutes = kept.PressureTest.minutes
    source: Note = kept.PressureTest.source

    def value(self) -> kept.PressureTest:
        return kept.PressureTest(**dict(self))


class AdditiveTable(Table):
    """`per_cent` of the content or `dose_ml_per_l`, as the label says."""

    name: Name
    per_cent: Annotated[float, Number("per cent of the content", above=0, most=100)] | None = None
    dose_ml_per_l: Annotated[float, Number("ml a litre of content", above=0, most=1000)] | None = None
    container_l: Litres | None = None
    mixed_metals: YesNo | None = None
    source: Note = kept.Additive.source

    def value(self) -> kept.Additive:
        return kept.Additive(**dict(self))


class OtherWaterTable(Table):
    """Water in a part that no loop, trunk or source holds."""

    name: Name
    water_l: Litres

    def value(self) -> kept.OtherWater:
        return kept.OtherWater(self.name, self.water_l)


class WeatherTable(Table):
    """The day of commissioning."""

    compensated: YesNo = kept.Weather.compensated
    outdoor_c: Annotated[float, Number("degrees C", least=-60, most=40)] | None = None
    flow_temp_c: Water | None = None

    def value(self) -> kept.Weather:
        return kept.Weather(**dict(self))


class WaterSystemTable(Table):
    """The closed system round the loops."""

    fill_c: Annotated[float, Number("degrees C", least=1, most=40)] = kept.WaterSystem.fill_c
    greatest_c: Water | None = None
    expansion: Annotated[kept.Expansion, Choice(get_args(kept.Expansion))] = kept.WaterSystem.expansion
    relief_kpa: Annotated[float, Number("kPa, gauge", above=50, most=2000)] = kept.WaterSystem.relief_kpa
    static_margin_kpa: Annotated[float, Number("kPa", above=0, most=500)] = kept.WaterSystem.static_margin_kpa
    top_m: Level | None = None
    vessel: VesselTable = Field(default_factory=VesselTable)
    test: PressureTestTable = Field(default_factory=PressureTestTable)
    other_water: Annotated[list[OtherWaterTable], Many("parts that hold water")] = Field(default_factory=list)
    hose_kpa: Pressure | None = None
    sweep_m_s: Annotated[float, Number("m/s", above=0, most=3)] = kept.WaterSystem.sweep_m_s
    old_system: YesNo = kept.WaterSystem.old_system
    metals: Annotated[list[Metal], Many("metals that the water touches")] = Field(default_factory=list)
    softened_fill: YesNo = kept.WaterSystem.softened_fill
    softened_fill_allowed: YesNo = kept.WaterSystem.softened_fill_allowed
    ph: Annotated[list[Ph], Many("values of pH, the least first", 2, 2)] | None = None
    flush_volumes: Annotated[float, Number("contents of the system", above=0, most=100)] = (
        kept.WaterSystem.flush_volumes
    )
    cleanse_minutes: Minutes = kept.WaterSystem.cleanse_minutes
    filter_line_mm: Annotated[float, Number("millimetres", least=0, most=300)] = kept.WaterSystem.filter_line_mm
    inhibitor: AdditiveTable | None = None
    cleanser: AdditiveTable | None = None
    weather: WeatherTable = Field(default_factory=WeatherTable)

    def value(self) -> kept.WaterSystem:
        given: dict[str, Any] = dict(self)
        given["vessel"], given["test"], given["weather"] = self.vessel.value(), self.test.value(), self.weather.value()
        given["other_water"] = tuple(item.value() for item in self.other_water)
        given["metals"] = tuple(self.metals)
        given["ph"] = (self.ph[0], self.ph[1]) if self.ph else None
        given["inhibitor"] = self.inhibitor.value() if self.inhibitor else None
        given["cleanser"] = self.cleanser.value() if self.cleanser else None
        return kept.WaterSystem(**given)
