"""Floors and walls in the ground by hand."""

import math

import pytest

from heatloop.physics.fabric import ground


def test_a_cellar_wall_over_a_bare_floor_by_hand():
    """ISO 13370:2017 7.4.3: d_w 2 (0.13 + 0.5 + 0.04) = 1.34 m, d_f 0.3 + 2 (0.17 + 0.04) = 0.72 m, 2 m deep."""
    by_hand = 4.0 / (math.pi * 2.0) * (1.0 + 0.5 * 0.72 / 2.72) * math.log(2.0 / 1.34 + 1.0)
    assert ground.basement_wall_u_w_m2k(2.0, 0.5) == pytest.approx(by_hand, rel=1e-12)


def test_edge_insulation_by_hand():
    """ISO 13370:2017 D.3 and D.5: d_t 0.3 + 2 (0.17 + 0.04) = 0.72 m; 50 mm of 0.035 adds (1.42857 - 0.025) 2 m."""
    extra_m = (0.05 / 0.035 - 0.05 / 2.0) * 2.0
    by_hand = -2.0 / math.pi * (math.log(1.0 / 0.72 + 1.0) - math.log(1.0 / (0.72 + extra_m) + 1.0))
    assert ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1.0, 0.05, 0.035)) == pytest.approx(by_hand, rel=1e-12)
    assert ground.edge_insulated_u_w_m2k(0.3, by_hand, 8.0) == pytest.approx(0.3 + by_hand / 4.0, rel=1e-12)


def test_an_edge_strip_without_a_size_or_a_conductivity_is_refused():
    for strip in (ground.EdgeStrip(0.0, 0.05, 0.035), ground.EdgeStrip(1.0, 0.0, 0.035)):
        with pytest.raises(ValueError, match="must be above 0"):
            ground.edge_insulation_psi_w_mk(strip)
    with pytest.raises(ValueError, match="conductivity_w_mk 0, must be above 0"):
        ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1.0, 0.05, 0.0))


def test_a_cellar_floor_counts_half_its_depth_by_hand():
    """ISO 13370:2017 7.4.2: d_t 0.3 + 2 (0.17 + 2 + 0.04) = 4.72 m and half of 2 m; B' 6 m is more, 5 m less."""
    wide = 4.0 / (math.pi * 6.0 + 5.72) * math.log(math.pi * 6.0 / 5.72 + 1.0)
    assert ground.slab_u_w_m2k(6.0, 2.0, depth_m=2.0) == pytest.approx(wide, rel=1e-12)
    assert ground.slab_u_w_m2k(5.0, 2.0, depth_m=2.0) == pytest.approx(2.0 / (0.457 * 5.0 + 5.72), rel=1e-12)
