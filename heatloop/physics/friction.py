"""Friction of water in ducts: Darcy-Weisbach, laminar, bridged and turbulent, for one value or many.

    dp/dx = f / Dh * rho v^2 / 2

Skirting loops often have flow between laminar and turbulent. With a friction factor that is not continuous there, one
pressure drop can belong to several flows, and a network has no unique solution. The range between Reynolds 2000 and
4000 is therefore interpolated by a published cubic: the pressure drop is continuous and always rises with flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatloop.physics.ducts import Duct

FloatArray = NDArray[np.float64]

MAX_RELATIVE_ROUGHNESS = 0.05
"""Largest roughness over hydraulic diameter for which the friction of turbulent flow is given."""

LAMINAR_END_RE = 2000.0
TURBULENT_START_RE = 4000.0
"""Range of the interpolation of the friction factor; that of the Nusselt number is different."""

_NEWTON_STEPS = 8
"""Steps after which Colebrook's equation is solved to rounding, from Re 1 on."""

_KNOTS_PER_OCTAVE = 64
_OCTAVES = 9  # from Re 2000 to 1.024e6
_INTERVALS = _KNOTS_PER_OCTAVE * _OCTAVES
_COLUMNS = _INTERVALS + 2  # one more at each end: laminar below, the last slope above
_LN_STEP = log(2.0) / _KNOTS_PER_OCTAVE
_LN_ORIGIN = log(LAMINAR_END_RE) - _LN_STEP
_MIN_RE = 1e-30
_CHUNK = 8000  # the gathered coefficients of one chunk stay in the cache of a core


def reynolds(
    mass_flow_kg_s: ArrayLike, hydraulic_diameter_m: ArrayLike, area_m2: ArrayLike, viscosity_pa_s: ArrayLike
) -> Any:
    """Reynolds number on the hydraulic diameter, m Dh / (A mu), with the sign of the flow; broadcasts.

    >>> round(float(reynolds(0.03, 0.013, 1.327e-4, 0.001)))
    2939
    """
    return np.asarray(mass_flow_kg_s) * hydraulic_diameter_m / (np.asarray(area_m2) * viscosity_pa_s)


def darcy_friction_factor(re: ArrayLike, relative_roughness: ArrayLike, laminar_f_re: ArrayLike = 64.0) -> Any:
    """Darcy friction factor at Reynolds number `re` (above 0), a float or an array by broadcasting.

    `relative_roughness` is roughness over hydraulic diameter, 0 to 0.05; `laminar_f_re` the constant of the
    duct (64 for a round bore).

    - to Re 2000: laminar_f_re / Re, exact;
    - from Re 4000: Colebrook (1939), solved to rounding;
    - between: the cubic in Re that meets value and slope of f at both ends. This is the interpolation of
      Dunlop (WADI Users Manual, 1991), documented in the EPANET 2 manual. Its ends here are Colebrook and the
      laminar constant of the duct, in place of the Swamee-Jain approximation and 64. There are no agreed
      values in this range: only continuity and a drop that rises with flow are certain.

    Errors: ValueError for a Reynolds number or a constant not above 0, or a roughness outside 0 to 0.05.

    >>> round(darcy_friction_factor(1e5, 1e-4), 9)
    0.018513866
    """
    numbers = [np.asarray(value, dtype=np.float64) for value in (re, relative_roughness, laminar_f_re)]
    shape = np.broadcast_shapes(*(number.shape for number in numbers))
    re_, roughness, f_re = (np.broadcast_to(number, shape).reshape(-1) for number in numbers)
    _check("re", re_, re_ > 0.0, "above 0")
    _check_duct(roughness, f_re)
    f = np.array([_factor(*row) for row in zip(re_.tolist(), roughness.tolist(), f_re.tolist(), strict=True)])
    return float(f[0]) if shape == () else f.reshape(shape)


@dataclass(frozen=True, eq=False)
class FrictionTable:
    """The friction curves of several ducts, for arrays of Reynolds numbers: see `friction_table`."""

    relative_roughness: tuple[float, ...]
    laminar_f_re: tuple[float, ...]
    coefficients: FloatArray
    """Shape (4, ducts * 578): powers 0 to 3 of the fraction of an interval, for ln f against ln Re."""

    def with_ducts(self, ducts: Sequence[tuple[float, float]]) -> FrictionTable:
        """The table with the curves of these ducts added; existing curves are kept.

        (relative roughness, laminar constant) of each duct.
        """
        known = set(self.ducts)
        more = [duct for duct in dict.fromkeys(ducts) if duct not in known]
        if not more:
            return self
        new = friction_table(*zip(*more, strict=True))
        coefficients = np.concatenate([self.coefficients, new.coefficients], axis=1)
        coefficients.flags.writeable = False
        roughness = self.relative_roughness + new.relative_roughness
        return FrictionTable(roughness, self.laminar_f_re + new.laminar_f_re, coefficients)

    @property
    def ducts(self) -> tuple[tuple[float, float], ...]:
        """Relative roughness and laminar constant of each duct, in the order of the curves."""
        return tuple(zip(self.relative_roughness, self.laminar_f_re, strict=True))

    def factor_and_slope(self, re: ArrayLike, which: ArrayLike = 0) -> tuple[FloatArray, FloatArray]:
        """Darcy friction factor f and d ln f / d ln Re, both of the broadcast shape of `re` and `which`.

        `re` is the Reynolds number (0 or above, without the sign of the flow), `which` the index of the duct.
        The laminar branch is laminar_f_re / Re to rounding with slope -1; a Reynolds number under 1e-30, zero
        included, counts as 1e-30, so that f v^2 is 0 and not undefined without flow. Above Re 1e6 the curve
        continues along its last slope.
        """
        re_ = np.asarray(re, dtype=np.float64)
        duct = np.asarray(which)
        if re_.shape != duct.shape and duct.ndim > 0:
            re_, duct = np.broadcast_arrays(re_, duct)
        place, base = self.place(np.maximum(re_, _MIN_RE).reshape(-1), duct.reshape(-1) if duct.ndim else duct)
        f, slope = self.at(place, base)
        return f.reshape(re_.shape)[()], slope.reshape(re_.shape)[()]

    def place(self, re: FloatArray, which: NDArray[np.intp]) -> tuple[FloatArray, NDArray[np.intp]]:
        """Positions in the table, in intervals, of Reynolds numbers above 0, and the start of the curve of each.

        Re times any number is `intervals(number)` further on. For :meth:`at`.
        """
        return (np.log(re) - _LN_ORIGIN) * (1.0 / _LN_STEP), which * _COLUMNS

    @staticmethod
    def intervals(ratio: FloatArray) -> FloatArray:
        """Number of intervals of the table between a Reynolds number and a multiple of it."""
        return np.asarray(np.log(ratio) * (1.0 / _LN_STEP))

    def at(self, place: FloatArray, base: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
        """Factor and slope as of `factor_and_slope`, by places in the table; uses up `place`."""
        if place.size <= _CHUNK:
            return self._evaluate(place, base)
        flat, f, slope = place.reshape(-1), np.empty(place.shape), np.empty(place.shape)
        first = np.broadcast_to(base, place.shape).reshape(-1)
        for start in range(0, flat.size, _CHUNK):
            part = slice(start, start + _CHUNK)
            f.reshape(-1)[part], slope.reshape(-1)[part] = self._evaluate(flat[part], first[part])
        return f, slope

    def _evaluate(self, u: FloatArray, base: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
        index = np.minimum(np.maximum(u, 0.0), _INTERVALS + 1.0).astype(np.intp)
        u -= index
        index += base
        value, c1, c2, c3 = self.coefficients.take(index, axis=1, mode="clip")
        c3 *= u
        c2 += c3
        c3 += c2
        c3 += c2  # now 2 c2 + 3 c3 u: the slope is c1 + u times this
        c3 *= u
        c3 += c1
        c3 *= 1.0 / _LN_STEP
        c2 *= u
        c2 += c1
        c2 *= u
        value += c2
        return np.exp(value, out=value), c3


NO_CURVES = FrictionTable((), (), np.zeros((4, 0)))
"""A table to begin with."""


def colebrook_friction_factor(re: ArrayLike, relative_roughness: ArrayLike) -> Any:
    """Darcy friction factor of turbulent flow by Colebrook's equation alone, whatever the Reynolds number.

    Parameters
    ----------
    re : array_like
        Reynolds number, above 0.
    relative_roughness : array_like
        Roughness over hydraulic diameter, from 0.

    Returns
    -------
    float or numpy.ndarray
        Friction factor, of the shape of `re`.

    See Also
    --------
    darcy_friction_factor : Friction factor of laminar, transitional and turbulent flow.

    References
    ----------
    .. [1] C. F. Colebrook, Turbulent flow in pipes, Journal of the Institution of Civil Engineers 11 (1939).

    Examples
    --------
    >>> round(colebrook_friction_factor(10000.0, 0.0), 4)
    0.0309
    """
    numbers = np.asarray(re, dtype=np.float64)
    rough, smooth = np.asarray(relative_roughness) / 3.7, 2.51 / numbers
    x = np.maximum(-1.8 * np.log10(rough**1.11 + 6.9 / numbers), 0.1)  # 1 / sqrt(f), to begin with by Haaland's formula
    for _ in range(_NEWTON_STEPS):
        inside = rough + smooth * x
        step = (x + 2.0 * np.log10(inside)) / (1.0 + 2.0 / log(10.0) * smooth / inside)
        x = np.maximum(x - step, 0.25 * x)
    factor = 1.0 / (x * x)
    return float(factor) if factor.ndim == 0 else factor


def friction_table(relative_roughness: ArrayLike, laminar_f_re: ArrayLike) -> FrictionTable:
    """Tabulate `darcy_friction_factor` for ducts with these relative roughnesses and laminar constants.

    One entry per duct in each argument (they broadcast, to one dimension). The table is a cubic in ln Re for
    ln f between knots 64 to the octave, with value and slope of the formula at each, from Re 2000 to 1.02e6;
    Re 2000 and 4000 are knots, since the curvature jumps there. Against the formula: 1e-9 above
    Re 4000, 1e-7 between, rounding below 2000.

    Errors: ValueError for a roughness outside 0 to 0.05 or a constant not above 0, and where the pressure
    drop would not rise with flow at least in proportion (2 + d ln f / d ln Re under 1): Newton's method on a
    network of such ducts would not be safe. That needs a constant above 125; parallel plates have 96.

    >>> factor, _ = friction_table([0.0], [64.0]).factor_and_slope([1000.0])
    >>> round(float(factor[0]), 6)
    0.064
    """
    roughness, f_re = np.broadcast_arrays(
        np.atleast_1d(np.asarray(relative_roughness, dtype=np.float64)),
        np.atleast_1d(np.asarray(laminar_f_re, dtype=np.float64)),
    )
    _check_duct(roughness, f_re)
    ducts = tuple(roughness.tolist()), tuple(f_re.tolist())
    coefficients = np.concatenate([_curve(*duct) for duct in zip(*ducts, strict=True)], axis=1)
    coefficients.flags.writeable = False
    return FrictionTable(*ducts, coefficients)


def pressure_gradient_pa_m(
    mass_flow_kg_s: ArrayLike,
    duct: Duct,
    roughness_m: float,
    density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Any:
    """Friction drop of a straight duct in Pa/m with the sign of the flow; broadcasts; zero without flow.

    Darcy-Weisbach with `darcy_friction_factor`; `roughness_m` in m. Sources and errors as there.

    >>> from heatloop.physics.ducts import round_duct
    >>> round(pressure_gradient_pa_m(0.03, round_duct(0.013), 1.5e-6, 998.0, 0.001), 1)
    63.2
    """
    diameter_m = duct.hydraulic_diameter_m
    flow, density = np.asarray(mass_flow_kg_s, dtype=np.float64), np.asarray(density_kg_m3, dtype=np.float64)
    velocity_m_s = flow / (density * duct.area_m2)
    re = np.maximum(np.abs(reynolds(flow, diameter_m, duct.area_m2, viscosity_pa_s)), _MIN_RE)
    f = darcy_friction_factor(re, roughness_m / diameter_m, duct.laminar_f_re)
    gradient = f / diameter_m * density * velocity_m_s * np.abs(velocity_m_s) / 2.0
    return float(gradient) if np.ndim(gradient) == 0 else gradient


def local_loss_pa(zeta: ArrayLike, density_kg_m3: ArrayLike, velocity_m_s: ArrayLike) -> Any:
    """Loss of a fitting in Pa, zeta rho v^2 / 2 with the sign of the velocity; broadcasts.

    `zeta` is dimensionless and referred to the velocity given; it may be negative (the straight way through a
    converging tee). Tables of zeta differ between handbooks: the source of a zeta
    belongs in the catalogue beside it. Definition: any handbook of hydraulics, such as Idelchik.

    >>> float(local_loss_pa(2.0, 1000.0, 0.5))
    250.0
    """
    velocity = np.asarray(velocity_m_s, dtype=np.float64)
    loss = np.asarray(zeta) * np.asarray(density_kg_m3) * velocity * np.abs(velocity) / 2.0
    return float(loss) if np.ndim(loss) == 0 else loss


def _factor(re: float, relative_roughness: float, laminar_f_re: float) -> float:
    if re <= LAMINAR_END_RE:
        return laminar_f_re / re
    if re >= TURBULENT_START_RE:
        return float(colebrook_friction_factor(re, relative_roughness))
    t = re / LAMINAR_END_RE - 1.0
    c0, c1, c2, c3 = _bridge(relative_roughness, laminar_f_re)
    return c0 + t * (c1 + t * (c2 + t * c3))


def _bridge(relative_roughness: float, laminar_f_re: float) -> tuple[float, float, float, float]:
    """Powers 0 to 3 of t = Re/2000 - 1 for f from Re 2000 to 4000: value and slope of f met at both ends."""
    f0 = laminar_f_re / LAMINAR_END_RE
    f1 = float(colebrook_friction_factor(TURBULENT_START_RE, relative_roughness))
    slope0 = -f0
    slope1 = f1 * _colebrook_slope(TURBULENT_START_RE, relative_roughness, f1) / 2.0
    return f0, slope0, 3.0 * (f1 - f0) - 2.0 * slope0 - slope1, 2.0 * (f0 - f1) + slope0 + slope1


def _colebrook_slope(re: Any, relative_roughness: float, f: Any) -> Any:
    """d ln f / d ln Re along Colebrook's equation, by implicit differentiation; numbers or arrays."""
    x = 1.0 / np.sqrt(f)
    b = 2.0 / log(10.0) * 2.51 / (relative_roughness / 3.7 * re + 2.51 * x)
    return -2.0 * b / (1.0 + b)


def _curve(relative_roughness: float, laminar_f_re: float) -> FloatArray:
    """Coefficients of one duct, shape (4, 578): laminar, 576 Hermite intervals, the last slope."""
    octave = np.arange(_INTERVALS + 1) / _KNOTS_PER_OCTAVE
    re = LAMINAR_END_RE * 2.0**octave
    bridged, turbulent = slice(0, _KNOTS_PER_OCTAVE), slice(_KNOTS_PER_OCTAVE, None)
    f, slope = np.empty(re.size), np.empty(re.size)
    t = re[bridged] / LAMINAR_END_RE - 1.0
    c0, c1, c2, c3 = _bridge(relative_roughness, laminar_f_re)
    f[bridged] = c0 + t * (c1 + t * (c2 + t * c3))
    slope[bridged] = (c1 + t * (2.0 * c2 + t * 3.0 * c3)) * (t + 1.0) / f[bridged]
    f[turbulent] = colebrook_friction_factor(re[turbulent], relative_roughness)
    slope[turbulent] = _colebrook_slope(re[turbulent], relative_roughness, f[turbulent])

    ln_f, rise = np.log(f), slope * _LN_STEP
    curve = np.zeros((4, _COLUMNS))
    curve[:2, 0] = log(laminar_f_re) - _LN_ORIGIN, -_LN_STEP
    curve[0, 1:], curve[1, 1:] = ln_f, rise
    step = np.diff(ln_f)
    curve[2, 1:-1] = 3.0 * step - 2.0 * rise[:-1] - rise[1:]
    curve[3, 1:-1] = rise[:-1] + rise[1:] - 2.0 * step
    _check_rising(curve, relative_roughness, laminar_f_re)
    return curve


def _check_rising(curve: FloatArray, relative_roughness: float, laminar_f_re: float) -> None:
    """Check that the pressure drop rises with flow.

    The smallest slope of an interval is at an end or at an extremum of its slope.
    """
    _, c1, c2, c3 = curve
    with np.errstate(divide="ignore", invalid="ignore"):
        turning = np.where(c3 != 0.0, np.clip(-c2 / (3.0 * c3), 0.0, 1.0), 0.0)
    slopes = [(c1 + u * (2.0 * c2 + u * 3.0 * c3)) / _LN_STEP for u in (0.0, turning, 1.0)]
    minimum = 2.0 + float(np.min(slopes))
    if not minimum >= 1.0 - 1e-9:
        raise ValueError(
            f"laminar_f_re = {laminar_f_re:g} with relative_roughness = {relative_roughness:g}: the drop "
            f"rises with flow to the power {minimum:.4g} in places, must be at least 1"
        )


def _check_duct(relative_roughness: FloatArray, laminar_f_re: FloatArray) -> None:
    fits = (relative_roughness >= 0.0) & (relative_roughness <= MAX_RELATIVE_ROUGHNESS)
    _check("relative_roughness", relative_roughness, fits, "0 to 0.05")
    _check("laminar_f_re", laminar_f_re, laminar_f_re > 0.0, "above 0")


def _check(name: str, values: FloatArray, fits: NDArray[np.bool_], required: str) -> None:
    fits = fits & np.isfinite(values)
    if not fits.all():
        raise ValueError(f"{name} = {values[~fits][0]:g}: must be {required}")
