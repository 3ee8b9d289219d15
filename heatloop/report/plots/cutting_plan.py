"""Picture of a cutting plan: every bar to scale, its pieces, saw cuts, offcut and waste."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas
from matplotlib.patches import Patch, Rectangle
from matplotlib.text import Text

from heatloop.handover.cutting.model import Bar, Cut, CutPlan
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, listing, number, plural, truncated

BAR = 0.74
"""Height of a bar where rows are 1 apart."""
ROW_IN, FRAME_IN = 0.30, 1.35
TEXT_PT, SMALL_PT = 6.2, 5.4
KEY_LINE_IN = 0.16
LETTER_IN = 0.071
"""Width of a letter of the key, about."""

PIECE = style.LineStyle("#ffffff")
SAWN = style.LineStyle(style.INK)
TRIM = style.LineStyle("#8d949b", hatch="----")
KEPT = style.LineStyle("#e3efe9", hatch="///")
WASTE = style.LineStyle("#d9dcdf", hatch="xxxxx")


def plot_cut_plan(plan: CutPlan, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Bars of the plan one below the other, to scale, left end first; lengths in mm.

    A piece too short for its label carries a number, explained below the axis. Up to 30 bars fit an A4 page.
    Axes of the caller must belong to a figure with constrained layout. Raises ValueError for axes in no figure.
    """
    with style.applied(in_style):
        height_in = FRAME_IN + ROW_IN * max(2, len(plan.bars))
        own = ax is None
        ax = style.axes(ax, height_in, in_style=in_style)
        longest = max((bar.length_mm for bar in plan.bars), default=1.0)
        ax.set_xlim(0.0, longest)
        ax.set_ylim(max(1, len(plan.bars)) - 0.4, -0.6)
        several = len({bar.grain for bar in plan.bars}) > 1
        ax.set_yticks(range(len(plan.bars)), [_name(n, bar, several) for n, bar in enumerate(plan.bars, 1)])
        ax.tick_params(axis="y", length=0.0)
        ax.spines["left"].set_visible(False)
        ax.set_xlabel("mm from the left end")
        ax.set_title(_title(plan))
        style.legend_under_title(ax, _legend(plan), columns=3)
        _figure(ax).draw_without_rendering()  # fixes the layout, so that texts can be measured
        key: list[str] = []
        for row, bar in enumerate(plan.bars):
            _draw_bar(ax, row, bar)
            for cut in bar.cuts:
                _label_piece(ax, row, cut, key)
        if key:
            columns = int(ax.get_window_extent().width / _figure(ax).dpi / LETTER_IN)
            lines = textwrap.wrap("    ".join(key), columns, break_long_words=False, break_on_hyphens=False)
            ax.set_xlabel("\n".join(["mm from the left end", *lines]), loc="left")
            if own:
                _figure(ax).set_figheight(height_in + KEY_LINE_IN * len(lines))
    return Figure(ax, _alt_text(plan), in_style)


def _alt_text(plan: CutPlan) -> str:
    """Text alternative of the figure."""
    amounts = listing(words for words, _ in _amounts(plan))
    return f"Cutting plan, {plural(len(plan.bars), 'bar')} drawn to scale. {_title(plan)}. Of the length: {amounts}."


def _figure(ax: Axes) -> Canvas:
    figure = ax.get_figure(root=True)
    if figure is None:
        raise ValueError("these axes belong to no figure; leave ax out, or give axes of a figure")
    return figure


def _title(plan: CutPlan) -> str:
    if not plan.bars:
        return "Nothing to cut"
    offcuts = len(plan.bars) - plan.new_bars
    used = f" and {plural(offcuts, 'offcut')} on hand" if offcuts else ""
    above = number(100.0 * plan.gap, 1)
    least = "proved minimum" if plan.proved else f"at most {above} % above the minimum"
    return f"{plural(plan.new_bars, 'new bar')} ({_metres(plan.new_stock_mm)}){used}: {least}"


def _amounts(plan: CutPlan) -> list[tuple[str, style.LineStyle]]:
    """Division of the length in words, and how each part is drawn; parts of length 0 are left out."""
    parts = [
        ("pieces", plan.pieces_mm, PIECE),
        ("saw cuts", plan.kerf_mm, SAWN),
        ("end trims", plan.trims_mm, TRIM),
        ("offcuts to keep", plan.offcuts_mm, KEPT),
        ("waste", plan.waste_mm, WASTE),
    ]
    return [(f"{name} {_metres(length)}", look) for name, length, look in parts if length > 0.0]


def _metres(length_mm: float) -> str:
    return f"{number(length_mm / 1000.0, 2)} m"


def _mm(length_mm: float) -> str:
    return number(length_mm, 1).removesuffix(".0")


def _name(place: int, bar: Bar, with_grain: bool) -> str:
    grain = f" {truncated(escape_control_characters(bar.grain), 18)}" if bar.grain and with_grain else ""
    source = f"offcut {truncated(escape_control_characters(bar.offcut_label), 12)}" if bar.offcut_label else "new"
    return f"{place}:  {source} {_mm(bar.length_mm)}{grain}"


def _legend(plan: CutPlan) -> list[Patch]:
    return [
        Patch(facecolor=look.colour, edgecolor=style.INK, hatch=look.hatch, linewidth=0.6, label=words)
        for words, look in _amounts(plan)
    ]


def _draw_bar(ax: Axes, row: int, bar: Bar) -> None:
    for start, length, look in _parts(bar):
        ax.add_patch(
            Rectangle(
                (start, row - BAR / 2.0),
                length,
                BAR,
                facecolor=look.colour,
                edgecolor=style.INK,
                hatch=look.hatch,
                linewidth=0.5,
            )
        )
    if bar.remainder_mm > 0.0:
        start = bar.length_mm - bar.trim_mm / 2.0 - bar.remainder_mm
        words = f"keep {_mm(bar.remainder_mm)}" if bar.usable else _mm(bar.remainder_mm)
        text = _fitted(ax, row, (start, bar.remainder_mm), [words], TEXT_PT)
        if text is not None:
            text.set_bbox({"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.8})


def _parts(bar: Bar) -> Iterator[tuple[float, float, style.LineStyle]]:
    """Start, length and look of all that a bar is cut into, from the left; trims are shared by the two ends."""
    trim = bar.trim_mm / 2.0
    used_mm = bar.length_mm - trim - bar.remainder_mm
    if trim > 0.0:
        yield 0.0, trim, TRIM
        yield bar.length_mm - trim, trim, TRIM
    ends = [*(cut.start_mm for cut in bar.cuts[1:]), used_mm]
    for cut, next_start in zip(bar.cuts, ends, strict=True):
        end = cut.start_mm + cut.length_mm
        yield cut.start_mm, cut.length_mm, PIECE
        if next_start > end:
            yield end, next_start - end, SAWN
    if bar.remainder_mm > 0.0:
        yield used_mm, bar.remainder_mm, KEPT if bar.usable else WASTE


def _label_piece(ax: Axes, row: int, cut: Cut, key: list[str]) -> None:
    """Label and length on one line, else on two, else a number for the key."""
    label, length = escape_control_characters(cut.label), _mm(cut.length_mm)
    for lines in ([f"{label}  {length}"], [label, length]):
        if _fitted(ax, row, (cut.start_mm, cut.length_mm), lines, TEXT_PT) is not None:
            return
    place = f"({len(key) + 1})"
    shown = _fitted(ax, row, (cut.start_mm, cut.length_mm), [place], SMALL_PT)
    where = f"bar {row + 1}" if shown is not None else f"bar {row + 1} from {_mm(cut.start_mm)}"
    key.append(f"{place} {label} {length}, {where}".replace(" ", "\N{NO-BREAK SPACE}"))


def _fitted(ax: Axes, row: int, part_mm: tuple[float, float], lines: list[str], size_pt: float) -> Text | None:
    """Write the lines in the middle of a part of a bar, given by its start and length, if they fit; None if not."""
    start, length = part_mm
    text = ax.text(
        start + length / 2.0,
        row,
        "\n".join(lines),
        fontsize=size_pt,
        linespacing=1.05,
        ha="center",
        va="center_baseline" if len(lines) == 1 else "center",
        zorder=4,
    )
    room = ax.transData.transform((start + length, row))[0] - ax.transData.transform((start, row))[0]
    if text.get_window_extent().width > room - 3.0:
        text.remove()
        return None
    return text
