"""Figures and tables of parts list, first fix and commissioning, in the form of the design report."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.report.columns.shown import REPORT
from heatloop.report.drawings.geometry import DrawingSheet
from heatloop.report.drawings.writers.sheet_figure import draw_sheet, sheet_canvas
from heatloop.report.pages import captions
from heatloop.report.pages.html_tables import HtmlFragment, html_table
from heatloop.report.pages.sections import CLOSED_SYSTEM, HANDOVER, SITE_WORK, pack_sections
from heatloop.report.plots.cutting_plan import plot_cut_plan
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style, applied


class PartsPlots:
    """The figures of a parts list."""

    def __init__(self, parts: PartsListResult) -> None:
        self._parts = parts

    def cutting_plan(self, ax: Axes | None = None, style: Style = "report") -> Figure | HtmlFragment:
        """The bars to scale with their pieces, saw cuts, offcuts and waste; empty without pieces to cut.

        With `ax` it draws into these axes; `style` "own" keeps the settings of matplotlib of the caller.
        """
        plan = self._parts.cut_plan
        return HtmlFragment("") if plan is None else plot_cut_plan(plan, ax, style)


class PartsSections:
    """The tables of a parts list in the form of the report.

    `columns` are the names of the columns to show, in order; without them a table has the columns of the report.
    `caption` replaces the caption of the report.
    """

    def __init__(self, parts: PartsListResult) -> None:
        self._parts = parts

    def parts(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Parts to order."""
        title = caption or captions.movement_caption(self._parts.summary)
        return html_table(self._parts.parts, "parts", columns or REPORT["parts"], title)

    def pieces(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Pieces to cut."""
        return html_table(self._parts.pieces, "pieces", columns or REPORT["pieces"], caption)

    def thermal_movement(
        self, columns: Sequence[str] | None = None, caption: str | None = None, max_rows: int | None = None
    ) -> HtmlFragment:
        """Thermal movement of every straight length, or of the `max_rows` that expand most."""
        frame = self._parts.thermal_movement
        if max_rows is not None:
            frame = frame.sort_values("expansion_mm", ascending=False, kind="stable").head(max_rows)
        return html_table(frame, "thermal_movement", columns or REPORT["thermal_movement"], caption)

    def expansion_gaps(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """The gap to leave at each free end, by the temperature at fitting."""
        gaps = self._parts.expansion_gaps
        shown = columns or [str(name) for name in gaps if name != "loop"]
        return html_table(gaps, "expansion_gaps", shown, caption, explain=False)

    def notes(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Assumptions of quantities, cutting and thermal movement; the table of parts has its own notes."""
        notes = self._parts.parts_notes
        return html_table(notes[notes["topic"] != "counts"], "notes", columns, caption, explain=False)


class FirstFixPlots:
    """The drawings of a first fix."""

    def __init__(self, first_fix: FirstFixResult) -> None:
        self._first_fix = first_fix

    def sheet(self, sheet: DrawingSheet, ax: Axes | None = None, style: Style = "report") -> Figure:
        """One of the drawings of `FirstFix.sheets`: plan, dimensions, table, details and title block.

        With `ax` it draws into these axes, whose data are then mm on paper; `style` "own" keeps the settings of
        matplotlib of the caller.
        """
        with applied(style):
            if ax is None:
                return Figure(sheet_canvas(sheet), sheet.alt_text, style)
            draw_sheet(ax, sheet)
        return Figure(ax, sheet.alt_text, style)


class FirstFixSections:
    """The tables of a first fix in the form of the report; `columns` and `caption` as for a design."""

    def __init__(self, first_fix: FirstFixResult) -> None:
        self._first_fix = first_fix

    def pipe_totals(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Plain pipe by kind."""
        return html_table(self._first_fix.pipe_totals, "pipe_totals", columns, caption)

    def notes(self, columns: Sequence[str] | None = None, caption: str | None = None) -> HtmlFragment:
        """Assumptions of the positions."""
        return html_table(self._first_fix.notes, "first_fix_notes", columns, caption, explain=False)


class CommissioningSections:
    """The sections of commissioning results in the form of the report."""

    def __init__(self, commissioning: CommissioningResult) -> None:
        self._commissioning = commissioning

    def site_work(self) -> HtmlFragment:
        """Sections for filling, cleaning and commissioning."""
        return pack_sections(self._commissioning, SITE_WORK)

    def closed_system(self) -> HtmlFragment:
        """Limits of the closed system, its water content and its pressures."""
        return pack_sections(self._commissioning, CLOSED_SYSTEM, cautions=False)

    def part_load(self) -> HtmlFragment:
        """Flow and return of every loop in other weather."""
        return pack_sections(self._commissioning, ("part_load",), cautions=False)

    def handover(self) -> HtmlFragment:
        """Sections for the users of the house."""
        return pack_sections(self._commissioning, HANDOVER)
