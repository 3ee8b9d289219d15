"""U-values of walls, roofs and intermediate floors: ISO 6946 (edition 2017).

Layers run from inside to outside. A layer is homogeneous, or bridged by a second material over a
fraction of its area, or an air cavity. All resistances in m2 K/W.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

Direction = Literal["horizontal", "up", "down"]

# ISO 6946:2017 table 7, as quoted by BS EN ISO 6946 and the Scottish building standards, annex 6.B
RSI_M2K_W: dict[Direction, float] = {"horizontal": 0.13, "up": 0.10, "down": 0.17}
RSE_M2K_W = 0.04

# ISO 6946:2017 table 8, unventilated cavities with ordinary (emissive) surfaces; from memory
CAVITY_THICKNESS_M = (0.0, 0.005, 0.007, 0.010, 0.015, 0.025, 0.050, 0.100, 0.300)
CAVITY_R_M2K_W: dict[Direction, tuple[float, ...]] = {
    "up": (0.0, 0.11, 0.13, 0.15, 0.16, 0.16, 0.16, 0.16, 0.16),
    "horizontal": (0.0, 0.11, 0.13, 0.15, 0.17, 0.18, 0.18, 0.18, 0.18),
    "down": (0.0, 0.11, 0.13, 0.15, 0.17, 0.19, 0.21, 0.22, 0.23),
}

# ISO 6946:2017 6.9: openings of a slightly ventilated cavity, mm2 per metre of length (upright) or per m2 (level)
SLIGHTLY_VENTILATED_MM2 = (500.0, 1500.0)

# ISO 6946:2017 6.7.2: the limits method holds while the upper limit is at most 1.5 times the lower
BRIDGING_RATIO_LIMIT = 1.5


@dataclass(frozen=True)
class LayerResistance:
    """One layer: its resistance, and that of the bridge over `bridge_fraction` of its area.

    Layers whose `bridge` names agree are crossed by the same members (a stud through insulation
    and cavity); unnamed bridges are independent of each other.
    """

    clear_m2k_w: float
    bridge_m2k_w: float | None = None
    bridge_fraction: float = 0.0
    bridge: str | None = None


@dataclass(frozen=True)
class ThermalResistance:
    """Total resistance, surfaces included, with its upper and lower limits (equal if unbridged)."""

    total_m2k_w: float
    upper_m2k_w: float
    lower_m2k_w: float

    @property
    def u_w_m2k(self) -> float:
        """Thermal transmittance, W/(m2 K)."""
        return 1.0 / self.total_m2k_w

    @property
    def error_bound(self) -> float:
        """Largest relative error, (upper - lower) / (2 R): ISO 6946:2017 6.7.2.5."""
        return (self.upper_m2k_w - self.lower_m2k_w) / (2.0 * self.total_m2k_w)

    @property
    def within_method(self) -> bool:
        """Whether the limits lie close enough together for the method to be used."""
        return self.upper_m2k_w <= BRIDGING_RATIO_LIMIT * self.lower_m2k_w


def layer_resistance_m2k_w(thickness_m: float, conductivity_w_mk: float) -> float:
    """R = d / lambda, m2 K/W, of a homogeneous layer (ISO 6946:2017 6.7.1.1).

    Raises ValueError unless thickness and conductivity (W/(m K)) are above zero.

    >>> round(layer_resistance_m2k_w(0.1025, 0.77), 3)
    0.133
    """
    if not thickness_m > 0.0:
        raise ValueError(f"thickness_m {thickness_m:g}, must be above 0")
    if not conductivity_w_mk > 0.0:
        raise ValueError(f"conductivity_w_mk {conductivity_w_mk:g}, must be above 0")
    return thickness_m / conductivity_w_mk


def cavity_resistance_m2k_w(thickness_m: float, direction: Direction) -> float:
    """Resistance of an unventilated air cavity, m2 K/W, linear between the rows of ISO 6946:2017 table 8.

    Range 0 to 0.3 m thick, emissive surfaces; ValueError beyond. For a slightly ventilated cavity see
    `slightly_ventilated`; from a well ventilated one outwards the caller leaves out all layers.

    >>> cavity_resistance_m2k_w(0.050, "horizontal")
    0.18
    """
    if not 0.0 <= thickness_m <= CAVITY_THICKNESS_M[-1]:
        raise ValueError(f"cavity thickness_m {thickness_m:g}, must be 0 to {CAVITY_THICKNESS_M[-1]:g}")
    return float(np.interp(thickness_m, CAVITY_THICKNESS_M, CAVITY_R_M2K_W[direction]))


def total_resistance(layers: Sequence[LayerResistance], rsi_m2k_w: float, rse_m2k_w: float) -> ThermalResistance:
    """Total resistance of layers between two surface resistances, m2 K/W.

    Mean of the upper limit (heat straight through each section, sections in parallel) and the lower
    limit (each layer at one temperature on either face): ISO 6946:2017 6.7.2.

    Raises ValueError for a bridge fraction outside 0 to 1, bridges of one name that differ in
    fraction, or resistances below zero.

    >>> wool = LayerResistance(3.333, bridge_m2k_w=1.077, bridge_fraction=0.095)
    >>> round(total_resistance([wool, LayerResistance(0.1)], 0.13, 0.04).u_w_m2k, 3)
    0.325
    """
    fractions: dict[str, float] = {}
    for number, layer in enumerate(layers):
        _check(layer)
        if layer.bridge_m2k_w is not None and layer.bridge_fraction > 0.0:
            name = layer.bridge or f"\0{number}"
            if fractions.setdefault(name, layer.bridge_fraction) != layer.bridge_fraction:
                raise ValueError(
                    f"bridge {name!r} has fractions {fractions[name]:g} and {layer.bridge_fraction:g}, "
                    "must be one fraction for one bridge"
                )
    surfaces = rsi_m2k_w + rse_m2k_w
    conductance = 0.0
    for share, bridged in _sections(fractions):
        path = sum(_along(number, layer, bridged) for number, layer in enumerate(layers))
        conductance += share / (surfaces + path)
    upper = 1.0 / conductance
    lower = surfaces + sum(_parallel(layer) for layer in layers)
    return ThermalResistance(0.5 * (upper + lower), upper, lower)


def slightly_ventilated(
    still: ThermalResistance, ventilated: ThermalResistance, openings_mm2: float
) -> ThermalResistance:
    """Total resistance of a component with a slightly ventilated cavity, between still and well ventilated air.

    `openings_mm2` is the area of the openings to the outdoors, mm2 per metre of length of an upright cavity and
    per m2 of a level one: still up to 500, well ventilated from 1500, between them
    R = (1500 - Av)/1000 R_still + (Av - 500)/1000 R_ventilated (ISO 6946:2017 6.9.3, as quoted in a
    handbook of building physics). ValueError for an area below 0.

    >>> still, open_ = ThermalResistance(2.4864, 2.4864, 2.4864), ThermalResistance(2.26, 2.26, 2.26)
    >>> round(slightly_ventilated(still, open_, 1000.0).total_m2k_w, 4)
    2.3732
    """
    if not openings_mm2 >= 0.0:
        raise ValueError(f"openings_mm2 {openings_mm2:g}, must be 0 or above")
    minimum, maximum = SLIGHTLY_VENTILATED_MM2
    share = min(max((openings_mm2 - minimum) / (maximum - minimum), 0.0), 1.0)
    return ThermalResistance(
        (1.0 - share) * still.total_m2k_w + share * ventilated.total_m2k_w,
        (1.0 - share) * still.upper_m2k_w + share * ventilated.upper_m2k_w,
        (1.0 - share) * still.lower_m2k_w + share * ventilated.lower_m2k_w,
    )


def air_gap_correction_w_m2k(level: Literal[0, 1, 2], insulation_m2k_w: float, total_m2k_w: float) -> float:
    """Addition to U for gaps in insulation, W/(m2 K): ISO 6946:2017 annex F.2 (values from memory).

    Level 0 no gaps, 1 gaps that bridge the insulation, 2 gaps with air moving on its warm side.
    """
    return (0.0, 0.01, 0.04)[level] * (insulation_m2k_w / total_m2k_w) ** 2


@dataclass(frozen=True)
class Fasteners:
    """Fasteners through insulation: conductivity, section of one, their number, and how far each goes into the
    insulation (None: right through)."""

    conductivity_w_mk: float
    section_m2: float
    per_m2: float
    depth_m: float | None = None


def fastener_correction_w_m2k(
    fasteners: Fasteners, insulation_m: float, insulation_m2k_w: float, total_m2k_w: float
) -> float:
    """Addition to U for fasteners through insulation, W/(m2 K): ISO 6946:2017 annex F.3 (from memory).

    Of insulation `insulation_m` thick, its resistance and that of the whole component.
    """
    depth = insulation_m if fasteners.depth_m is None else fasteners.depth_m
    alpha = 0.8 * depth / insulation_m
    metal = alpha * fasteners.conductivity_w_mk * fasteners.section_m2 * fasteners.per_m2
    return metal / insulation_m * (insulation_m2k_w / total_m2k_w) ** 2


def _check(layer: LayerResistance) -> None:
    if layer.clear_m2k_w < 0.0:
        raise ValueError(f"resistance {layer.clear_m2k_w:g} m2K/W, must be 0 or above")
    if not 0.0 <= layer.bridge_fraction <= 1.0:
        raise ValueError(f"bridge_fraction {layer.bridge_fraction:g}, must be 0 to 1")
    if layer.bridge_fraction > 0.0 and (layer.bridge_m2k_w is None or not layer.bridge_m2k_w > 0.0):
        raise ValueError("a bridge_fraction without the bridge's resistance, must have one above 0")


def _sections(fractions: dict[str, float]) -> list[tuple[float, frozenset[str]]]:
    """Area share of every combination of bridges, with the names of those it crosses."""
    sections: list[tuple[float, frozenset[str]]] = [(1.0, frozenset())]
    for name, fraction in fractions.items():
        sections = [(share * (1.0 - fraction), crossed) for share, crossed in sections] + [
            (share * fraction, crossed | {name}) for share, crossed in sections
        ]
    return [section for section in sections if section[0] > 0.0]


def _along(number: int, layer: LayerResistance, bridged: frozenset[str]) -> float:
    if layer.bridge_m2k_w is not None and (layer.bridge or f"\0{number}") in bridged:
        return layer.bridge_m2k_w
    return layer.clear_m2k_w


def _parallel(layer: LayerResistance) -> float:
    if layer.bridge_m2k_w is None or layer.bridge_fraction == 0.0:
        return layer.clear_m2k_w
    if layer.clear_m2k_w == 0.0:
        return 0.0
    return 1.0 / ((1.0 - layer.bridge_fraction) / layer.clear_m2k_w + layer.bridge_fraction / layer.bridge_m2k_w)
