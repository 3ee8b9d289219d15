"""Plots take and return axes, state their finding and leave the settings of others alone."""

from __future__ import annotations

import matplotlib.pyplot as plt

import heatloop as hl
from heatloop.report.plots import style
from heatloop.report.plots.room_output import room_output
from heatloop.report.plots.water.balancing import plot_balancing
from heatloop.report.plots.water.loop_pressure import index_path, loop_pressure
from heatloop.report.plots.water.loop_temperature import loop_temperature


def test_plots_take_and_return_axes_and_state_the_finding(design: hl.Design) -> None:
    loop = str(design.loops["loop"].iloc[0])
    for draw in (room_output, plot_balancing, index_path):
        given = style.axes()
        assert draw(design, given).axes is given
        assert given.get_title(loc="left")
        assert given.get_xlabel()
    for draw in (loop_temperature, loop_pressure):
        given = style.axes()
        assert draw(design, loop, given).axes is given
        assert loop in given.get_title(loc="left")
        assert "," in given.get_xlabel(), "label with its unit"
        assert "," in given.get_ylabel()
    worst = design.rooms.sort_values("margin_w").iloc[0]
    if (design.rooms["margin_w"] < 0).sum() == 1:
        title = room_output(design).axes.get_title(loc="left")
        assert title == f"{worst['room']} is {-worst['margin_w']:.0f} W short"


def test_nobody_elses_plot_settings_change(design: hl.Design) -> None:
    before = dict(plt.rcParams)
    room_output(design)
    assert dict(plt.rcParams) == before
