"""Cautions as part of a page."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from heatloop.cautions import CAUTIONS, DEFERENCE, cautions_for
from heatloop.report.tables import Html


def cautions(titles: Iterable[str] | None = None) -> Html:
    """The cautions as part of a page: all of them, or those of these titles."""
    shown = CAUTIONS if titles is None else cautions_for(titles)
    items = "".join(f'<dt id="{c.address}">{escape(c.title)}</dt><dd>{escape(c.text)}</dd>' for c in shown)
    return Html(f'<p class="deference">{escape(DEFERENCE)}</p><dl class="cautions">{items}</dl>')
