"""Figures carry their words and leave nothing open."""

from __future__ import annotations

import matplotlib.pyplot as plt

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure


def test_figures_carry_their_words_and_leave_nothing_open_in_pyplot() -> None:
    before = plt.get_fignums()
    ax = style.axes()
    ax.set_title("cost $5 and $6 <b>")
    html = Figure(ax, 'a "sum" <of> money')._repr_html_()
    assert 'alt="a &#34;sum&#34; &lt;of&gt; money"' in html
    assert 'src="data:image/svg+xml;base64,' in html
    assert plt.get_fignums() == before
