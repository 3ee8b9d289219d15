"""Plots as pictures of a page: drawn as vectors, kept inside the page, each with words that replace it."""

from __future__ import annotations

import base64
import io

import matplotlib.pyplot as plt
from markupsafe import Markup
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from heatloop.report.pages.html_tables import HtmlFragment, part
from heatloop.report.plots import style


def svg_bytes(ax: Axes) -> bytes:
    """The figure that `ax` belongs to, as SVG; letters are outlines, so no font is looked for."""
    target = io.BytesIO()
    with style.applied():
        _figure(ax).savefig(target, format="svg", metadata={"Date": None, "Creator": None})
    return target.getvalue()


def _figure(ax: Axes) -> Figure:
    figure = ax.get_figure(root=True)
    if figure is None:
        raise ValueError("these axes belong to no figure; draw them with heatloop.report.style.figure()")
    return figure


def figure_html(ax: Axes, alt: str, caption: str = "") -> HtmlFragment:
    """A picture for the page, and the figure closed.

    alt: what the picture tells, in words, for those who cannot see it; caption: printed below it.
    """
    data = base64.b64encode(svg_bytes(ax)).decode("ascii")
    plt.close(_figure(ax))
    return part("figure.html", alt=alt, data=Markup(data), caption=caption)


def side_by_side(*pictures: HtmlFragment) -> HtmlFragment:
    """Pictures that belong on one sheet of paper."""
    return HtmlFragment(f'<div class="together">{"".join(p.markup for p in pictures)}</div>')
