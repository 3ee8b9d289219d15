"""Valves: Kv, setting, zeta and authority there and back, and the nearest setting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatloop.physics.ducts import round_duct
from heatloop.physics.friction import (
    local_loss_pa,
)
from heatloop.physics.valves import (
    authority,
    flow_from_pressure_drop_m3_h,
    kv_at_setting,
    kv_from_pressure_drop,
    kv_from_zeta,
    nearest_setting,
    pressure_drop_from_kv_pa,
    setting_for_kv,
    valve_drop_for_authority_pa,
    zeta_from_kv,
)

LOCKSHIELD = [0.10, 0.22, 0.40, 0.65, 0.95, 1.30]
kv = st.floats(0.02, 500.0)
density = st.floats(900.0, 1100.0)
curves = st.lists(st.floats(1.02, 3.0), min_size=0, max_size=8).map(
    lambda ratios: (0.05 * np.cumprod([1.0, *ratios])).tolist()
)


def test_authority_of_no_drop_on_one_side_and_none_on_both() -> None:
    assert (authority(0.0, 5.0), authority(5.0, 0.0), authority(2.0, 6.0)) == (0.0, 1.0, 0.25)
    for valve, rest in ((-1.0, 5.0), (5.0, -1.0), (0.0, 0.0)):
        with pytest.raises(ValueError, match="must be"):
            authority(valve, rest)


@given(kv=kv, drop_pa=st.floats(1.0, 1e6), density=density)
def test_kv_flow_and_drop_go_round(kv, drop_pa, density):
    flow = flow_from_pressure_drop_m3_h(drop_pa, kv, density)
    assert pressure_drop_from_kv_pa(flow, kv, density) == pytest.approx(drop_pa, rel=1e-12)
    assert kv_from_pressure_drop(flow, drop_pa, density) == pytest.approx(kv, rel=1e-12)
    assert flow_from_pressure_drop_m3_h(-drop_pa, kv, density) == -flow
    assert pressure_drop_from_kv_pa(-flow, kv, density) == -pressure_drop_from_kv_pa(flow, kv, density)


@given(kv=kv, bore_m=st.floats(0.005, 0.2), flow=st.floats(0.01, 10.0), density=density)
def test_zeta_and_kv_give_the_same_drop(kv, bore_m, flow, density):
    zeta = zeta_from_kv(kv, bore_m)
    velocity = flow / 3600.0 / round_duct(bore_m).area_m2
    assert kv_from_zeta(zeta, bore_m) == pytest.approx(kv, rel=1e-12)
    assert local_loss_pa(zeta, density, velocity) == pytest.approx(
        pressure_drop_from_kv_pa(flow, kv, density), rel=1e-12
    )


@given(curve=curves, share=st.floats(0.0, 1.0))
def test_setting_and_kv_go_round(curve, share):
    setting = 1.0 + share * (len(curve) - 1)
    kv_m3_h = kv_at_setting(setting, curve)
    assert curve[0] <= kv_m3_h <= curve[-1] * (1.0 + 1e-15)
    assert setting_for_kv(min(kv_m3_h, curve[-1]), curve) == pytest.approx(setting, abs=1e-9)


@given(curve=curves)
def test_whole_settings_are_met_exactly(curve):
    for number, kv_m3_h in enumerate(curve, start=1):
        assert kv_at_setting(number, curve) == kv_m3_h
        assert setting_for_kv(kv_m3_h, curve) == number
        assert nearest_setting(kv_m3_h, curve) == (number, kv_m3_h)


def test_kv_rises_with_setting_in_equal_ratios():
    assert kv_at_setting(1.5, LOCKSHIELD) == pytest.approx(np.sqrt(0.10 * 0.22))
    values = [kv_at_setting(setting, LOCKSHIELD) for setting in np.linspace(1.0, 6.0, 101)]
    assert np.all(np.diff(values) > 0.0)


def test_nearest_setting_is_judged_by_ratio_and_stops_at_the_ends():
    assert nearest_setting(0.15, LOCKSHIELD) == (2, 0.22)  # 0.15/0.10 is more than 0.22/0.15
    assert nearest_setting(0.14, LOCKSHIELD) == (1, 0.10)
    assert nearest_setting(0.01, LOCKSHIELD) == (1, 0.10)
    assert nearest_setting(50.0, LOCKSHIELD) == (6, 1.30)


@given(rest_pa=st.floats(10.0, 1e5), required=st.floats(0.01, 0.99))
def test_authority_goes_round(rest_pa, required):
    assert authority(valve_drop_for_authority_pa(required, rest_pa), rest_pa) == pytest.approx(required)
