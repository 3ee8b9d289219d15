"""Tables of a survey file for the water system: pump, source, trunks, bypasses, antifreeze, closed system.

The keys are those of :mod:`heatloop.survey.water_system`; a default is the one given there.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from heatloop.survey import water_system as kept
from heatloop.survey.files.fields import (
    ChoiceField,
    FileTable,
    Kv,
    ListField,
    Name,
    Note,
    NumberField,
    Pressure,
    YesNo,
    Zeta,
)

Water = Annotated[float, NumberField("°C", minimum=0.1, maximum=110)]

PipeRun = Annotated[float, NumberField("metres", above=0, maximum=500)]

PumpFlow = Annotated[float, NumberField("m3/h", minimum=0, maximum=1000)]

PumpHead = Annotated[float, NumberField("kPa", minimum=0, maximum=2000)]

Differential = Annotated[float, NumberField("kPa", above=0, maximum=2000)]

GLYCOLS = ("propylene glycol", "ethylene glycol")


class PumpTable(FileTable):
    """A pump curve at full speed, and its control: fixed `speed`, constant head, or as commissioned."""

    flow_m3_h: Annotated[list[PumpFlow], ListField("flows, rising", 2)] = Field(
        description="flows of the points of the curve at full speed"
    )
    head_kpa: Annotated[list[PumpHead], ListField("heads, falling", 2)] = Field(description="heads at these flows")
    speed: Annotated[float, NumberField("a share of full speed", minimum=0.1, maximum=1)] | None = Field(
        default=None,
        description="fixed speed as a share of full speed; if not given, the pump is set to the design head at "
        "commissioning",
    )
    constant_kpa: Differential | None = Field(default=None, description="head that the pump keeps constant at any flow")
    proportional_kpa: Differential | None = Field(
        default=None, description="head at the flow `proportional_m3_h`; half of it at zero flow"
    )
    proportional_m3_h: Annotated[float, NumberField("m3/h", above=0, maximum=1000)] | None = Field(
        default=None,
        description="flow at which the pump gives `proportional_kpa`; if not given, the last flow of the curve",
    )
    efficiency: Annotated[float, NumberField("", above=0, maximum=0.9)] | None = Field(
        default=None, description="hydraulic power divided by electric power"
    )

    def value(self) -> kept.PumpCurve:
        lists = {"flow_m3_h": tuple(self.flow_m3_h), "head_kpa": tuple(self.head_kpa)}
        return kept.PumpCurve(**{**dict(self), **lists})


class SourceTable(FileTable):
    """The heat source."""

    kind: Name = Field(default=kept.Source.kind, description="name of the heat source in the report")
    output_kw: Annotated[float, NumberField("kilowatts", above=0, maximum=1e4)] | None = Field(
        default=None, description="output at design conditions"
    )
    min_flow_l_h: Annotated[float, NumberField("litres an hour", minimum=0, maximum=1e6)] | None = Field(
        default=None, description="minimum flow of the heat source"
    )
    max_flow_temp_c: Water | None = Field(default=None, description="maximum flow temperature")
    min_always_open_water_l: Annotated[float, NumberField("litres", minimum=0, maximum=1e5)] | None = Field(
        default=None,
        description="minimum open water volume: water that still circulates when all thermostatic valves are closed",
    )
    water_volume_l: Annotated[float, NumberField("litres", minimum=0, maximum=1e5)] = Field(
        default=kept.Source.water_volume_l,
        description="water content of the source, without a buffer vessel (see additional_volume of [system])",
    )
    pump: PumpTable | None = Field(default=None, description="curve and control of the pump at the heat source")
    max_pressure_kpa: Pressure | None = Field(default=None, description="maximum working pressure of the source")
    level_m: Annotated[float, NumberField("metres", minimum=-30, maximum=300)] = Field(
        default=kept.Source.level_m, description="level on the same scale as the rooms, for buoyancy"
    )
    outdoor_pipes: YesNo = Field(
        default=kept.Source.outdoor_pipes,
        description="whether pipes with heating water run outdoors, for example to an outdoor heat pump",
    )

    def value(self) -> kept.Source:
        return kept.Source(**{**dict(self), "pump": self.pump.value() if self.pump else None})


class TrunkTable(FileTable):
    """A pair of pipes that several loops share."""

    name: Name = Field(description="name used by loops")
    pipe: Name = Field(description="pipe of the catalogue")
    length_m: PipeRun = Field(description="length one way; the return runs beside the flow")
    from_trunk: Name | None = Field(
        default=None, validation_alias="from", description="trunk from which it starts; the source if not given"
    )
    mixed_to_c: Water | None = Field(
        default=None,
        description="temperature set by a mixing valve at the start of the trunk; a separate circuit begins there",
    )
    zeta: Zeta = Field(
        default=kept.Trunk.zeta, description="loss coefficient of the fittings, in each of the two pipes"
    )
    pump: PumpTable | None = Field(default=None, description="pump of a trunk with a mixing valve")
    reverse_return: YesNo = Field(
        default=kept.Trunk.reverse_return,
        description="true for reverse return: the water in the return pipe runs in the same direction as in the flow "
        "pipe",
    )
    around_c: Annotated[float, NumberField("°C", minimum=-40, maximum=60)] | None = Field(
        default=None, description="temperature around the trunk; if not given, the mean of the rooms"
    )

    def value(self) -> kept.Trunk:
        start = None if self.from_trunk == "source" else self.from_trunk
        pump = self.pump.value() if self.pump else None
        return kept.Trunk(**{**dict(self), "from_trunk": start, "pump": pump})


class BypassTable(FileTable):
    """A bypass from flow to return."""

    name: Name = Field(description="name of the bypass in the report")
    kv_m3_h: Kv = Field(description="Kv of the open bypass")
    trunk: Name | None = Field(
        default=None, description="trunk with the bypass at its far end; if not given, the bypass is at the source"
    )
    opens_at_kpa: Differential | None = Field(
        default=None, description="differential pressure at which the bypass opens; if not given, it is always open"
    )

    def value(self) -> kept.Bypass:
        return kept.Bypass(self.name, self.kv_m3_h, None if self.trunk == "source" else self.trunk, self.opens_at_kpa)


class AntifreezeTable(FileTable):
    """Glycol in the water: `percent_by_volume`, as a container states it, or `mass_fraction`."""

    kind: Annotated[Literal["propylene glycol", "ethylene glycol"], ChoiceField(GLYCOLS)] = Field(
        description="kind of glycol"
    )
    percent_by_volume: Annotated[float, NumberField("per cent", above=0, maximum=60)] | None = Field(
        default=None, description="share of glycol in the mixture, by volume"
    )
    mass_fraction: Annotated[float, NumberField("", above=0, maximum=0.6)] | None = Field(
        default=None, description="share of glycol in the mixture, by mass"
    )

    def value(self) -> kept.Antifreeze:
        return kept.Antifreeze(**dict(self))


Level = Annotated[float, NumberField("metres", minimum=-30, maximum=300)]

Litres = Annotated[float, NumberField("litres", above=0, maximum=1e5)]

Minutes = Annotated[float, NumberField("minutes", minimum=0, maximum=10_000)]

Ph = Annotated[float, NumberField("pH", minimum=0, maximum=14)]

METALS = ("copper", "brass", "steel", "stainless steel", "cast iron", "plastic")

Metal = Annotated[Literal["copper", "brass", "steel", "stainless steel", "cast iron", "plastic"], ChoiceField(METALS)]


class VesselTable(FileTable):
    """The expansion vessel; missing values are calculated."""

    volume_l: Litres | None = Field(default=None, description="nominal volume")
    precharge_kpa: Pressure | None = Field(
        default=None, description="pressure of the gas in the cold vessel without water"
    )
    level_m: Level | None = Field(default=None, description="level on the same scale as the rooms")
    max_pressure_kpa: Pressure | None = Field(default=None, description="maximum working pressure of the vessel")

    def value(self) -> kept.Vessel:
        return kept.Vessel(**dict(self))


class PressureTestTable(FileTable):
    """The strength test with water: `pressure_kpa`, or a `factor`."""

    factor: Annotated[float, NumberField("", minimum=1, maximum=5)] = Field(
        default=kept.PressureTest.factor, description="test pressure divided by the setting of the relief valve"
    )
    pressure_kpa: Pressure | None = Field(default=None, description="test pressure, in place of the factor")
    settle_minutes: Minutes = Field(
        default=kept.PressureTest.settle_minutes, description="waiting time before the test begins"
    )
    minutes: Minutes = Field(default=kept.PressureTest.minutes, description="duration of the test")
    source: Note = Field(default=kept.PressureTest.source, description="standard or authority that requires the test")

    def value(self) -> kept.PressureTest:
        return kept.PressureTest(**dict(self))


class AdditiveTable(FileTable):
    """An inhibitor or a cleanser: `per_cent` or `dose_ml_per_l`, as its label states."""

    name: Name = Field(description="name on the container")
    per_cent: Annotated[float, NumberField("per cent of the content", above=0, maximum=100)] | None = Field(
        default=None, description="dose as a share of the water content of the system"
    )
    dose_ml_per_l: Annotated[float, NumberField("ml a litre of content", above=0, maximum=1000)] | None = Field(
        default=None, description="dose per litre of the water content of the system"
    )
    container_l: Litres | None = Field(default=None, description="volume of one container")
    mixed_metals: YesNo | None = Field(
        default=None, description="whether its maker states it for these metals together"
    )
    source: Note = Field(default=kept.Additive.source, description="label or data sheet")

    def value(self) -> kept.Additive:
        return kept.Additive(**dict(self))


class OtherWaterTable(FileTable):
    """Water in a part that is not a loop, a trunk or the source."""

    name: Name = Field(description="name of the part")
    water_l: Litres = Field(description="water content of the part")

    def value(self) -> kept.AdditionalVolume:
        return kept.AdditionalVolume(self.name, self.water_l)


class WeatherTable(FileTable):
    """The day of commissioning."""

    compensated: YesNo = Field(
        default=kept.CommissioningWeather.compensated, description="whether the source has weather compensation"
    )
    outdoor_c: Annotated[float, NumberField("°C", minimum=-60, maximum=40)] | None = Field(
        default=None, description="outdoor temperature on the day"
    )
    flow_temp_c: Water | None = Field(
        default=None,
        description="flow temperature read at the source; if not given, it follows from the outdoor temperature",
    )

    def value(self) -> kept.CommissioningWeather:
        return kept.CommissioningWeather(**dict(self))


class WaterSystemTable(FileTable):
    """The closed system of the loops."""

    fill_c: Annotated[float, NumberField("°C", minimum=1, maximum=40)] = Field(
        default=kept.WaterSystem.fill_c, description="temperature of the filling water"
    )
    max_temp_c: Water | None = Field(
        default=None, description="maximum water temperature; if not given, that of the source"
    )
    expansion: Annotated[kept.Expansion, ChoiceField(get_args(kept.Expansion))] = Field(
        default=kept.WaterSystem.expansion,
        description="calculation of the expansion: by the density of the fluid, or by the formula of EN 12828",
    )
    relief_kpa: Annotated[float, NumberField("kPa, gauge", above=50, maximum=2000)] = Field(
        default=kept.WaterSystem.relief_kpa, description="setting of the relief valve"
    )
    static_margin_kpa: Annotated[float, NumberField("kPa", above=0, maximum=500)] = Field(
        default=kept.WaterSystem.static_margin_kpa, description="margin by which the precharge exceeds the static head"
    )
    highest_point_m: Level | None = Field(
        default=None, description="level of the highest point; if not given, the top of the highest skirting"
    )
    vessel: VesselTable = Field(default_factory=VesselTable, description="expansion vessel as installed")
    test: PressureTestTable = Field(default_factory=PressureTestTable, description="strength test with water")
    additional_volume: Annotated[list[OtherWaterTable], ListField("additional parts with water")] = Field(
        default_factory=list, description="water that is not in a loop, a trunk or the source"
    )
    hose_kpa: Pressure | None = Field(default=None, description="pressure at the filling hose")
    purge_velocity_m_s: Annotated[float, NumberField("m/s", above=0, maximum=3)] = Field(
        default=kept.WaterSystem.purge_velocity_m_s, description="velocity that carries air to a vent"
    )
    old_system: YesNo | None = Field(
        default=None,
        description="whether pipes or source exist already; if not given, true if an emitter is `existing`",
    )
    metals: Annotated[list[Metal], ListField("metals in contact with the water")] = Field(
        default_factory=list,
        description="metals in contact with the water, in addition to those of the profiles; copper is assumed if "
        "none is given",
    )
    softened_fill: YesNo = Field(
        default=kept.WaterSystem.softened_fill, description="whether the system is filled with softened water"
    )
    softened_fill_allowed: YesNo = Field(
        default=kept.WaterSystem.softened_fill_allowed, description="whether the makers allow softened water"
    )
    ph: Annotated[list[Ph], ListField("values of pH, the smaller first", 2, 2)] | None = Field(
        default=None, description="range of pH to maintain; if not given, it follows from the metals"
    )
    flush_volumes: Annotated[float, NumberField("contents of the system", above=0, maximum=100)] = Field(
        default=kept.WaterSystem.flush_volumes,
        description="quantity of clean water for a flush, as a multiple of the water content of the system",
    )
    cleanse_minutes: Minutes = Field(default=kept.WaterSystem.cleanse_minutes, description="time with the cleanser")
    filter_line_mm: Annotated[float, NumberField("millimetres", minimum=0, maximum=300)] = Field(
        default=kept.WaterSystem.filter_line_mm, description="size of the pipe in which the filter is fitted"
    )
    inhibitor: AdditiveTable | None = Field(default=None, description="inhibitor as its label states it")
    cleanser: AdditiveTable | None = Field(default=None, description="cleanser as its label states it")
    weather: WeatherTable = Field(default_factory=WeatherTable, description="weather on the day of commissioning")

    def value(self) -> kept.WaterSystem:
        values: dict[str, Any] = dict(self)
        values["vessel"], values["test"] = self.vessel.value(), self.test.value()
        values["weather"] = self.weather.value()
        values["additional_volume"] = tuple(item.value() for item in self.additional_volume)
        values["metals"] = tuple(self.metals)
        values["ph"] = (self.ph[0], self.ph[1]) if self.ph else None
        values["inhibitor"] = self.inhibitor.value() if self.inhibitor else None
        values["cleanser"] = self.cleanser.value() if self.cleanser else None
        return kept.WaterSystem(**values)
