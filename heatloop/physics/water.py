"""Water and glycol mixtures: density, heat capacity, viscosity, conductivity and enthalpy, from tables.

Source of every number: CoolProp (Bell, Wronski, Quoilin, Lemort, Ind. Eng. Chem. Res. 53, 2014, 2498-2508).
For water that is IAPWS-95 with the IAPWS viscosity (R12-08) and conductivity (R15-11) formulations; for
glycols it is the fit of Melinder (Properties of Secondary Working Fluids for Indirect Systems, IIR 2010).

A solver evaluates properties thousands of times, so each fluid is a table of cubic polynomials on a uniform
temperature grid (cubic splines, 0.2 K apart), evaluated with index arithmetic and numpy alone. Enthalpy is
the exact integral of the tabulated heat capacity, so that cp = dh/dT holds to rounding.

`python -m heatloop.physics.water` writes the table of plain water at 250 kPa that ships beside this module.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property
from math import ceil
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import solve_banded

FloatArray = NDArray[np.float64]
Glycol = Literal["propylene glycol", "ethylene glycol"]

TABLE_PATH = Path(__file__).with_name("water_table.csv")
TABLE_PRESSURE_PA = 250_000.0

_COLUMNS = ("density_kg_m3", "heat_capacity_j_kgk", "viscosity_pa_s", "conductivity_w_mk", "enthalpy_j_kg")
_RHO, _CP, _MU, _K, _H = range(5)
_ENTHALPY_ROWS = [4, 9, 14, 19, 20]
_STEP_K = 0.2
_CHUNK = 4000  # the gathered coefficients of one chunk stay in the cache of a core
_KELVIN = 273.15

# CoolProp name; density of pure glycol at 20 °C, kg/m3 (CRC Handbook of Chemistry and Physics, from memory)
_GLYCOLS = {"propylene glycol": ("MPG", 1036.1), "ethylene glycol": ("MEG", 1113.5)}
_MAX_MASS_FRACTION = 0.6
_WATER_20C_KG_M3 = 998.21  # IAPWS-95, 101.325 kPa


@dataclass(frozen=True, eq=False)
class Fluid:
    """A liquid at one pressure: its name, range and property table.

    Every method takes temperatures in °C (a number or an array of any shape) and returns the same shape.
    Outside `t_min_c` to `t_max_c` evaluations continue along the tangent of the end of the table and do not
    raise, because the iterates of a solver may overshoot: call `check_range` on final results.
    """

    name: str
    pressure_pa: float
    t_min_c: float
    t_max_c: float
    grid_start_c: float
    grid_step_k: float
    coefficients: FloatArray
    """Shape (21, intervals + 2): rows 5 * power + property, for powers 0 to 3 of the fraction of an interval,
    then the fourth power of enthalpy. The first and the last column are the tangents beyond the table."""

    def properties(self, t_c: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
        """Density kg/m3, heat capacity J/(kg K), viscosity Pa s, conductivity W/(m K), enthalpy J/kg.

        At `t_c` °C, each of its shape. One table look-up for all five: the quick way to several.
        """
        t = np.asarray(t_c, dtype=np.float64)
        flat = t.reshape(-1)
        if flat.size <= _CHUNK:
            out = self._evaluate(flat)
        else:
            out = np.empty((5, flat.size))
            for start in range(0, flat.size, _CHUNK):
                out[:, start : start + _CHUNK] = self._evaluate(flat[start : start + _CHUNK])
        rho, cp, mu, k, h = out.reshape((5, *t.shape))
        return rho, cp, mu, k, h

    def density_kg_m3(self, t_c: ArrayLike) -> FloatArray:
        """Density in kg/m3 at `t_c` °C."""
        return self._single(_RHO, t_c)

    def heat_capacity_j_kgk(self, t_c: ArrayLike) -> FloatArray:
        """Heat capacity at constant pressure in J/(kg K) at `t_c` °C."""
        return self._single(_CP, t_c)

    def viscosity_pa_s(self, t_c: ArrayLike) -> FloatArray:
        """Dynamic viscosity in Pa s at `t_c` °C."""
        return self._single(_MU, t_c)

    def conductivity_w_mk(self, t_c: ArrayLike) -> FloatArray:
        """Thermal conductivity in W/(m K) at `t_c` °C."""
        return self._single(_K, t_c)

    def enthalpy_j_kg(self, t_c: ArrayLike) -> FloatArray:
        """Enthalpy in J/kg at `t_c` °C: the integral of the heat capacity, so that cp = dh/dT."""
        return self._single(_H, t_c)

    def density_and_viscosity(self, t_c: ArrayLike) -> FloatArray:
        """Density in kg/m3 and dynamic viscosity in Pa s at `t_c` °C, (2, ...): one look-up for both."""
        return self._two(self._hydraulic, t_c)

    def heat_capacity_and_enthalpy(self, t_c: ArrayLike) -> FloatArray:
        """Heat capacity in J/(kg K) and enthalpy in J/kg at `t_c` °C, (2, ...): one look-up for both."""
        return self._two(self._thermal, t_c)

    @cached_property
    def _hydraulic(self) -> FloatArray:
        """The rows of density and viscosity, (powers, 2, intervals)."""
        return self.coefficients[:20].reshape(4, 5, self.coefficients.shape[1])[:, [_RHO, _MU]]

    @cached_property
    def _thermal(self) -> FloatArray:
        """The rows of heat capacity and enthalpy, (powers, 2, intervals)."""
        rows = self.coefficients[:20].reshape(4, 5, self.coefficients.shape[1])[:, [_CP, _H]]
        fourth = np.zeros((1, *rows.shape[1:]))
        fourth[0, 1] = self.coefficients[20]
        return np.concatenate([rows, fourth])

    def prandtl(self, t_c: ArrayLike) -> FloatArray:
        """Prandtl number cp mu / k at `t_c` °C, dimensionless."""
        _, cp, mu, k, _ = self.properties(t_c)
        return cp * mu / k

    def check_range(self, t_c: ArrayLike) -> None:
        """Raise ValueError if any temperature (°C) is not a number or is outside the range of the fluid."""
        t = np.asarray(t_c, dtype=np.float64).reshape(-1)
        outside = ~((t >= self.t_min_c) & (t <= self.t_max_c))
        if outside.any():
            raise ValueError(
                f"temperature {t[outside][0]:.6g} °C: {self.name} at {self.pressure_pa / 1000:.4g} kPa "
                f"is known from {self.t_min_c:.4g} to {self.t_max_c:.4g} °C"
            )

    def _locate(self, t: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
        """Column of the table and fraction of an interval for each temperature (one dimension)."""
        u = (t - (self.grid_start_c - self.grid_step_k)) * (1.0 / self.grid_step_k)
        index = np.minimum(np.maximum(u, 0.0), self.coefficients.shape[1] - 1.0).astype(np.intp)
        u -= index
        return index, u

    def _evaluate(self, t: FloatArray) -> FloatArray:
        """All five properties, shape (5, temperatures), by Horner's rule on all of them at once."""
        index, u = self._locate(t)
        c = self.coefficients.take(index, axis=1, mode="clip")
        value = c[15:20]
        value[_H] += c[20] * u
        for low in (10, 5, 0):
            value *= u
            value += c[low : low + 5]
        return value

    def _two(self, table: FloatArray, t_c: ArrayLike) -> FloatArray:
        """Two properties, (2, ...), by Horner's rule on both at once."""
        t = np.asarray(t_c, dtype=np.float64)
        index, u = self._locate(t.reshape(-1))
        c = table.take(index, axis=2, mode="clip")
        value = c[-1]
        for lower in c[-2::-1]:
            value *= u
            value += lower
        return np.asarray(value.reshape(2, *t.shape))

    def _single(self, row: int, t_c: ArrayLike) -> FloatArray:
        t = np.asarray(t_c, dtype=np.float64)
        index, u = self._locate(t.reshape(-1))
        value = self.coefficients[15 + row].take(index, mode="clip")
        if row == _H:
            value += self.coefficients[20].take(index, mode="clip") * u
        for low in (10, 5, 0):
            value *= u
            value += self.coefficients[low + row].take(index, mode="clip")
        result: FloatArray = value.reshape(t.shape)[()]
        return result


def plain_water(pressure_pa: float = TABLE_PRESSURE_PA) -> Fluid:
    """Plain water from 0.1 to 110 °C at an absolute pressure of 50 kPa to 2 MPa.

    At 250 kPa the table comes from a file in the package, checked against CoolProp by the tests. Any other
    pressure is tabulated from CoolProp, whose import takes more than a second. Where water boils below
    110.2 °C the range ends 0.2 K under the boiling point.

    Errors: ValueError for a pressure outside the range.

    >>> round(float(plain_water().density_kg_m3(50.0)), 2)
    988.1

    Source: IAPWS-95, R12-08 and R15-11 through CoolProp; the table agrees with it to 1e-9.
    """
    if not 50e3 <= pressure_pa <= 2e6:
        raise ValueError(f"pressure_pa = {pressure_pa:g}: must be 50000 to 2000000 (absolute)")
    if pressure_pa == TABLE_PRESSURE_PA:
        return _packaged_water()
    t_c, values = _water_grid(pressure_pa)
    return _fluid("water", pressure_pa, t_c, values, t_max_c=min(110.0, float(t_c[-1])))


def mixture(kind: Glycol, mass_fraction: float, pressure_pa: float = TABLE_PRESSURE_PA) -> Fluid:
    """Water with glycol, from 1 K above its freezing point to 100 °C.

    `mass_fraction` is kg of glycol per kg of mixture, 0 to 0.6 (for a fraction by volume see
    `mass_fraction_from_volume_fraction`). The mixture is assumed incompressible, so that `pressure_pa` has no effect.
    Enthalpy is zero at the start of the range and the integral of the heat capacity from there: the value of CoolProp
    differs by up to 2e-4 of a difference, because it does not agree with its heat capacity by the work term of an
    incompressible liquid.

    Imports CoolProp, which takes more than a second. Errors: ValueError for an unknown kind or fraction.
    Source: Melinder (IIR 2010) as fitted in CoolProp.

    >>> round(float(mixture("propylene glycol", 0.3).density_kg_m3(20.0)))
    1024
    """
    state, freezing_c = _glycol_state(kind, mass_fraction)

    def at(t_c: float) -> tuple[float, ...]:
        _update(state, pressure_pa, t_c)
        return (*_transport(state), 0.0)

    t_c, values = _tabulate(at, freezing_c + 1.0, 100.0)
    name = f"water with {100 * mass_fraction:.4g} % {kind} by mass"
    return _fluid(name, pressure_pa, t_c, values, t_max_c=100.0)


def freezing_point_c(kind: Glycol, mass_fraction: float) -> float:
    """Temperature in °C at which ice first forms; `mass_fraction` kg of glycol per kg, above 0 to 0.6.

    Errors: ValueError for an unknown kind or fraction. Source: Melinder (IIR 2010) through CoolProp.

    >>> round(freezing_point_c("propylene glycol", 0.3), 1)
    -12.8
    """
    return _glycol_state(kind, mass_fraction)[1]


def mass_fraction_from_volume_fraction(kind: Glycol, volume_fraction: float) -> float:
    """Mass fraction of glycol from the fraction by volume that a container or a refractometer states.

    Convention: volumes of pure glycol and pure water as measured at 20 °C before mixing (they shrink a
    little on mixing), w = phi rho_g / (phi rho_g + (1 - phi) rho_w). Inhibited glycols hold a few per cent of
    water and inhibitor, so a supplier's own table takes precedence. Errors: ValueError outside 0 to 1.
    Source: density at 20 °C 1036.1 (propylene glycol) and 1113.5 kg/m3 (ethylene glycol), CRC Handbook of
    Chemistry and Physics, from memory; water 998.21 kg/m3 by IAPWS-95.

    >>> round(mass_fraction_from_volume_fraction("propylene glycol", 0.3), 3)
    0.308
    """
    _, glycol_kg_m3 = _glycol(kind)
    if not 0.0 <= volume_fraction <= 1.0:
        raise ValueError(f"volume_fraction = {volume_fraction:g}: must be 0 to 1")
    glycol_kg = volume_fraction * glycol_kg_m3
    return glycol_kg / (glycol_kg + (1.0 - volume_fraction) * _WATER_20C_KG_M3)


def write_water_table(path: Path = TABLE_PATH) -> None:
    """Tabulate plain water at 250 kPa from CoolProp; write CSV: temperature_c and the five properties."""
    import CoolProp

    t_c, values = _water_grid(TABLE_PRESSURE_PA)
    lines = [
        f"# water at {TABLE_PRESSURE_PA:.0f} Pa, CoolProp {CoolProp.__version__} (IAPWS-95, R12-08, R15-11)",
        ",".join(("temperature_c", *_COLUMNS)),
    ]
    for t, row in zip(t_c, values, strict=True):
        lines.append(",".join((f"{t:.1f}", *(repr(float(value)) for value in row))))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


@cache
def _packaged_water() -> Fluid:
    table = np.loadtxt(TABLE_PATH, delimiter=",", skiprows=2)
    return _fluid("water", TABLE_PRESSURE_PA, table[:, 0], table[:, 1:], t_max_c=110.0)


def _fluid(name: str, pressure_pa: float, t_c: FloatArray, values: FloatArray, t_max_c: float) -> Fluid:
    """Spline coefficients from `values`, shape (points, 5), at the uniformly spaced `t_c`."""
    step = float(t_c[-1] - t_c[0]) / (t_c.size - 1)
    spline = spline_coefficients(values)  # (power, interval, property)
    table = np.zeros((21, t_c.size + 1))
    for prop in (_RHO, _CP, _MU, _K):
        rows = table[prop:20:5]
        rows[:, 1:-1] = spline[:, :, prop]
        first_slope, last_slope = rows[1, 1], rows[1, -2] + 2 * rows[2, -2] + 3 * rows[3, -2]
        rows[:2, 0] = values[0, prop] - first_slope, first_slope  # meets the table at its right-hand edge
        rows[:2, -1] = values[-1, prop], last_slope
    heat_capacity, enthalpy = table[_CP:20:5], table[_ENTHALPY_ROWS]
    enthalpy[1:] = step * heat_capacity / np.arange(1.0, 5.0)[:, np.newaxis]
    start = np.concatenate(([0.0], np.cumsum(enthalpy[1:].sum(axis=0))[:-1]))
    enthalpy[0] = start - start[1] + values[0, _H]
    table[_ENTHALPY_ROWS] = enthalpy
    table.flags.writeable = False
    return Fluid(name, pressure_pa, float(t_c[0]), t_max_c, float(t_c[0]), step, table)


def spline_coefficients(values: FloatArray) -> FloatArray:
    """Coefficients of the cubic spline (not-a-knot) through `values` (N, K) at 0, 1, 2 and so on, (4, N - 1, K) by
    rising power of the distance from the left end of each interval. N at least 4. de Boor, A Practical Guide to
    Splines, chapter IV; as scipy's `CubicSpline`, which takes long to load.

    >>> [float(rise) for rise in spline_coefficients(np.array([[0.0], [1.0], [2.0], [3.0]]))[1, :, 0].round(9)]
    [1.0, 1.0, 1.0]
    """
    rise = np.diff(values, axis=0)
    band = np.ones((3, values.shape[0]))
    band[1, 1:-1] = 4.0
    band[0, 1] = band[2, -2] = 2.0
    right = np.empty_like(values)
    right[1:-1] = 3.0 * (rise[:-1] + rise[1:])
    right[0], right[-1] = (5.0 * rise[0] + rise[1]) / 2.0, (rise[-2] + 5.0 * rise[-1]) / 2.0
    slope = solve_banded((1, 1), band, right)
    bend = slope[:-1] + slope[1:] - 2.0 * rise
    return np.stack([values[:-1], slope[:-1], rise - slope[:-1] - bend, bend])


def _tabulate(at: Callable[[float], tuple[float, ...]], first_c: float, last_c: float) -> tuple[FloatArray, FloatArray]:
    intervals = ceil((last_c - first_c) / _STEP_K - 1e-9)
    t_c = np.linspace(first_c, last_c, intervals + 1)
    return t_c, np.array([at(float(t)) for t in t_c])


def _water_grid(pressure_pa: float) -> tuple[FloatArray, FloatArray]:
    import CoolProp.CoolProp as coolprop  # here, because it takes more than a second and is seldom needed

    state = coolprop.AbstractState("HEOS", "Water")
    state.update(coolprop.PQ_INPUTS, pressure_pa, 0.0)
    boiling_c = state.T() - _KELVIN

    def at(t_c: float) -> tuple[float, ...]:
        _update(state, pressure_pa, t_c)
        return (*_transport(state), state.hmass())

    return _tabulate(at, 0.1, min(110.1, boiling_c - 0.2))


def _transport(state: Any) -> tuple[float, float, float, float]:
    return state.rhomass(), state.cpmass(), state.viscosity(), state.conductivity()


def _update(state: Any, pressure_pa: float, t_c: float) -> None:
    import CoolProp.CoolProp as coolprop

    state.update(coolprop.PT_INPUTS, pressure_pa, t_c + _KELVIN)


def _glycol(kind: str) -> tuple[str, float]:
    if kind not in _GLYCOLS:
        raise ValueError(f"kind = {kind!r}: must be one of {', '.join(_GLYCOLS)}")
    return _GLYCOLS[kind]


def _glycol_state(kind: str, mass_fraction: float) -> tuple[Any, float]:
    """CoolProp state of a mixture and its freezing point in °C."""
    code, _ = _glycol(kind)
    if not 0.0 < mass_fraction <= _MAX_MASS_FRACTION:
        raise ValueError(f"mass_fraction = {mass_fraction:g}: must be above 0, at most {_MAX_MASS_FRACTION}")
    import CoolProp.CoolProp as coolprop  # here, because it takes more than a second and is seldom needed

    state = coolprop.AbstractState("INCOMP", code)
    state.set_mass_fractions([mass_fraction])
    return state, state.keyed_output(coolprop.iT_freeze) - _KELVIN


if __name__ == "__main__":
    write_water_table()
