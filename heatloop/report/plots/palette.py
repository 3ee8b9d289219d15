"""Colours and matplotlib settings of the report, applied inside a `with` block only.

Colours are chosen for colour-blind readers and never carry a meaning alone: lines, hatches and markers differ too.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal

import matplotlib as mpl

INK = "#22282e"

MUTED = "#5c6670"

FAINT = "#c3c9cf"

PAPER = "#ffffff"

Style = Literal["report", "own"]
"""How a figure is drawn: with the settings of the report, or with the caller's own settings of matplotlib."""

STYLES = ("report", "own")

RC: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8.5,
    "axes.titlesize": 10.0,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 9.0,
    "axes.labelsize": 8.5,
    "axes.labelcolor": INK,
    "axes.edgecolor": MUTED,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "axes.axisbelow": True,
    "grid.color": "#e4e7ea",
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,  # a name with dollar signs is a name
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "legend.fontsize": 8.0,
    "legend.frameon": False,
    "lines.linewidth": 1.6,
    "lines.markersize": 4.5,
    "hatch.linewidth": 0.6,
    "hatch.color": INK,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "svg.hashsalt": "heatloop",
}


@contextmanager
def applied(style: Style = "report") -> Iterator[None]:
    """Use the settings of the report inside the `with` block only; with "own" the caller's settings stay in force.

    Parameters
    ----------
    style : {"report", "own"}, default "report"
        Settings of matplotlib: those of the report, or the caller's own.

    Raises
    ------
    ValueError
        For another style.

    Examples
    --------
    >>> import heatloop as hl, matplotlib as mpl
    >>> with hl.plotting.applied():
    ...     mpl.rcParams["svg.hashsalt"]
    'heatloop'
    """
    if style not in STYLES:
        raise ValueError(f"style is {style!r}; it can be {' or '.join(map(repr, STYLES))}")
    if style == "own":
        yield
    else:
        with mpl.rc_context(RC):
            yield
