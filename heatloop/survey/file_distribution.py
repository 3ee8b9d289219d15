"""The tables of a survey file that say how the water is driven and led: pump, source, trunks, bypasses, antifreeze.

The keys are those of :mod:`heatloop.survey.distribution`; a default is the one given there.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatloop.survey import distribution as kept
from heatloop.survey.border import Choice, Many, Number, Table
from heatloop.survey.file_catalogue import Kv, Name, Pressure, YesNo, Zeta

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
