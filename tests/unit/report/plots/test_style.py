"""Colours of temperatures and looks without colour."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from matplotlib.colors import to_rgb

from heatloop.report.plots import style


def test_temperature_colours_darken_steadily_and_looks_differ_without_colour() -> None:
    shades = [style.TEMPERATURES(x)[:3] for x in np.linspace(0, 1, 33)]
    light = [0.2126 * r**2.2 + 0.7152 * g**2.2 + 0.0722 * b**2.2 for r, g, b in shades]
    assert all(b < a for a, b in pairwise(light))
    assert len({(look.line, look.marker) for look in style.LOOPS}) == len(style.LOOPS)
    assert style.FLOW.line != style.RETURN.line
    assert len({look.hatch for look in (style.LOSS, style.OUTPUT, style.SHORT)}) == 3
    assert all(to_rgb(look.colour) for look in style.LOOPS)
