"""The tables of a survey file that say what the building is: slab, ground, air, build-ups, windows.

The keys are those of :mod:`heatloop.survey.model`; a default is the one given there. What a building
leaves out takes the defaults of the heat loss, which lists them among its assumptions.
"""

from __future__ import annotations

from typing import Annotated, Any, get_args

from pydantic import Field

from heatloop.survey.building import (
    Building,
    BuildUp,
    CavityAir,
    EdgeInsulation,
    Layer,
    Reheat,
    Shielding,
    Underfloor,
    WindowParts,
)
from heatloop.survey.files.catalogue_tables import Conductivity, Name, YesNo
from heatloop.survey.files.fields import Choice, Count, Many, Number, Table

UValue = Annotated[float, Number("W/(m2 K)", above=0, most=10)]
Thickness = Annotated[float, Number("metres", above=0, most=3)]
Surface = Annotated[float, Number("m2 K/W", least=0, most=1)]
Panes = Annotated[int, Count("a whole number of panes", most=50)]


class EdgeInsulationTable(Table):
    """Along the edge of the slab: `width_m` in from it, or `width_m` down where it is upright."""

    width_m: Annotated[float, Number("metres", above=0, most=10)]
    thickness_m: Thickness
    conductivity_w_mk: Conductivity
    upright: YesNo = EdgeInsulation.upright

    def value(self) -> EdgeInsulation:
        return EdgeInsulation(**dict(self))


class UnderfloorTable(Table):
    """The void below suspended ground floors."""

    height_m: Annotated[float, Number("metres", above=0, most=5)] | None = None
    wall_u_w_m2k: UValue | None = None
    vents_m2_m: Annotated[float, Number("m2 of vents a metre", least=0, most=1)] | None = None
    wind_m_s: Annotated[float, Number("m/s", least=0, most=30)] | None = None
    wind_shelter: Annotated[float, Number("", least=0, most=1)] | None = None

    def value(self) -> Underfloor:
        return Underfloor(**dict(self))


class ReheatTable(Table):
    """Heating up in `hours` after a setback by `drop_k`, both whole numbers of the table in EN 12831."""

    hours: Annotated[int, Count("a whole number of hours", most=4)]
    drop_k: Annotated[int, Count("a whole number of kelvin", most=3)]

    def value(self) -> Reheat:
        return Reheat(self.hours, self.drop_k)


class BuildingTable(Table):
    """What the rooms share."""

    slab_area_m2: Annotated[float, Number("square metres", above=0, most=1e5)] | None = None
    slab_exposed_perimeter_m: Annotated[float, Number("metres", least=0, most=1e4)] | None = None
    thermal_bridge_w_m2k: Annotated[float, Number("W/(m2 K)", least=0, most=1)] = Building.thermal_bridge_w_m2k
    wall_thickness_m: Thickness | None = None
    ground_conductivity_w_mk: Conductivity | None = None
    ground_season_factor: Annotated[float, Number("", above=0, most=5)] | None = None
    edge_insulation: EdgeInsulationTable | None = None
    underfloor: UnderfloorTable = Field(default_factory=UnderfloorTable)
    air_wh_m3k: Annotated[float, Number("W h/(m3 K)", above=0, most=1)] | None = None
    n50_h: Annotated[float, Number("air changes an hour at 50 Pa", least=0, most=50)] | None = None
    shielding: Annotated[Shielding, Choice(get_args(Shielding))] | None = None
    reheat: ReheatTable | None = None
    infiltration_share: Annotated[float, Number("a share", least=0, most=1)] | None = None

    def value(self) -> Building:
        given: dict[str, Any] = dict(self)
        given["edge_insulation"] = self.edge_insulation.value() if self.edge_insulation else None
        given["underfloor"] = self.underfloor.value()
        given["reheat"] = self.reheat.value() if self.reheat else None
        return Building(**given)


class LayerTable(Table):
    """`conductivity_w_mk`, `resistance_m2k_w`, or `cavity` of an air layer."""

    material: Name
    thickness_m: Thickness
    conductivity_w_mk: Conductivity | None = None
    resistance_m2k_w: Annotated[float, Number("m2 K/W", above=0, most=20)] | None = None
    bridge_fraction: Annotated[float, Number("", least=0, below=1)] = Layer.bridge_fraction
    bridge_conductivity_w_mk: Conductivity | None = None
    cavity: Annotated[CavityAir, Choice(get_args(CavityAir))] | None = None
    bridge: Name | None = None

    def value(self) -> Layer:
        return Layer(**dict(self))


class WindowTable(Table):
    """A window by its glass, frame and spacer."""

    glass_u_w_m2k: UValue
    frame_u_w_m2k: UValue
    frame_width_m: Annotated[float, Number("metres", least=0, most=1)]
    spacer_psi_w_mk: Annotated[float, Number("W/(m K)", least=0, most=1)] = WindowParts.spacer_psi_w_mk
    panes_across: Panes = WindowParts.panes_across
    panes_up: Panes = WindowParts.panes_up

    def value(self) -> WindowParts:
        return WindowParts(**dict(self))


class BuildUpTable(Table):
    """`layers` from inside to outside, `u_w_m2k` as stated by a maker, or `window` by its parts."""

    name: Name
    layers: Annotated[list[LayerTable], Many("layers")] = Field(default_factory=list)
    u_w_m2k: UValue | None = None
    window: WindowTable | None = None
    correction_w_m2k: Annotated[float, Number("W/(m2 K)", least=0, most=1)] = BuildUp.correction_w_m2k
    suspended: YesNo = BuildUp.suspended
    inner_surface_m2k_w: Surface | None = None
    outer_surface_m2k_w: Surface | None = None

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
