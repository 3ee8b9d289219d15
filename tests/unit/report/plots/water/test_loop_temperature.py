"""Temperatures along a loop."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.report.plots.water.loop_temperature import loop_temperature


def test_an_unknown_loop_is_named(design: hl.Design) -> None:
    with pytest.raises(KeyError, match="no loop is called 'Nowhere'"):
        loop_temperature(design, "Nowhere")
