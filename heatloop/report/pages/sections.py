"""Cautions as part of a page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape

from heatloop.findings.safety import CAUTIONS, DEFERENCE, cautions_for
from heatloop.handover.commissioning.pack import Pack
from heatloop.report.pages.html_tables import Html, table


def cautions(titles: Iterable[str] | None = None) -> Html:
    """The cautions as part of a page: all of them, or those of these titles."""
    shown = CAUTIONS if titles is None else cautions_for(titles)
    items = "".join(f'<dt id="{c.address}">{escape(c.title)}</dt><dd>{escape(c.text)}</dd>' for c in shown)
    return Html(f'<p class="deference">{escape(DEFERENCE)}</p><dl class="cautions">{items}</dl>')


SITE_WORK = (
    "handover_checks", "contents", "pressures", "fill_and_vent", "purge", "treatment", "doses", "commissioning",
    "part_load", "surfaces",
)  # fmt: skip
"""Tables of the pack for those who fill, clean and commission."""

HANDOVER = ("settings_as_left", "water_record", "user_page", "yearly_checks")
"""Tables of the pack that stay with the house."""

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "fill_and_vent": ("step", "stage", "loop", "arm", "action", "caution"),
    "purge": (
        "loop", "arm", "sweep_m_s", "purge_flow_l_h", "head_kpa", "pump_head_kpa", "pump_sweep_m_s", "hose_needed_kpa",
        "drive",
    ),
    "commissioning": (
        "loop", "arm", "valve", "real_setting", "target_flow_l_h", "flow_today_l_h", "flow_temp_c", "return_temp_c",
        "delta_t_k", "heads_off_flow_l_h", "heads_off_return_temp_c",
    ),
}  # fmt: skip
"""What a page has room for of the widest tables; the workbook has the rest."""


def section_html(pack: Pack, name: str, columns: Sequence[str] | None = None, explain: bool = True) -> Html:
    """The part of the pack whose table is called `name`, under a heading of the third level.

    columns: those to show, in order (None: what a page has room for); explain: add what the columns mean. The
    cautions to read first are links to where :func:`heatloop.report.cautions.cautions` puts them. KeyError for a
    table that the pack does not have.
    """
    section = {section.table: section for section in pack.sections}[name]
    links = ", ".join(f'<a href="#{c.address}">{escape(c.title)}</a>' for c in cautions_for(section.cautions))
    first = f'<p class="first">Read first: {links}.</p>' if links else ""
    shown = table(pack.frames[name], name, columns or COLUMNS.get(name), section.about, explain)
    return Html(f"<h3>{escape(section.title)}</h3>{first}{shown.markup}")


def sections_html(pack: Pack, names: Iterable[str] | None = None) -> tuple[tuple[str, Html], ...]:
    """Every part of the pack that has rows, or those of these tables: its title and what stands under it."""
    wanted = None if names is None else set(names)
    return tuple(
        (section.title, section_html(pack, section.table))
        for section in pack.sections
        if not pack.frames[section.table].empty and (wanted is None or section.table in wanted)
    )


def pack_sections(pack: Pack, names: Iterable[str]) -> Html:
    """The parts of the pack with these tables, one after the other."""
    return Html("".join(html.markup for _, html in sections_html(pack, names)))
