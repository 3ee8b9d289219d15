"""Parts of the handover pack as parts of a page: what each says, what to read first, and its table."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from heatloop.handover.handover_pack import Pack
from heatloop.report.cautions import cautions_for
from heatloop.report.tables import Html, table


def section_html(pack: Pack, name: str, columns: Sequence[str] | None = None, explain: bool = True) -> Html:
    """The part of the pack whose table is called `name`, without a heading of its own.

    columns: those to show, in order; explain: add what the columns mean. KeyError for a table that the pack
    does not have.
    """
    sections = {section.table: section for section in pack.sections}
    section = sections[name]
    told = "".join(f"<dt>{escape(c.title)}</dt><dd>{escape(c.text)}</dd>" for c in cautions_for(section.cautions))
    first = f'<dl class="cautions">{told}</dl>' if told else ""
    shown = table(pack.frames[name], name, columns, section.title, explain)
    return Html(f"<p>{escape(section.about)}</p>{first}{shown.markup}")


def sections_html(pack: Pack) -> tuple[tuple[str, Html], ...]:
    """Every part of the pack that has rows: its title and what stands under it."""
    return tuple(
        (section.title, section_html(pack, section.table))
        for section in pack.sections
        if not pack.frames[section.table].empty
    )
