"""Windows by ISO 10077-1: arithmetic that anybody can repeat, and limits (data/published/fabric.csv)."""

from __future__ import annotations

import pytest

from heatloop.physics.fabric.windows import WindowGeometry, window_geometry, window_u_w_m2k
from tests.helpers.published import replayed


def _window(glass: float, frame: float, edge: float, ug: float, uf: float, psi: float) -> float:
    return window_u_w_m2k(WindowGeometry(glass, frame, edge), ug, uf, psi)


test_published_row = replayed("fabric", __name__, {"window": _window})


def test_areas_of_a_barred_window_add_up() -> None:
    """Two by two panes in 1.23 by 1.48 m: glass and frame make the whole, edges go round every pane."""
    geometry = window_geometry(1.23, 1.48, 0.08, 2, 2)
    assert geometry.glass_m2 + geometry.frame_m2 == pytest.approx(1.23 * 1.48)
    pane = ((1.23 - 0.24) / 2, (1.48 - 0.24) / 2)
    assert geometry.glass_m2 == pytest.approx(4 * pane[0] * pane[1])
    assert geometry.edge_m == pytest.approx(8 * (pane[0] + pane[1]))


def test_bars_and_a_plain_spacer_cost_heat() -> None:
    plain = window_u_w_m2k(window_geometry(1.23, 1.48, 0.1), 1.1, 1.4, 0.04)
    barred = window_u_w_m2k(window_geometry(1.23, 1.48, 0.1, 2, 2), 1.1, 1.4, 0.04)
    aluminium = window_u_w_m2k(window_geometry(1.23, 1.48, 0.1), 1.1, 1.4, 0.08)
    assert plain < barred
    assert plain < aluminium
    assert aluminium - plain == pytest.approx(0.04 * window_geometry(1.23, 1.48, 0.1).edge_m / (1.23 * 1.48))


def test_all_parts_alike_give_that_value() -> None:
    assert window_u_w_m2k(window_geometry(1.0, 1.0, 0.1), 1.7, 1.7, 0.0) == pytest.approx(1.7)


def test_a_frame_without_glass_is_refused() -> None:
    with pytest.raises(ValueError, match=r"frame_width_m 0\.3"):
        window_geometry(0.6, 0.6, 0.3)
