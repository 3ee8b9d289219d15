"""The tables of a catalogue file: joints, ends, pipes, valves, emitters, counting rules, and the whole file.

The keys are those of :mod:`heatloop.survey.catalogue`; a default is the one given there. Every
entry may carry `source` (where its figures come from) or `invented = true`. Profiles are in
:mod:`heatloop.survey.files.profile_tables`.
"""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field

from heatloop.survey.catalogue import (
    END_KINDS,
    JOINT_KINDS,
    Catalogue,
    CountPer,
    CountRule,
    Emitter,
    End,
    EndKind,
    FreeEnd,
    Joint,
    JointKind,
    PackSize,
    PartUnit,
    Pipe,
    Valve,
)
from heatloop.survey.files.fields import (
    Bore,
    ChoiceField,
    Conductivity,
    Exponent,
    FileTable,
    Kv,
    ListField,
    Name,
    Names,
    Note,
    NumberField,
    Pressure,
    Roughness,
    YesNo,
    Zeta,
)
from heatloop.survey.files.profile_tables import ProfileTable

TakeOff = Annotated[float, NumberField("millimetres", minimum=0, maximum=1000)]
Turn = Annotated[float, NumberField("degrees", above=-180, below=180)]
Slide = Annotated[float, NumberField("millimetres", minimum=0, maximum=100)]
Percent = Annotated[float, NumberField("per cent", minimum=0, maximum=100)]


class JointTable(FileTable):
    """A connection of two pieces."""

    name: Name = Field(description="name used by counting rules and packs")
    kind: Annotated[JointKind, ChoiceField(JOINT_KINDS)] = Field(
        description="type of connection: at a corner, between two pieces of one wall, both sides of a crossing, or "
        "from wall to floor"
    )
    turn_deg: Annotated[list[Turn], ListField("turns in degrees, the smaller first", 2, 2)] = Field(
        description="minimum and maximum turn; joints for 90 degrees are tried first"
    )
    cut_deduction_mm: TakeOff = Field(description="length that the joint takes from each of its two pieces")
    zeta: Zeta = Field(
        default=Joint.zeta,
        description="loss coefficient of each channel, for the velocity in it; of a crossing: of all its bends, for the"
        " velocity in its pipe",
    )
    heated: YesNo = Field(default=Joint.heated, description="whether the joint emits heat over its cut deductions")
    free_end: Annotated[FreeEnd, ChoiceField(get_args(FreeEnd))] = Field(
        default=Joint.free_end, description="number of sides of the joint that may slide: none, one or both"
    )
    slide_mm: Slide | None = Field(default=None, description="maximum gap of a sliding side when cold")
    elastic_allowance_mm: Slide = Field(
        default=Joint.elastic_allowance_mm, description="expansion that a fixed side takes without damage"
    )
    machining: Note = Field(default=Joint.machining, description="machining of the end of the piece")
    source: Note = Field(default=Joint.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=Joint.invented, description="an invented entry; the report states this")
    max_pressure_kpa: Pressure | None = Field(
        default=None, description="maximum working pressure, as the maker states it"
    )

    def value(self) -> Joint:
        minimum, maximum = self.turn_deg or (float("nan"), float("nan"))
        return Joint(
            self.name, self.kind, (minimum, maximum), self.cut_deduction_mm, self.zeta, self.heated, self.free_end,
            self.slide_mm, self.elastic_allowance_mm, self.machining, self.source, self.invented, self.max_pressure_kpa,
        )  # fmt: skip


class EndTable(FileTable):
    """An end of a run; one entry of each kind."""

    name: Name = Field(description="name used by counting rules and packs")
    kind: Annotated[EndKind, ChoiceField(END_KINDS)] = Field(
        description="valve end: with pipe connections; plain end: without; turn end: far end of there-and-back"
    )
    cut_deduction_mm: TakeOff = Field(description="length that the end takes from its piece")
    zeta: Zeta = Field(default=End.zeta, description="loss coefficient of the turn, counted once")
    vent: YesNo = Field(default=End.vent, description="whether the end has an air vent")
    drain: YesNo = Field(default=End.drain, description="whether the end has a drain valve")
    free_end: Annotated[Literal["one", "none"], ChoiceField(("one", "none"))] | None = Field(
        default=None,
        description="one: the end may slide; none: it is fixed; if not given, a valve end is fixed and other ends may"
        " slide",
    )
    slide_mm: Slide | None = Field(default=None, description="maximum gap when cold, if the end may slide")
    elastic_allowance_mm: Slide = Field(
        default=End.elastic_allowance_mm, description="expansion that a fixed end takes without damage"
    )
    machining: Note = Field(default=End.machining, description="machining of the end of the piece")
    source: Note = Field(default=End.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=End.invented, description="an invented entry; the report states this")
    max_pressure_kpa: Pressure | None = Field(
        default=None, description="maximum working pressure, as the maker states it"
    )

    def value(self) -> End:
        return End(
            self.name, self.kind, self.cut_deduction_mm, self.zeta, self.vent, self.drain, self.free_end, self.slide_mm,
            self.elastic_allowance_mm, self.machining, self.source, self.invented, self.max_pressure_kpa,
        )  # fmt: skip


class PipeTable(FileTable):
    """A plain round pipe."""

    name: Name = Field(description="name used by tails, trunks and crossings")
    bore_mm: Bore = Field(description="inside diameter")
    outside_mm: Bore = Field(description="outside diameter")
    roughness_mm: Roughness = Field(
        default=Pipe.roughness_mm, description="roughness of the bore; drawn copper has 0.0015"
    )
    insulation_mm: Annotated[float, NumberField("millimetres", minimum=0, maximum=300)] = Field(
        default=Pipe.insulation_mm, description="thickness of the insulation; 0: bare pipe"
    )
    insulation_conductivity_w_mk: Conductivity = Field(
        default=Pipe.insulation_conductivity_w_mk, description="conductivity of the insulation"
    )
    allowance_m: Annotated[float, NumberField("metres", minimum=0, maximum=10)] | None = Field(
        default=None, description="additional length at each end that meets skirting; 0.15 is assumed"
    )
    waste_percent: Percent = Field(default=Pipe.waste_percent, description="waste in cutting")
    source: Note = Field(default=Pipe.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=Pipe.invented, description="an invented entry; the report states this")
    max_pressure_kpa: Pressure | None = Field(
        default=None, description="maximum working pressure, as the maker states it"
    )

    def value(self) -> Pipe:
        return Pipe(
            self.name, self.bore_mm, self.outside_mm, self.roughness_mm, self.insulation_mm,
            self.insulation_conductivity_w_mk, self.allowance_m, self.waste_percent, self.source, self.invented,
            self.max_pressure_kpa,
        )  # fmt: skip


class ValveTable(FileTable):
    """A valve by its Kv at each setting."""

    name: Name = Field(description="name used by loops")
    kv_m3_h: Annotated[list[Kv], ListField("Kv values, setting 1 first", 1)] = Field(
        description="Kv at each setting, setting 1 first, rising; of a thermostatic valve at its proportional band of"
        " 2 K"
    )
    kv_at_1k_m3_h: Annotated[list[Kv], ListField("Kv values, setting 1 first")] = Field(
        default_factory=list, description="Kv at each setting with a proportional band of 1 K; thermostatic valves only"
    )
    kvs_m3_h: Kv | None = Field(
        default=None, description="Kv fully open with the head removed; thermostatic valves only"
    )
    max_dp_kpa: Annotated[float, NumberField("kPa", above=0, maximum=1000)] | None = Field(
        default=None, description="maximum pressure drop without noise"
    )
    standard: Note = Field(default=Valve.standard, description="standard of these figures")
    source: Note = Field(default=Valve.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=Valve.invented, description="an invented entry; the report states this")
    max_pressure_kpa: Pressure | None = Field(
        default=None, description="maximum working pressure, as the maker states it"
    )
    presetting: YesNo = Field(
        default=Valve.presetting,
        description="whether the settings are presettings in the body of a thermostatic valve, which then balances "
        "its loop",
    )

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


class EmitterTable(FileTable):
    """A radiator, a towel rail; its pressure drop is `zeta` or `kv_m3_h`, one of the two."""

    name: Name = Field(description="name used by loops")
    output_w: Annotated[float, NumberField("watts", above=0, maximum=50_000)] = Field(
        description="output of the whole emitter at 50 K (75/65/20), EN 442-2"
    )
    exponent: Exponent = Field(description="exponent n of the test report; radiators have about 1.3")
    zeta: Zeta | None = Field(
        default=None,
        description="loss coefficient of the whole emitter, for the velocity in the tails of its loop",
    )
    kv_m3_h: Kv | None = Field(default=None, description="Kv of the whole emitter, with its own valve if it has one")
    water_l: Annotated[float, NumberField("litres", minimum=0, maximum=1000)] = Field(
        default=Emitter.water_l, description="water content of the emitter"
    )
    source: Note = Field(default=Emitter.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=Emitter.invented, description="an invented entry; the report states this")
    max_pressure_kpa: Pressure | None = Field(
        default=None, description="maximum working pressure, as the maker states it"
    )

    def value(self) -> Emitter:
        return Emitter(**dict(self))


class CountTable(FileTable):
    """Quantity of an item by a counting rule."""

    item: Name = Field(description="item that is counted")
    per: Annotated[CountPer, ChoiceField(get_args(CountPer))] = Field(
        description='what is counted. A crossing counts as one joint. `"joint-channel"`: each channel that passes a '
        'joint; `"metre"`: of cut profile; `"litre"`: of water in the whole system'
    )
    quantity: Annotated[float, NumberField("", above=0, maximum=10_000)] = Field(
        default=CountRule.quantity, description="quantity for each unit counted"
    )
    at: Names = Field(
        default_factory=list,
        description='count only at joints and ends of these kinds or names, or only pieces of the kind `"wall"` or '
        '`"floor section"`',
    )
    profiles: Names = Field(default_factory=list, description="count only with these profiles")
    unit: Annotated[PartUnit, ChoiceField(get_args(PartUnit))] = Field(
        default=CountRule.unit, description="unit of the item"
    )
    spacing_m: Annotated[float, NumberField("metres", above=0, maximum=10)] | None = Field(
        default=None, description='maximum distance, with `per = "spacing"`'
    )
    end_m: Annotated[float, NumberField("metres", minimum=0, maximum=5)] | None = Field(
        default=None, description='maximum distance of the first item from the end of a piece, with `per = "spacing"`'
    )
    spares_percent: Percent = Field(default=CountRule.spares_percent, description="spares, ordered in addition")
    source: Note = Field(default=CountRule.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=CountRule.invented, description="an invented entry; the report states this")

    def value(self) -> CountRule:
        return CountRule(
            self.item, self.per, self.quantity, tuple(self.at), tuple(self.profiles), self.unit, self.spacing_m,
            self.end_m, self.spares_percent, self.source, self.invented,
        )  # fmt: skip


class PackTable(FileTable):
    """A supplier's pack of one item."""

    item: Name = Field(description="item in the pack")
    name: Name = Field(description="name of the pack")
    holds: Annotated[
        float, NumberField("pieces, metres or litres as the item is counted", above=0, maximum=100_000)
    ] = Field(description="quantity in the pack")
    source: Note = Field(default=PackSize.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=PackSize.invented, description="an invented entry; the report states this")

    def value(self) -> PackSize:
        return PackSize(self.item, self.name, self.holds, self.source, self.invented)


class CatalogueTable(FileTable):
    """The whole file."""

    profile: Annotated[list[ProfileTable], ListField("profiles", 1)] = Field(description="heated skirting sections")
    joint: Annotated[list[JointTable], ListField("joints", 1)] = Field(description="connections of two pieces")
    end: Annotated[list[EndTable], ListField("ends", 1)] = Field(description="ends of runs")
    pipe: Annotated[list[PipeTable], ListField("pipes", 1)] = Field(
        description="plain pipes of tails, trunks and crossings"
    )
    valve: Annotated[list[ValveTable], ListField("valves")] = Field(
        default_factory=list, description="balancing and thermostatic valves"
    )
    fitting: Annotated[list[CountTable], ListField("fittings")] = Field(
        default_factory=list, description="item that is counted by joints, ends and loops"
    )
    fixing: Annotated[list[CountTable], ListField("fixings")] = Field(
        default_factory=list, description="fixings of the pieces to the wall"
    )
    consumable: Annotated[list[CountTable], ListField("consumables")] = Field(
        default_factory=list, description="consumables"
    )
    pack: Annotated[list[PackTable], ListField("packs")] = Field(
        default_factory=list, description="packs in which suppliers sell items"
    )
    emitter: Annotated[list[EmitterTable], ListField("emitters")] = Field(
        default_factory=list, description="other emitters on the same water"
    )

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
