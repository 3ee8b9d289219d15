"""The figure that every plot returns: drawn as vectors, with a text alternative."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import matplotlib.figure
from markupsafe import Markup
from matplotlib.axes import Axes

from heatloop.report.pages.html_tables import part
from heatloop.report.plots.palette import Style, applied


class Figure:
    """A plot with its text alternative; a notebook shows it as SVG.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Axes that hold the plot. They must belong to a figure.
    alt_text : str
        Description of the plot in words, for readers who cannot see it.
    style : {"report", "own"}, default "report"
        Settings of matplotlib used when the figure is written: those of the report, or the caller's own.
    caption : str, default ""
        Text below the figure on a page.

    Raises
    ------
    ValueError
        If the axes belong to no figure.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.plotting.Figure(hl.plotting.axes(), "A weather curve.").alt_text
    'A weather curve.'
    """

    def __init__(self, axes: Axes, alt_text: str, style: Style = "report", caption: str = "") -> None:
        if axes.get_figure(root=True) is None:
            raise ValueError("these axes belong to no figure; make them with heatloop.plotting.axes()")
        self._axes, self._alt_text, self._style, self._caption = axes, alt_text, style, caption

    @property
    def axes(self) -> Axes:
        """The axes of the plot, for further changes."""
        return self._axes

    @property
    def alt_text(self) -> str:
        """Text alternative of the plot."""
        return self._alt_text

    def save(self, path: str | Path) -> Path:
        """Write the figure to a file and return its path.

        Parameters
        ----------
        path : str or pathlib.Path
            File to write. Its suffix gives the format: .svg, .pdf or .png, for example.

        Returns
        -------
        pathlib.Path
            The path of the file.

        Raises
        ------
        OSError
            If the file cannot be written.
        ValueError
            If matplotlib does not support the format.
        """
        target = Path(path)
        with applied(self._style):
            self._canvas().savefig(target)
        return target

    def svg(self) -> bytes:
        """The figure as SVG; letters are outlines, so that no font is needed to read it."""
        target = io.BytesIO()
        with applied(self._style):
            self._canvas().savefig(target, format="svg", metadata={"Date": None, "Creator": None})
        return target.getvalue()

    def _canvas(self) -> matplotlib.figure.Figure:
        figure = self._axes.get_figure(root=True)
        assert figure is not None
        return figure

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.svg()).decode("ascii")
        high_mm = round(25.4 * float(self._canvas().get_size_inches()[1]))
        return part("figure.html", alt=self._alt_text, data=Markup(data), caption=self._caption, high_mm=high_mm).markup

    def __repr__(self) -> str:
        return f"<Figure: {self._alt_text}>"


class FigureRow:
    """Figures that belong together, beside one another on a page; below one another where the page is narrow.

    A notebook displays the row, each figure with its own text alternative.

    Parameters
    ----------
    figures : tuple of Figure
        The figures, in order.
    columns : int, default 1
        How many stand beside one another on paper and in a wide window.
    """

    def __init__(self, figures: tuple[Figure, ...], columns: int = 1) -> None:
        self._figures, self._columns = figures, columns

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The figures, in order; each has its own `axes` and `save`."""
        return self._figures

    @property
    def alt_text(self) -> str:
        """Text alternatives of the figures, one after another."""
        return " ".join(figure.alt_text for figure in self._figures)

    def save(self, path: str | Path) -> tuple[Path, ...]:
        """Write every figure to a file of its own and return the paths.

        Parameters
        ----------
        path : str or pathlib.Path
            File to write, as of :meth:`Figure.save`; each figure adds its number: row.svg gives row-1.svg, row-2.svg.

        Returns
        -------
        tuple of pathlib.Path
            The paths of the files, in order.
        """
        target = Path(path)
        return tuple(
            figure.save(target.with_name(f"{target.stem}-{number}{target.suffix}"))
            for number, figure in enumerate(self._figures, 1)
        )

    def _repr_html_(self) -> str:
        css = "together" if self._columns == 1 else "together halves"
        return f'<div class="{css}">{"".join(figure._repr_html_() for figure in self._figures)}</div>'

    def __repr__(self) -> str:
        return f"<FigureRow: {self.alt_text}>"


def side_by_side(*figures: Figure) -> FigureRow:
    """Figures beside one another.

    Parameters
    ----------
    *figures : Figure
        The figures, in order.

    Returns
    -------
    FigureRow
        The figures as one object; a notebook shows them side by side.

    Examples
    --------
    >>> import heatloop as hl
    >>> left, right = (hl.plotting.figure(hl.plotting.axes(), words) for words in ("Flow.", "Return."))
    >>> hl.plotting.side_by_side(left, right).alt_text
    'Flow. Return.'
    """
    return FigureRow(figures)
