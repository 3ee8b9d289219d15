"""Draught, radiant asymmetry and warm surfaces against published values (data/published/comfort.csv)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.optimize import brentq

from heatloop.physics import comfort
from tests.helpers.published import replayed


def _velocity_at_20(**i: Any) -> float:
    air_c, turbulence = i["air"], i["turbulence"]
    return float(brentq(lambda v: comfort.draught_rate_percent(air_c, v, turbulence) - 20.0, 0.06, 0.5))


def _asymmetry(**i: Any) -> float:
    kinds: dict[str, comfort.AsymmetryKind] = {
        "cool_wall": "cool wall",
        "cool_ceiling": "cool ceiling",
        "warm_wall": "warm wall",
    }
    return comfort.asymmetry_dissatisfied_percent(i["kelvin"], kinds[i["kind"]])


def _touch(**i: Any) -> float:
    return next(limit.limit_c for limit in comfort.TOUCH_LIMITS if i["who"] in limit.what)


QUANTITIES: dict[str, Callable[..., float]] = {
    "downdraught": lambda **i: comfort.downdraught_velocity_m_s(i["height"], i["excess"], i["distance"]),
    "draught_rate": lambda **i: comfort.draught_rate_percent(i["air"], i["velocity"], i["turbulence"]),
    "glazing_loss": lambda **i: comfort.glazing_loss_w_m(i["u"], i["height"], i["excess"]),
    "velocity_at_20": _velocity_at_20,
    "asymmetry": _asymmetry,
    "corner_factor": lambda **i: comfort.pane_view_factor(2 * i["x"], 2 * i["y"], 1.0) / 4.0,
    "touch": _touch,
    "burn": lambda **i: comfort.burn_threshold_c(i["seconds"]),
}


test_published_row = replayed("comfort", __name__, QUANTITIES)


def test_pane_factor_is_the_integral_over_the_pane() -> None:
    """Second way: cos cos / (pi r2) integrated over 1.5 by 2.1 m seen from 1.2 m."""
    distance = 1.2
    integral, _ = dblquad(
        lambda y, x: distance**2 / (np.pi * (x * x + y * y + distance**2) ** 2), -0.75, 0.75, -1.05, 1.05
    )
    assert comfort.pane_view_factor(1.5, 2.1, distance) == pytest.approx(integral, rel=1e-8)


def test_pane_factor_nears_one_close_by_and_nothing_far_off() -> None:
    assert comfort.pane_view_factor(2.0, 2.0, 1e-4) == pytest.approx(1.0, abs=1e-3)
    assert comfort.pane_view_factor(2.0, 2.0, 1e3) == pytest.approx(4.0 / (np.pi * 1e6), rel=1e-3)


def test_asymmetry_is_nearly_factor_times_difference() -> None:
    """For small differences the plane radiant temperature is linear in the factor (ISO 7726)."""
    assert comfort.radiant_asymmetry_k(0.4, 14.0, 20.0) == pytest.approx(0.4 * 6.0, rel=0.02)
    assert comfort.radiant_asymmetry_k(1.0, 14.0, 20.0) == pytest.approx(6.0, rel=1e-9)


def test_glass_temperature_by_hand() -> None:
    """Room 20, outdoors -5, U 1.2: 20 - 1.2 x 0.13 x 25."""
    assert comfort.glass_inner_c(20.0, -5.0, 1.2) == pytest.approx(16.1)


def test_bounds() -> None:
    assert comfort.draught_rate_percent(15.0, 1.5, 60.0) == 100.0
    assert comfort.draught_rate_percent(22.0, 0.02) == 0.0
    assert comfort.burn_threshold_c(1e6) == 43.0
    with pytest.raises(ValueError, match="34"):
        comfort.draught_rate_percent(35.0, 0.2)
    with pytest.raises(ValueError, match="60 s"):
        comfort.burn_threshold_c(5.0)
    with pytest.raises(ValueError, match="at most 15"):
        comfort.asymmetry_dissatisfied_percent(16.0, "cool wall")
