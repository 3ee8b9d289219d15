"""Heat of a pipe at its limits."""

from __future__ import annotations

import math

import pytest

from heatloop.physics.heat_transfer import pipe_loss_w_mk


def test_pipe_loss_at_its_limits() -> None:
    assert pipe_loss_w_mk(15.0, 0.0) == pytest.approx(10.0 * math.pi * 0.015)
    for outside, insulation, conductivity in ((0.0, 0.0, 0.035), (15.0, -1.0, 0.035), (15.0, 10.0, 0.0)):
        with pytest.raises(ValueError, match="the first two must be above 0, the last 0 or above"):
            pipe_loss_w_mk(outside, insulation, conductivity)
