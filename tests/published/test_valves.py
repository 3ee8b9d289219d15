"""Valves and fittings against standards and worked examples; sources in data/published/valves.csv."""

import pytest

from heatloop.physics.friction import local_loss_pa
from heatloop.physics.valves import (
    authority,
    kv_from_cv,
    kv_from_pressure_drop,
    valve_drop_for_authority_pa,
    zeta_from_kv,
)
from tests.helpers.published import replayed


def kv_from_units(us_gallon_l, psi_pa):
    """Kv of a valve of Cv 1: a US gallon a minute at 1 psi."""
    return kv_from_pressure_drop(us_gallon_l * 60.0 / 1000.0, psi_pa, 1000.0)


QUANTITIES = {
    "local_loss_pa": local_loss_pa,
    "zeta_from_kv": lambda kv_m3_h, bore_mm: zeta_from_kv(kv_m3_h, bore_mm / 1000),
    "kv_from_cv": kv_from_cv,
    "kv_from_units": kv_from_units,
    "kv_from_pressure_drop": kv_from_pressure_drop,
    "valve_drop_for_authority_pa": valve_drop_for_authority_pa,
    "authority": authority,
}


test_published_row = replayed("valves", __name__, QUANTITIES)


def test_local_loss_follows_the_trends_that_handbooks_share():
    """V5: tables of zeta differ by 30 per cent and more, so only sign and order are asked for.

    The straight way through a converging tee may gain pressure: a negative zeta is a negative loss.
    """
    assert local_loss_pa(-0.3, 988.0, 0.4) == -local_loss_pa(0.3, 988.0, 0.4) < 0.0
    assert local_loss_pa(1.2, 988.0, 0.8) == pytest.approx(4.0 * local_loss_pa(1.2, 988.0, 0.4), rel=1e-12)
    assert local_loss_pa(1.2, 988.0, -0.4) == -local_loss_pa(1.2, 988.0, 0.4)
