"""Tables of a catalogue file for profiles: channels, rating, link, floor section, factors.

The keys are those of :mod:`heatloop.survey.profiles`; a default is the one given there.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from heatloop.physics.emitters import RATED_EXCESS_K, fit_characteristic
from heatloop.survey.files.fields import (
    Bore,
    ChoiceField,
    Conductivity,
    Exponent,
    FileTable,
    IntegerField,
    ListField,
    Name,
    Note,
    NumberField,
    Output,
    Pressure,
    Roughness,
    YesNo,
)
from heatloop.survey.profiles import (
    Channel,
    ChannelCoupling,
    FloorSectionRating,
    OutputFactor,
    OutputRating,
    Profile,
    SecondTest,
    TestPoint,
)

Metal = Annotated[float, NumberField("millimetres", above=0, maximum=300)]


class ChannelTable(FileTable):
    """One waterway: round by `bore_mm`, or oval by `width_mm` and `height_mm`."""

    bore_mm: Bore | None = Field(default=None, description="bore of a round channel")
    width_mm: Bore | None = Field(default=None, description="width of an oval channel")
    height_mm: Bore | None = Field(default=None, description="height of an oval channel")
    role: Note = Field(default=Channel.role, description="name of the channel in drawings")

    def value(self) -> Channel:
        return Channel(self.bore_mm, self.width_mm, self.height_mm, self.role)


class TestPointTable(FileTable):
    """One point of a test at an excess temperature."""

    __test__ = False

    excess_k: Annotated[float, NumberField("kelvin", above=0, maximum=100)] = Field(
        description="mean water temperature minus room temperature"
    )
    output_w_m: Output = Field(description="output per metre of heated length")

    def value(self) -> TestPoint:
        return TestPoint(self.excess_k, self.output_w_m)


class FactorTable(FileTable):
    """A finish or a cover and its factor on the output."""

    name: Name = Field(description="name used by `finish` or `cover` of a loop")
    factor: Annotated[float, NumberField("", above=0, maximum=1.5)] = Field(
        description="factor by which the output is multiplied"
    )

    def value(self) -> OutputFactor:
        return OutputFactor(self.name, self.factor)


class RatingTable(FileTable):
    """A test: `output_w_m` and `exponent`, or `test_points`; `drop_k` or `flow_kg_s`."""

    output_w_m: Output | None = Field(
        default=None, description="output per metre of heated length at an excess temperature of 50 K"
    )
    exponent: Exponent | None = Field(default=None, description="exponent n of the characteristic")
    test_points: Annotated[list[TestPointTable], ListField("test points", 2)] = Field(
        default_factory=list, description="points of the test, to which output and exponent are fitted"
    )
    flow_exponent: Annotated[float, NumberField("", minimum=0, maximum=0.3)] | None = Field(
        default=None,
        description="exponent of the flow in the supplier's own characteristic; replaces the calculated water film",
    )
    standard: Note = Field(default=OutputRating.standard, description="standard of the test")
    sample_m: Annotated[float, NumberField("metres", above=0, maximum=30)] = Field(
        default=OutputRating.sample_m, description="heated length of the sample"
    )
    arrangement: Annotated[
        Literal["one-way", "there-and-back", "unknown"],
        ChoiceField(("one-way", "there-and-back", "unknown")),
    ] = Field(default=OutputRating.arrangement, description="path of the water in the test")
    drop_k: Annotated[float, NumberField("kelvin", above=0, maximum=60)] | None = Field(
        default=None,
        description="temperature drop in the test; 10, as in EN 442-2, if drop and flow are not given",
    )
    flow_kg_s: Annotated[float, NumberField("kg/s", above=0, maximum=5)] | None = Field(
        default=None, description="flow in the test, all channels together"
    )
    heating_effect_included: YesNo = Field(
        default=OutputRating.heating_effect_included,
        description="whether the output contains the allowance of 15 % for low installation; the output is then "
        "divided by 1.15",
    )
    tolerance_percent: Annotated[float, NumberField("per cent", minimum=0, maximum=50)] | None = Field(
        default=None, description="tolerance of the laboratory, for the output range"
    )

    def value(self) -> OutputRating:
        stated = self.drop_k is not None or self.flow_kg_s is not None
        output_w_m, exponent, spread = self._characteristic()
        return OutputRating(
            output_w_m=output_w_m,
            exponent=exponent,
            test_points=tuple(point.value() for point in self.test_points),
            fit_spread=spread,
            flow_exponent=self.flow_exponent,
            standard=self.standard,
            sample_m=self.sample_m,
            arrangement=self.arrangement,
            drop_k=self.drop_k if stated else OutputRating.drop_k,
            flow_kg_s=self.flow_kg_s,
            heating_effect_included=self.heating_effect_included,
            tolerance_percent=self.tolerance_percent,
        )

    def _characteristic(self) -> tuple[float, float, float | None]:
        """Output at 50 K, exponent and spread, as stated or fitted; not a number if neither is possible."""
        if not self.test_points:
            nan = float("nan")
            return self.output_w_m or nan, self.exponent or nan, None
        try:
            fit = fit_characteristic(*zip(*((p.excess_k, p.output_w_m) for p in self.test_points), strict=True))
        except ValueError:
            return float("nan"), float("nan"), None
        return fit.k_w_mkn * RATED_EXCESS_K**fit.exponent, fit.exponent, fit.spread


class SecondTestTable(FileTable):
    """A second rating test of the same sample, at another temperature drop and therefore another flow."""

    output_w_m: Output = Field(description="output per metre at an excess temperature of 50 K")
    drop_k: Annotated[float, NumberField("kelvin", above=0, maximum=60)] = Field(
        description="temperature drop in that test"
    )

    def value(self) -> SecondTest:
        return SecondTest(self.output_w_m, self.drop_k)


class LinkTable(FileTable):
    """Conduction between neighbouring channels: `w_mk`; or the web's thickness, length and conductivity; or a
    `second_test`."""

    w_mk: Annotated[float, NumberField("W/(m K)", minimum=0, maximum=1000)] | None = Field(
        default=None, description="heat flow between two channels per metre of run and kelvin, through the metal only"
    )
    web_thickness_mm: Metal | None = Field(default=None, description="thickness of the metal web between two channels")
    web_length_mm: Metal | None = Field(default=None, description="length of the web from channel to channel")
    webs: Annotated[int, IntegerField("a whole number of webs", maximum=20)] = Field(
        default=ChannelCoupling.webs, description="number of parallel webs"
    )
    conductivity_w_mk: Conductivity | None = Field(
        default=None, description="conductivity of the metal; aluminium extrusions have 180 to 210"
    )
    measured: Name | None = Field(default=None, description="source of the measured value")
    second_test: SecondTestTable | None = Field(
        default=None,
        description="a second test of the same sample at another flow; both tests give the channel coupling",
    )

    def value(self) -> ChannelCoupling:
        return ChannelCoupling(
            self.w_mk, self.web_thickness_mm, self.web_length_mm, self.webs,
            self.conductivity_w_mk, self.measured, self.second_test.value() if self.second_test else None,
        )  # fmt: skip


class FloorSectionTable(FileTable):
    """The profile laid flat in the floor."""

    output_w_m: Output = Field(description="output per metre at an excess temperature of 50 K, laid flat in the floor")
    exponent: Exponent = Field(description="exponent n of the characteristic")
    max_surface_c: Annotated[float, NumberField("°C", minimum=15, maximum=110)] | None = Field(
        default=None, description="maximum permitted surface temperature"
    )
    downward_loss_w_mk: Annotated[float, NumberField("W/(m K)", minimum=0, maximum=20)] = Field(
        default=FloorSectionRating.downward_loss_w_mk, description="downward heat loss per metre and kelvin"
    )
    surface_share: Annotated[float, NumberField("a share", minimum=0, maximum=1)] = Field(
        default=FloorSectionRating.surface_share,
        description="surface temperature underfoot as a share between room (0) and metal (1)",
    )

    def value(self) -> FloorSectionRating:
        return FloorSectionRating(
            self.output_w_m, self.exponent, self.max_surface_c, self.downward_loss_w_mk, self.surface_share
        )


class ProfileTable(FileTable):
    """A heated skirting section."""

    name: Name = Field(description="name used by loops")
    height_mm: Annotated[float, NumberField("millimetres", minimum=20, maximum=1000)] = Field(
        description="height of the profile above the floor covering"
    )
    depth_mm: Annotated[float, NumberField("millimetres", minimum=5, maximum=300)] = Field(
        description="depth of the profile from the wall"
    )
    channels: Annotated[list[ChannelTable], ListField("channels", 1, 4)] = Field(
        description="channels of the profile, from the top down"
    )
    rating: RatingTable = Field(description="rating test of the profile on the wall")
    stock_m: Annotated[
        list[Annotated[float, NumberField("metres", above=0, maximum=20)]], ListField("stock lengths in metres", 1)
    ] = Field(description="stock lengths as supplied")
    wetted_metal: Annotated[Literal["aluminium", "copper"], ChoiceField(("aluminium", "copper"))] = Field(
        default=Profile.wetted_metal, description="material of the bores"
    )
    roughness_mm: Roughness = Field(default=Profile.roughness_mm, description="roughness of the bores")
    link: LinkTable | None = Field(default=None, description="conduction of heat between channels through the metal")
    floor_section: FloorSectionTable | None = Field(
        default=None, description="rating of the profile laid flat in the floor"
    )
    metal_kg_m: Annotated[float, NumberField("kg/m", above=0, maximum=100)] | None = Field(
        default=None, description="mass of the profile per metre, without water"
    )
    expansion_1_k: Annotated[float, NumberField("1/K", minimum=0, maximum=1e-3)] = Field(
        default=Profile.expansion_1_k, description="coefficient of thermal expansion of the metal"
    )
    painted: YesNo = Field(default=Profile.painted, description="true for a painted profile, false for bare metal")
    finishes: Annotated[list[FactorTable], ListField("finishes")] = Field(
        default_factory=list, description="factors of paints and other finishes, as measured"
    )
    covers: Annotated[list[FactorTable], ListField("covers")] = Field(
        default_factory=list, description="factors of grilles and covers, as measured"
    )
    clearance_mm: Annotated[float, NumberField("millimetres", minimum=0, maximum=500)] = Field(
        default=Profile.clearance_mm,
        description="free height above the profile: an opening below height plus clearance interrupts the skirting",
    )
    min_piece_m: Annotated[float, NumberField("metres", above=0, maximum=5)] = Field(
        default=Profile.min_piece_m, description="minimum wall length for a piece"
    )
    source: Note = Field(default=Profile.source, description="test report or data sheet of the entry")
    invented: YesNo = Field(default=Profile.invented, description="an invented entry; the report states this")
    max_pressure_kpa: Pressure | None = Field(
        default=None, description="maximum working pressure, as the maker states it"
    )

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
            floor_section=self.floor_section.value() if self.floor_section else None,
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
