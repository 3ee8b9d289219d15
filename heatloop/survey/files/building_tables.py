"""Tables of a survey file for the building: slab, ground, air, build-ups, windows.

The keys are those of :mod:`heatloop.survey.building`; a default is the one given there. Missing
keys take the defaults of the heat loss, which lists them among its assumptions.
"""

from __future__ import annotations

from typing import Annotated, Any, get_args

from pydantic import Field

from heatloop.survey.building import (
    Building,
    BuildUp,
    CavityAir,
    Dimensions,
    EdgeInsulation,
    Layer,
    Reheat,
    Shielding,
    Underfloor,
    WindowParts,
)
from heatloop.survey.files.fields import (
    ChoiceField,
    Conductivity,
    FileTable,
    IntegerField,
    ListField,
    Name,
    NumberField,
    YesNo,
)

UValue = Annotated[float, NumberField("W/(m2 K)", above=0, maximum=10)]
Thickness = Annotated[float, NumberField("metres", above=0, maximum=3)]
Surface = Annotated[float, NumberField("m2 K/W", minimum=0, maximum=1)]
Panes = Annotated[int, IntegerField("a whole number of panes", maximum=50)]


class EdgeInsulationTable(FileTable):
    """Insulation along the edge of the slab."""

    width_m: Annotated[float, NumberField("metres", above=0, maximum=10)] = Field(
        description="width of the insulation from the edge inwards; if upright, its depth downwards"
    )
    thickness_m: Thickness = Field(description="thickness of the insulation")
    conductivity_w_mk: Conductivity = Field(description="conductivity of the insulation")
    upright: YesNo = Field(
        default=EdgeInsulation.upright, description="true: upright at the edge of the slab; false: flat below the slab"
    )

    def value(self) -> EdgeInsulation:
        return EdgeInsulation(**dict(self))


class UnderfloorTable(FileTable):
    """The void below suspended ground floors; missing values are assumed as in SAP 2012."""

    height_m: Annotated[float, NumberField("metres", above=0, maximum=5)] | None = Field(
        default=None, description="height of the floor above the ground outside; 0.3 is assumed"
    )
    wall_u_w_m2k: UValue | None = Field(default=None, description="U-value of the walls of the void; 1.5 is assumed")
    vents_m2_m: Annotated[float, NumberField("m2 of vents a metre", minimum=0, maximum=1)] | None = Field(
        default=None, description="free area of the vents per metre of edge; 0.003 is assumed"
    )
    wind_m_s: Annotated[float, NumberField("m/s", minimum=0, maximum=30)] | None = Field(
        default=None, description="mean wind speed at a height of 10 m; 5 is assumed"
    )
    wind_shelter: Annotated[float, NumberField("", minimum=0, maximum=1)] | None = Field(
        default=None, description="wind shelter factor: 0.02 sheltered to 0.10 exposed; 0.05 is assumed"
    )

    def value(self) -> Underfloor:
        return Underfloor(**dict(self))


class ReheatTable(FileTable):
    """Reheat after a setback, by the table in EN 12831."""

    hours: Annotated[int, IntegerField("a whole number of hours", maximum=4)] = Field(
        description="time in which the rooms reach their temperature again"
    )
    drop_k: Annotated[int, IntegerField("a whole number of kelvin", maximum=3)] = Field(
        description="temperature drop of the rooms during the setback: 1, 2 or 3"
    )

    def value(self) -> Reheat:
        return Reheat(self.hours, self.drop_k)


class BuildingTable(FileTable):
    """Data common to all rooms."""

    slab_area_m2: Annotated[float, NumberField("square metres", above=0, maximum=1e5)] | None = Field(
        default=None, description="area of the whole ground floor, not of one room"
    )
    slab_exposed_perimeter_m: Annotated[float, NumberField("metres", minimum=0, maximum=1e4)] | None = Field(
        default=None, description="length of the edge of the slab to outdoors or to an unheated space"
    )
    dimensions: Annotated[Dimensions, ChoiceField(get_args(Dimensions))] = Field(
        default=Building.dimensions,
        description="dimensions from which areas are calculated: as measured (inside), with the thickness of walls and "
        "floors between rooms (overall inside), or with that of all walls (outside)",
    )
    thermal_bridge_w_m2k: Annotated[float, NumberField("W/(m2 K)", minimum=0, maximum=1)] | None = Field(
        default=None,
        description="added to every U towards outdoors and unheated spaces. For outside dimensions: 0.02 attested, "
        "0.05 good, 0.10 other, 0.15 inside insulation broken by slabs. For overall inside dimensions: 0.08 good, 0.15 "
        "other. Assumed: 0.05; for overall inside dimensions 0.15",
    )
    wall_thickness_m: Thickness | None = Field(
        default=None, description="thickness of the walls on the slab; 0.3 is assumed"
    )
    ground_conductivity_w_mk: Conductivity | None = Field(
        default=None, description="conductivity of the ground; 2.0 is assumed (sand or gravel); clay has 1.5, rock 3.5"
    )
    ground_season_factor: Annotated[float, NumberField("", above=0, maximum=5)] | None = Field(
        default=None,
        description="factor on the temperature difference to the ground, for the cold season; 1.45 is assumed",
    )
    ground_water_factor: Annotated[float, NumberField("", minimum=1, maximum=3)] | None = Field(
        default=None,
        description="factor for ground water; 1.0 is assumed, 1.15 applies to ground water less than 1 m below the "
        "floor",
    )
    edge_insulation: EdgeInsulationTable | None = Field(
        default=None, description="insulation along the edge of the slab"
    )
    underfloor: UnderfloorTable = Field(
        default_factory=UnderfloorTable, description="data of the void below suspended ground floors"
    )
    air_wh_m3k: Annotated[float, NumberField("W h/(m3 K)", above=0, maximum=1)] | None = Field(
        default=None, description="heat capacity of air; 0.34 is assumed; at altitude it is smaller"
    )
    n50_h: Annotated[float, NumberField("air changes an hour at 50 Pa", minimum=0, maximum=50)] | None = Field(
        default=None, description="result of the air test; the calculated outdoor air then includes leakage"
    )
    shielding: Annotated[Shielding, ChoiceField(get_args(Shielding))] | None = Field(
        default=None, description="shielding of the building from wind; moderate is assumed"
    )
    reheat: ReheatTable | None = Field(default=None, description="additional heat after a setback; none is assumed")
    infiltration_share: Annotated[float, NumberField("a share", minimum=0, maximum=1)] | None = Field(
        default=None,
        description="share of the infiltration of all rooms that counts for the building; half is assumed",
    )

    def value(self) -> Building:
        values: dict[str, Any] = dict(self)
        values["edge_insulation"] = self.edge_insulation.value() if self.edge_insulation else None
        values["underfloor"] = self.underfloor.value()
        values["reheat"] = self.reheat.value() if self.reheat else None
        return Building(**values)


class LayerTable(FileTable):
    """A layer with one of `conductivity_w_mk`, `resistance_m2k_w` and `cavity`."""

    material: Name = Field(description="name of the material in the report")
    thickness_m: Thickness = Field(description="thickness as built")
    conductivity_w_mk: Conductivity | None = Field(default=None, description="conductivity of the material")
    resistance_m2k_w: Annotated[float, NumberField("m2 K/W", above=0, maximum=20)] | None = Field(
        default=None, description="thermal resistance as the maker states it, instead of the conductivity"
    )
    bridge_fraction: Annotated[float, NumberField("", minimum=0, below=1)] = Field(
        default=Layer.bridge_fraction, description="share of the area that studs or joists occupy"
    )
    bridge_conductivity_w_mk: Conductivity | None = Field(
        default=None, description="conductivity of the studs or joists"
    )
    cavity: Annotated[CavityAir, ChoiceField(get_args(CavityAir))] | None = Field(
        default=None, description="an air cavity; layers outside a well ventilated cavity do not count"
    )
    bridge: Name | None = Field(
        default=None,
        description="name of studs or joists; the same name in two layers means that the same members cross both",
    )
    vent_mm2_m: Annotated[float, NumberField("mm2 a metre", minimum=0, maximum=100000)] | None = Field(
        default=None,
        description="openings of a slightly ventilated cavity, per metre of its length where it is upright and per "
        "m2 where it is level; 1000 is assumed",
    )

    def value(self) -> Layer:
        return Layer(**dict(self))


class WindowTable(FileTable):
    """A window by its glass, frame and spacer."""

    glass_u_w_m2k: UValue = Field(description="U-value at the centre of the glass")
    frame_u_w_m2k: UValue = Field(description="U-value of the frame")
    frame_width_m: Annotated[float, NumberField("metres", minimum=0, maximum=1)] = Field(
        description="width of the frame as seen from inside"
    )
    spacer_psi_w_mk: Annotated[float, NumberField("W/(m K)", minimum=0, maximum=1)] = Field(
        default=WindowParts.spacer_psi_w_mk, description="linear heat loss of the spacer at the glass edge"
    )
    panes_across: Panes = Field(
        default=WindowParts.panes_across, description="number of panes side by side in one opening"
    )
    panes_up: Panes = Field(
        default=WindowParts.panes_up, description="number of panes one above another in one opening"
    )

    def value(self) -> WindowParts:
        return WindowParts(**dict(self))


class BuildUpTable(FileTable):
    """One of `layers`, `u_w_m2k` and `window`."""

    name: Name = Field(description="name used by walls and openings")
    layers: Annotated[list[LayerTable], ListField("layers")] = Field(
        default_factory=list, description="layers from inside to outside, without surface resistances"
    )
    u_w_m2k: UValue | None = Field(default=None, description="U-value as the maker states it")
    window: WindowTable | None = Field(default=None, description="glass, frame and spacer of a window")
    correction_w_m2k: Annotated[float, NumberField("W/(m2 K)", minimum=0, maximum=1)] = Field(
        default=BuildUp.correction_w_m2k, description="supplement to U for gaps and fasteners"
    )
    suspended: YesNo = Field(default=BuildUp.suspended, description="true for a ground floor above a void")
    inner_surface_m2k_w: Surface | None = Field(
        default=None, description="surface resistance inside; if not given, ISO 6946 by the direction of heat flow"
    )
    outer_surface_m2k_w: Surface | None = Field(
        default=None, description="surface resistance on the adjacent side; if not given, ISO 6946"
    )

    def value(self) -> BuildUp:
        return BuildUp(
            name=self.name,
            layers=tuple(layer.value() for layer in self.layers),
            u_w_m2k=self.u_w_m2k,
            window=self.window.value() if self.window else None,
            correction_w_m2k=self.correction_w_m2k,
            suspended=self.suspended,
            inner_surface_m2k_w=self.inner_surface_m2k_w,
            outer_surface_m2k_w=self.outer_surface_m2k_w,
        )
