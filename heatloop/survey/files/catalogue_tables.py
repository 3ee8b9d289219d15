"""The tables of a catalogue file: their keys, ranges and defaults.

The keys are those of :mod:`heatloop.survey.catalogue`; a default is the one given there. Every
entry may carry `source` (where its figures come from) or `invented = true`.
"""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field

from heatloop.physics.emitters import RATED_EXCESS_K, fit_characteristic
from heatloop.survey.catalogue import (
    Catalogue,
    CountPer,
    CountRule,
    Emitter,
    End,
    FreeEnd,
    Joint,
    Pack,
    PartUnit,
    Pipe,
    Valve,
)
from heatloop.survey.files.fields import Choice, Count, Flag, Many, Number, Table, Text
from heatloop.survey.profiles import Channel, Factor, Link, Profile, Rating, SecondTest, SillRating, TestPoint

Name = Annotated[str, Text("a name")]
Note = Annotated[str, Text("a text", empty=True, most=2000)]
YesNo = Annotated[bool, Flag()]
Bore = Annotated[float, Number("millimetres", least=2, most=100)]
Metal = Annotated[float, Number("millimetres", above=0, most=300)]
TakeOff = Annotated[float, Number("millimetres", least=0, most=1000)]
Roughness = Annotated[float, Number("millimetres", least=0, most=5)]
Zeta = Annotated[float, Number("", least=0, most=1000)]
Output = Annotated[float, Number("W/m", above=0, most=2000)]
Exponent = Annotated[float, Number("", least=1, most=1.6)]
Conductivity = Annotated[float, Number("W/(m K)", above=0, most=500)]
Turn = Annotated[float, Number("degrees", above=-180, below=180)]
Kv = Annotated[float, Number("m3/h at 1 bar", above=0, most=1000)]
Slide = Annotated[float, Number("millimetres", least=0, most=100)]
Percent = Annotated[float, Number("per cent", least=0, most=100)]
Names = Annotated[list[Name], Many("names")]
Pressure = Annotated[float, Number("kPa, gauge", above=0, most=2000)]


class ChannelTable(Table):
    """Round by `bore_mm`, or oval by `width_mm` and `height_mm`."""

    bore_mm: Bore | None = None
    width_mm: Bore | None = None
    height_mm: Bore | None = None
    role: Note = Channel.role

    def value(self) -> Channel:
        return Channel(self.bore_mm, self.width_mm, self.height_mm, self.role)


class TestPointTable(Table):
    """One point of a test at an excess temperature."""

    __test__ = False

    excess_k: Annotated[float, Number("kelvin", above=0, most=100)]
    output_w_m: Output

    def value(self) -> TestPoint:
        return TestPoint(self.excess_k, self.output_w_m)


class FactorTable(Table):
    """A finish or a cover and its factor on the output."""

    name: Name
    factor: Annotated[float, Number("", above=0, most=1.5)]

    def value(self) -> Factor:
        return Factor(self.name, self.factor)


class RatingTable(Table):
    """`output_w_m` and `exponent`, or `test_points` to fit them to. `drop_k` or `flow_kg_s` of the test; 10 K
    where neither is given, as EN 442-2 rates."""

    output_w_m: Output | None = None
    exponent: Exponent | None = None
    test_points: Annotated[list[TestPointTable], Many("test points", 2)] = Field(default_factory=list)
    flow_exponent: Annotated[float, Number("", least=0, most=0.3)] | None = None
    standard: Note = Rating.standard
    sample_m: Annotated[float, Number("metres", above=0, most=30)] = Rating.sample_m
    arrangement: Annotated[
        Literal["one-way", "there-and-back", "unknown"],
        Choice(("one-way", "there-and-back", "unknown")),
    ] = Rating.arrangement
    drop_k: Annotated[float, Number("kelvin", above=0, most=60)] | None = None
    flow_kg_s: Annotated[float, Number("kg/s", above=0, most=5)] | None = None
    heating_effect_included: YesNo = Rating.heating_effect_included
    band_percent: Annotated[float, Number("per cent", least=0, most=50)] | None = None

    def value(self) -> Rating:
        stated = self.drop_k is not None or self.flow_kg_s is not None
        output_w_m, exponent, spread = self._characteristic()
        return Rating(
            output_w_m=output_w_m,
            exponent=exponent,
            test_points=tuple(point.value() for point in self.test_points),
            fit_spread=spread,
            flow_exponent=self.flow_exponent,
            standard=self.standard,
            sample_m=self.sample_m,
            arrangement=self.arrangement,
            drop_k=self.drop_k if stated else Rating.drop_k,
            flow_kg_s=self.flow_kg_s,
            heating_effect_included=self.heating_effect_included,
            band_percent=self.band_percent,
        )

    def _characteristic(self) -> tuple[float, float, float | None]:
        """Output at 50 K, exponent and spread: as stated or fitted; not a number where neither can be had."""
        if not self.test_points:
            nan = float("nan")
            return self.output_w_m or nan, self.exponent or nan, None
        try:
            fit = fit_characteristic(*zip(*((p.excess_k, p.output_w_m) for p in self.test_points), strict=True))
        except ValueError:
            return float("nan"), float("nan"), None
        return fit.k_w_mkn * RATED_EXCESS_K**fit.exponent, fit.exponent, fit.spread


class SecondTestTable(Table):
    """Another rating test of the sample, at another drop (another flow)."""

    output_w_m: Output
    drop_k: Annotated[float, Number("kelvin", above=0, most=60)]

    def value(self) -> SecondTest:
        return SecondTest(self.output_w_m, self.drop_k)


class LinkTable(Table):
    """`w_mk`; or the web's thickness, length and conductivity; or a `second_test` at another flow.
    `measured` says how it was found."""

    w_mk: Annotated[float, Number("W/(m K)", least=0, most=1000)] | None = None
    web_thickness_mm: Metal | None = None
    web_length_mm: Metal | None = None
    webs: Annotated[int, Count("a whole number of webs", most=20)] = Link.webs
    conductivity_w_mk: Conductivity | None = None
    measured: Name | None = None
    second_test: SecondTestTable | None = None

    def value(self) -> Link:
        return Link(
            self.w_mk, self.web_thickness_mm, self.web_length_mm, self.webs,
            self.conductivity_w_mk, self.measured, self.second_test.value() if self.second_test else None,
        )  # fmt: skip


class SillTable(Table):
    """The profile laid flat in the floor."""

    output_w_m: Output
    exponent: Exponent
    max_surface_c: Annotated[float, Number("degrees C", least=15, most=110)] | None = None
    down_w_mk: Annotated[float, Number("W/(m K)", least=0, most=20)] = SillRating.down_w_mk
    surface_share: Annotated[float, Number("a share", least=0, most=1)] = SillRating.surface_share

    def value(self) -> SillRating:
        return SillRating(self.output_w_m, self.exponent, self.max_surface_c, self.down_w_mk, self.surface_share)


class ProfileTable(Table):
    """A heated skirting section."""

    name: Name
    height_mm: Annotated[float, Number("millimetres", least=20, most=1000)]
    depth_mm: Annotated[float, Number("millimetres", least=5, most=300)]
    channels: Annotated[list[ChannelTable], Many("channels", 1, 4)]
    rating: RatingTable
    stock_m: Annotated[list[Annotated[float, Number("metres", above=0, most=20)]], Many("stock lengths in metres", 1)]
    wetted_metal: Annotated[Literal["aluminium", "copper"], Choice(("aluminium", "copper"))] = Profile.wetted_metal
    roughness_mm: Roughness = Profile.roughness_mm
    link: LinkTable | None = None
    sill: SillTable | None = None
    metal_kg_m: Annotated[float, Number("kg/m", above=0, most=100)] | None = None
    expansion_1_k: Annotated[float, Number("1/K", least=0, most=1e-3)] = Profile.expansion_1_k
    painted: YesNo = Profile.painted
    finishes: Annotated[list[FactorTable], Many("finishes")] = Field(default_factory=list)
    covers: Annotated[list[FactorTable], Many("covers")] = Field(default_factory=list)
    clearance_mm: Annotated[float, Number("millimetres", least=0, most=500)] = Profile.clearance_mm
    min_piece_m: Annotated[float, Number("metres", above=0, most=5)] = Profile.min_piece_m
    source: Note = Profile.source
    invented: YesNo = Profile.invented
    max_pressure_kpa: Pressure | None = None

    def value(self) -> Profile:
        return Profile(
            name=self.name,
            height_mm=self.height_mm,
            depth_mm=self.depth_mm,
            channels=tuple(channel.value() for channel in self.channels),
            rating=self.rating.value(),
            stock_m=tuple(self.stock_m),
            wetted_metal=self.wetted_metal,
            roughness_mm=self.roughness_mm,
            link=self.link.value() if self.link else None,
            sill=self.sill.value() if self.sill else None,
            metal_kg_m=self.metal_kg_m,
            expansion_1_k=self.expansion_1_k,
            painted=self.painted,
            finishes=tuple(item.value() for item in self.finishes),
            covers=tuple(item.value() for item in self.covers),
            clearance_mm=self.clearance_mm,
            min_piece_m=self.min_piece_m,
            source=self.source,
            invented=self.invented,
            max_pressure_kpa=self.max_pressure_kpa,
        )


class JointTable(Table):
    """`turn_deg = [least, most]` turns it takes."""

    name: Name
    turn_deg: Annotated[list[Turn], Many("turns in degrees, the least first", 2, 2)]
    take_off_mm: TakeOff
    zeta: Zeta = Joint.zeta
    heated: YesNo = Joint.heated
    free_end: Annotated[FreeEnd, Choice(get_args(FreeEnd))] = Joint.free_end
    slide_mm: Slide | None = None
    give_mm: Slide = Joint.give_mm
    machining: Note = Joint.machining
    source: Note = Joint.source
    invented: YesNo = Joint.invented
    max_pressure_kpa: Pressure | None = None

    def value(self) -> Joint:
        least, most = self.turn_deg or (float("nan"), float("nan"))
        return Joint(
            self.name, (least, most), self.take_off_mm, self.zeta, self.heated, self.free_end, self.slide_mm,
            self.give_mm, self.machining, self.source, self.invented, self.max_pressure_kpa,
        )  # fmt: skip


class EndTable(Table):
    """Where a run stops: "valve end", "plain end" or "turn end"."""

    name: Name
    take_off_mm: TakeOff
    zeta: Zeta = End.zeta
    vent: YesNo = End.vent
    drain: YesNo = End.drain
    free_end: Annotated[Literal["one", "none"], Choice(("one", "none"))] | None = None
    slide_mm: Slide | None = None
    give_mm: Slide = End.give_mm
    machining: Note = End.machining
    source: Note = End.source
    invented: YesNo = End.invented
    max_pressure_kpa: Pressure | None = None

    def value(self) -> End:
        return End(
            self.name, self.take_off_mm, self.zeta, self.vent, self.drain, self.free_end, self.slide_mm,
            self.give_mm, self.machining, self.source, self.invented, self.max_pressure_kpa,
        )  # fmt: skip


class PipeTable(Table):
    """A plain round pipe."""

    name: Name
    bore_mm: Bore
    outside_mm: Bore
    roughness_mm: Roughness = Pipe.roughness_mm
    insulation_mm: Annotated[float, Number("millimetres", least=0, most=300)] = Pipe.insulation_mm
    insulation_conductivity_w_mk: Conductivity = Pipe.insulation_conductivity_w_mk
    first_fix_m: Annotated[float, Number("metres", least=0, most=10)] | None = None
    waste_percent: Percent = Pipe.waste_percent
    source: Note = Pipe.source
    invented: YesNo = Pipe.invented
    max_pressure_kpa: Pressure | None = None

    def value(self) -> Pipe:
        return Pipe(
            self.name, self.bore_mm, self.outside_mm, self.roughness_mm, self.insulation_mm,
            self.insulation_conductivity_w_mk, self.first_fix_m, self.waste_percent, self.source, self.invented,
            self.max_pressure_kpa,
        )  # fmt: skip


class ValveTable(Table):
    """Kv at each setting, setting 1 first."""

    name: Name
    kv_m3_h: Annotated[list[Kv], Many("Kv values, setting 1 first", 1)]
    kv_at_1k_m3_h: Annotated[list[Kv], Many("Kv values, setting 1 first")] = Field(default_factory=list)
    kvs_m3_h: Kv | None = None
    max_dp_kpa: Annotated[float, Number("kPa", above=0, most=1000)] | None = None
    standard: Note = Valve.standard
    source: Note = Valve.source
    invented: YesNo = Valve.invented
    max_pressure_kpa: Pressure | None = None
    presetting: YesNo = Valve.presetting

    def value(self) -> Valve:
        return Valve(
            name=self.name,
            kv_m3_h=tuple(self.kv_m3_h),
            kv_at_1k_m3_h=tuple(self.kv_at_1k_m3_h),
            kvs_m3_h=self.kvs_m3_h,
            max_dp_kpa=self.max_dp_kpa,
            standard=self.standard,
            source=self.source,
            invented=self.invented,
            max_pressure_kpa=self.max_pressure_kpa,
            presetting=self.presetting,
        )


class EmitterTable(Table):
    """A radiator, a towel rail: `zeta` or `kv_m3_h` for its pressure drop."""

    name: Name
    output_w: Annotated[float, Number("watts", above=0, most=50_000)]
    exponent: Exponent
    zeta: Zeta | None = None
    kv_m3_h: Kv | None = None
    water_l: Annotated[float, Number("litres", least=0, most=1000)] = Emitter.water_l
    source: Note = Emitter.source
    invented: YesNo = Emitter.invented
    max_pressure_kpa: Pressure | None = None

    def value(self) -> Emitter:
        return Emitter(**dict(self))


class CountTable(Table):
    """A row of [[fitting]], [[fixing]] or [[consumable]]: how many of an item are needed."""

    item: Name
    per: Annotated[CountPer, Choice(get_args(CountPer))]
    quantity: Annotated[float, Number("", above=0, most=10_000)] = CountRule.quantity
    at: Names = Field(default_factory=list)
    profiles: Names = Field(default_factory=list)
    unit: Annotated[PartUnit, Choice(get_args(PartUnit))] = CountRule.unit
    spacing_m: Annotated[float, Number("metres", above=0, most=10)] | None = None
    end_m: Annotated[float, Number("metres", least=0, most=5)] | None = None
    spares_percent: Percent = CountRule.spares_percent
    source: Note = CountRule.source
    invented: YesNo = CountRule.invented

    def value(self) -> CountRule:
        return CountRule(
            self.item, self.per, self.quantity, tuple(self.at), tuple(self.profiles), self.unit, self.spacing_m,
            self.end_m, self.spares_percent, self.source, self.invented,
        )  # fmt: skip


class PackTable(Table):
    """A supplier's pack of one item."""

    item: Name
    name: Name
    holds: Annotated[float, Number("pieces, metres or litres as the item is counted", above=0, most=100_000)]
    source: Note = Pack.source
    invented: YesNo = Pack.invented

    def value(self) -> Pack:
        return Pack(self.item, self.name, self.holds, self.source, self.invented)


class CatalogueTable(Table):
    """The whole file."""

    profile: Annotated[list[ProfileTable], Many("profiles", 1)]
    joint: Annotated[list[JointTable], Many("joints", 1)]
    end: Annotated[list[EndTable], Many("ends", 1)]
    pipe: Annotated[list[PipeTable], Many("pipes", 1)]
    valve: Annotated[list[ValveTable], Many("valves")] = Field(default_factory=list)
    fitting: Annotated[list[CountTable], Many("fittings")] = Field(default_factory=list)
    fixing: Annotated[list[CountTable], Many("fixings")] = Field(default_factory=list)
    consumable: Annotated[list[CountTable], Many("consumables")] = Field(default_factory=list)
    pack: Annotated[list[PackTable], Many("packs")] = Field(default_factory=list)
    emitter: Annotated[list[EmitterTable], Many("emitters")] = Field(default_factory=list)

    def value(self) -> Catalogue:
        return Catalogue(
            profiles=tuple(item.value() for item in self.profile),
            joints=tuple(item.value() for item in self.joint),
            ends=tuple(item.value() for item in self.end),
            pipes=tuple(item.value() for item in self.pipe),
            valves=tuple(item.value() for item in self.valve),
            fittings=tuple(item.value() for item in self.fitting),
            fixings=tuple(item.value() for item in self.fixing),
            consumables=tuple(item.value() for item in self.consumable),
            packs=tuple(item.value() for item in self.pack),
            emitters=tuple(item.value() for item in self.emitter),
        )
