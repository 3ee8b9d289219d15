"""Safety notices as part of a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from heatloop.findings.safety import DEFERENCE, SAFETY_NOTICES, notices_for
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.tables import HANDOVER_CHECKS
from heatloop.report.columns.shown import PAGE
from heatloop.report.pages.html_tables import HtmlFragment, html_table, part, with_signs


def safety_notices_html(titles: Iterable[str] | None = None) -> HtmlFragment:
    """The safety notices as part of a page: all, or those of the given titles."""
    shown = SAFETY_NOTICES if titles is None else notices_for(titles)
    return part("cautions.html", deference=DEFERENCE, cautions=shown)


SITE_WORK = (
    "commissioning_checks", "water_content", "pressures", "fill_and_vent", "purging", "treatment", "doses",
    "commissioning", "part_load", "surface_temperatures",
)  # fmt: skip
"""Tables of the pack for those who fill, clean and commission."""

CLOSED_SYSTEM = ("commissioning_checks", "water_content", "pressures")
"""Tables of the pack that are checked as part of the design."""

HANDOVER = ("settings_as_left", "water_record", "user_guide", "annual_checks")
"""Tables of the pack that stay with the house."""


def section_html(
    pack: CommissioningResult,
    name: str,
    columns: Sequence[str] | None = None,
    explain: bool = True,
    cautions: bool = True,
) -> HtmlFragment:
    """The part of the pack whose table is called `name`, under a heading of the third level.

    columns: those to show, in order (None: what a page has room for); explain: add what the columns mean; cautions:
    whether the safety
    notices are shown, as links to those of :func:`safety_notices_html`. KeyError for a
    table that the pack does not have.
    """
    section = {section.table: section for section in pack.sections}[name]
    frame = pack.frames[name]
    frame = with_signs(frame) if name == HANDOVER_CHECKS.name else frame
    shown = html_table(frame, name, columns or PAGE.get(name), section.about, explain)
    return part(
        "section.html", section=section, cautions=notices_for(section.cautions if cautions else ()), table=shown
    )


def sections_html(
    pack: CommissioningResult, names: Iterable[str] | None = None
) -> tuple[tuple[str, HtmlFragment], ...]:
    """Every part of the pack that has rows, or those of these tables: its title and what is under it."""
    required = None if names is None else set(names)
    return tuple(
        (section.title, section_html(pack, section.table))
        for section in pack.sections
        if not pack.frames[section.table].empty and (required is None or section.table in required)
    )


def pack_sections(pack: CommissioningResult, names: Iterable[str], cautions: bool = True) -> HtmlFragment:
    """The parts of the pack with these tables, one after the other, each with links to its cautions or without."""
    if cautions:
        return HtmlFragment("".join(html.markup for _, html in sections_html(pack, names)))
    shown = [name for name in names if not pack.frames[name].empty]
    return HtmlFragment("".join(section_html(pack, name, cautions=False).markup for name in shown))
