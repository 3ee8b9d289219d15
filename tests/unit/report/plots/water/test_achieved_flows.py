"""Flows with valves as set beside their targets."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.report.plots.water import achieved_flows


def test_achieved_flows_stand_beside_their_targets(design: hl.Design) -> None:
    balancing = design.valves[design.valves["is_balancing"]]
    figure = achieved_flows.achieved_flows(design)
    ax = figure.axes
    widths = [patch.get_width() for patch in ax.patches]
    assert widths == pytest.approx(list(balancing["achieved_flow_l_h"]))
    marks = [line.get_xdata()[0] for line in ax.lines]
    assert marks == pytest.approx(list(balancing["target_flow_l_h"]))
    worst = balancing.loc[balancing["flow_error_percent"].abs().idxmax()]
    title = ax.get_title(loc="left")
    assert str(worst["loop"]) in title
    assert f"{abs(worst['flow_error_percent']):.1f} %" in title
    assert all(str(loop) in figure.alt_text for loop in balancing["loop"])
