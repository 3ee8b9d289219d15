"""Cross-sections of water channels: area, wetted perimeter and the laminar friction constant.

Turbulent friction follows the hydraulic diameter; laminar friction does not, so each shape carries its own
constant f Re (Darcy friction factor times Reynolds number, both on the hydraulic diameter), 64 if round.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi, sqrt, tanh


@dataclass(frozen=True)
class Duct:
    """A cross-section filled with water, the same along its length.

    `area_m2` and `perimeter_m` (the wetted one) in m2 and m; `laminar_f_re` the Darcy friction factor times
    the Reynolds number in laminar flow, dimensionless. ValueError for a value that is not above zero.
    """

    area_m2: float
    perimeter_m: float
    laminar_f_re: float = 64.0

    def __post_init__(self) -> None:
        for name in ("area_m2", "perimeter_m", "laminar_f_re"):
            _positive(name, getattr(self, name))

    @property
    def hydraulic_diameter_m(self) -> float:
        """Four times the area over the wetted perimeter, m: the bore of a round duct."""
        return 4.0 * self.area_m2 / self.perimeter_m

    @property
    def content_l_m(self) -> float:
        """Water held by a metre of the duct, litres per metre."""
        return 1000.0 * self.area_m2


def round_duct(bore_m: float) -> Duct:
    """A round bore; `bore_m` is the inside diameter in m. Laminar f Re = 64 (Hagen-Poiseuille, exact).

    ValueError for a bore that is not above zero.

    >>> round(round_duct(0.0136).content_l_m, 4)
    0.1453
    """
    _positive("bore_m", bore_m)
    return Duct(area_m2=pi * bore_m**2 / 4.0, perimeter_m=pi * bore_m, laminar_f_re=64.0)


def oval_duct(width_m: float, height_m: float) -> Duct:
    """An elliptical bore with inside axes `width_m` and `height_m` in m, either way round.

    Exact for any ellipse: perimeter 4 a E(1 - (b/a)^2) with the complete elliptic integral of the second
    kind; laminar f Re = 8 Dh^2 (a^2 + b^2) / (a b)^2 with semi-axes a and b (Shah and London, Laminar Flow
    Forced Convection in Ducts, 1978, chapter on elliptical ducts). ValueError for an axis not above zero.

    >>> round(oval_duct(0.030, 0.012).area_m2 * 1e6, 1)
    282.7
    """
    _positive("width_m", width_m)
    _positive("height_m", height_m)
    a, b = max(width_m, height_m) / 2.0, min(width_m, height_m) / 2.0
    area_m2 = pi * a * b
    perimeter_m = 4.0 * a * _ellipse_integral(b / a)
    hydraulic_diameter_m = 4.0 * area_m2 / perimeter_m
    laminar_f_re = 8.0 * hydraulic_diameter_m**2 * (a**2 + b**2) / (a * b) ** 2
    return Duct(area_m2, perimeter_m, laminar_f_re)


def _ellipse_integral(ratio: float) -> float:
    """Complete elliptic integral of the second kind of the parameter 1 - ratio^2, by arithmetic and geometric means
    (Abramowitz and Stegun 17.6)."""
    mean, other, power, less = 1.0, ratio, 0.5, 0.5 * (1.0 - ratio**2)
    while abs(mean - other) > 1e-15 * mean:
        difference, mean, other = (mean - other) / 2.0, (mean + other) / 2.0, sqrt(mean * other)
        power *= 2.0
        less += power * difference**2
    return pi / (mean + other) * (1.0 - less)


def rectangular_duct(width_m: float, height_m: float) -> Duct:
    """A rectangular bore with inside sides `width_m` and `height_m` in m, sharp corners, either way round.

    Laminar f Re from the exact series for a rectangle of aspect r = short/long (Shah and London 1978):
    96 / ((1 + r)^2 (1 - 192 r / pi^5 * sum over odd n of tanh(n pi / (2 r)) / n^5)), to 1e-12.
    ValueError for a side that is not above zero.

    >>> round(rectangular_duct(0.030, 0.012).hydraulic_diameter_m * 1000.0, 2)
    17.14
    """
    _positive("width_m", width_m)
    _positive("height_m", height_m)
    r = min(width_m, height_m) / max(width_m, height_m)
    series = sum(tanh(n * pi / (2.0 * r)) / n**5 for n in range(1, 400, 2))
    laminar_f_re = 96.0 / ((1.0 + r) ** 2 * (1.0 - 192.0 * r / pi**5 * series))
    return Duct(width_m * height_m, 2.0 * (width_m + height_m), laminar_f_re)


def _positive(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0.0):
        raise ValueError(f"{name} = {value:g}: must be above 0")
