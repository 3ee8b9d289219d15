"""Rooms traced on the picture of a plan in a notebook, to survey objects and a survey file to be completed."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.survey.building import Room
from heatloop.survey.drawing.floors import HIGHEST_M, LOWEST_M
from heatloop.survey.drawing.rooms import DrawnRoom
from heatloop.survey.drawing.survey_template import TemplateOptions, survey_skeleton
from heatloop.survey.read import read_draft
from heatloop.survey.starter_files import begun_files
from heatloop.survey.tracing.model import TracedPage
from heatloop.survey.tracing.rooms import traced_rooms, wall_lengths
from heatloop.workflows.tracing.kept import KeptTracing
from heatloop.workflows.tracing.picture import page_pictures
from heatloop.workflows.tracing.scene import length_words

if TYPE_CHECKING:
    from heatloop.workflows.tracing.widget import TracingWidget

STATE_ENDING = ".trace.json"
MIN_DPI, MAX_DPI = 36.0, 600.0
EXTRA = (
    'which is not installed; install heatloop with its optional part "trace": pip install "heatloop[trace]", or pip '
    'install -e ".[trace]" in a checkout'
)


def trace_plan(
    plan: str | Path,
    page: int | Sequence[int] = 1,
    *,
    level_m: float | Sequence[float] = 0.0,
    north_deg: float = 0.0,
    state: str | Path | None = None,
    dpi: float = 150.0,
) -> PlanTrace:
    """Trace the rooms of a plan on its picture, in JupyterLab or Notebook 7.

    The object that is returned shows the picture with its tools as the last line of a cell: set the scale by two points
    and the length between them, click the corners of each room, type its name, click both ends of doors and windows.
    Every change is saved in a file beside the plan, and restored from it the next time.

    Parameters
    ----------
    plan : str or pathlib.Path
        A PDF, or an image such as PNG or JPEG.
    page : int or sequence of int, default 1
        Page or pages of the PDF, from 1.
    level_m : float or sequence of float, default 0.0
        Level of the floor in m, one for all pages or one for each. It can be changed while tracing, for a page with
        the plans of several floors.
    north_deg : float, default 0.0
        Bearing of the upward direction of the plan in degrees clockwise from north.
    state : str or pathlib.Path, optional
        The file that keeps the tracing; by default the name of the plan with ".trace.json" after it.
    dpi : float, default 150.0
        Resolution at which pages of a PDF are drawn, in pixels per inch of paper. A page is at most 4000 pixels long.

    Returns
    -------
    PlanTrace

    Raises
    ------
    InputError
        If the plan or the state cannot be read: a missing or damaged file, an encrypted PDF, no such page, or a
        library of the extra "trace" that is not installed.

    Examples
    --------
    >>> import heatloop as hl
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     trace = hl.trace_plan("data/alder-lodge/plan.pdf", state=folder + "/lodge.trace.json")
    ...     print(trace)
    data/alder-lodge/plan.pdf: 0 rooms and 0 openings traced
    """
    path = Path(plan)
    numbers = (page,) if isinstance(page, int) else tuple(page)
    levels = tuple(level_m) if isinstance(level_m, Sequence) else (level_m,) * len(numbers)
    _check(numbers, levels, north_deg, dpi)
    _check_libraries(path)
    pictures = page_pictures(path, numbers, float(dpi))
    kept = Path(state) if state is not None else path.with_name(path.name + STATE_ENDING)
    return PlanTrace(path, KeptTracing(kept, pictures, [float(level) for level in levels]), float(north_deg))


class PlanTrace:
    """A plan with the rooms that are traced on it; made by :func:`heatloop.trace_plan`.

    As the last line of a cell it shows the picture of the plan and its tools. Click, then read the results from the
    next cell.

    Attributes
    ----------
    plan : pathlib.Path
        The plan.
    state_path : pathlib.Path
        The file that keeps the tracing, written after every change.

    Notes
    -----
    Traced lengths are those of the picture. :attr:`lengths` states for each wall the maximum error from the size of a
    pixel and from the scale; a survey for cutting requires measured lengths.

    The picture reports clicks, keys and texts to :meth:`act`, which serves scripts too.

    Examples
    --------
    >>> import heatloop as hl
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     trace = hl.trace_plan("data/alder-lodge/plan.pdf", state=folder + "/lodge.trace.json")
    ...     for x, y in [(200, 900), (1000, 900)]:
    ...         trace.act("click", x=x, y=y)
    ...
    ...     trace.act("text", text="8.00")
    ...     for x, y in [(300, 800), (300, 500), (700, 502), (699, 800)]:
    ...         trace.act("click", x=x, y=y)
    ...
    ...     trace.act("key", key="Enter")
    ...     trace.act("text", text="Study")
    ...
    >>> [(room.name, [wall.length_m for wall in room.walls]) for room in trace.rooms]
    [('Study', [3.0, 4.0, 3.0, 4.0])]
    >>> bool(trace.lengths["error_m"].max() < 0.1)
    True
    >>> trace.issues
    ()
    >>> 'name = "Study"' in trace.to_toml(indoor_c=20.0)
    True
    """

    def __init__(self, plan: Path, kept: KeptTracing, north_deg: float) -> None:
        self.plan, self.state_path = plan, kept.path
        self._kept, self._north_deg = kept, north_deg

    def act(self, event: str, **values: Any) -> None:
        """Take one step, as the picture reports it, and save the tracing if it changed.

        Parameters
        ----------
        event : str
            "click" (with x and y in pixels of the picture, from its top left corner; optional: screen_px, the number of
            pixels of the picture that one pixel of the screen covers, and free=True to leave the point where it is),
            "key" (key: "Enter", "Backspace", "Escape", "Delete", "undo" or "redo"), "text" (text: a length or a name),
            "tool" (tool: "scale", "room", "door", "window", "glazed door" or "select"), "page" (index, from 0) or
            "level" (text).
        **values
            Values of the event, as listed above.

        Raises
        ------
        ValueError
            If there is no such event, or a value of it does not exist.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     trace = hl.trace_plan("data/alder-lodge/plan.pdf", state=folder + "/lodge.trace.json")
        ...     trace.act("tool", tool="room")
        ...     trace.act("click", x=300, y=800)
        >>> trace.lengths.empty
        True
        """
        self._kept.act(event, values)
        if "widget" in vars(self):
            self.widget.show()

    @property
    def rooms(self) -> tuple[Room, ...]:
        """The traced rooms as survey objects, as `heatloop.build` makes them.

        Returns
        -------
        tuple of Room
            In the order of tracing. Numbers that a plan does not contain, such as the height of a window and the
            temperature of a room, are NaN.

        Raises
        ------
        InputError
            With every fault of the tracing, see :attr:`issues`.
        """
        return read_draft(tomllib.loads(self.to_toml()), None).survey.rooms

    @property
    def lengths(self) -> pd.DataFrame:
        """Length of every traced wall in m, from corner to corner, and its maximum error in m.

        Returns
        -------
        pandas.DataFrame
            Columns page, room, wall (from 1, in the order of the corners as clicked), length_m, error_m.
        """
        columns = ["page", "room", "wall", "length_m", "error_m"]
        found = wall_lengths(self._kept.session.tracing)
        return pd.DataFrame([[getattr(one, name) for name in columns] for one in found], columns=columns)

    @property
    def issues(self) -> tuple[InputIssue, ...]:
        """What is wrong with the tracing.

        Returns
        -------
        tuple of InputIssue
            No scale, rooms that overlap or cross themselves, openings on no wall.
        """
        return tuple(traced_rooms(self._kept.session.tracing, str(self.plan), self._north_deg)[1])

    def to_toml(
        self,
        *,
        project: str | None = None,
        indoor_c: float | None = None,
        height_m: float | None = None,
        outdoor_c: float | None = None,
        flow_temp_c: float | None = None,
    ) -> str:
        """The text of a survey file with the traced rooms, and "?" for each value that a plan does not contain.

        Parameters
        ----------
        project : str, optional
            Name of the project; by default the name of the plan.
        indoor_c, height_m : float, optional
            Temperature in °C and height in m of all rooms.
        outdoor_c, flow_temp_c : float, optional
            Design outdoor temperature and flow temperature in °C.

        Returns
        -------
        str

        Raises
        ------
        InputError
            With every fault of the tracing, see :attr:`issues`.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     trace = hl.trace_plan("data/alder-lodge/plan.pdf", state=folder + "/lodge.trace.json")
        >>> trace.to_toml(project="Lodge")
        Traceback (most recent call last):
        ...
        heatloop.findings.input_errors.InputError: data/alder-lodge/plan.pdf: found no room; ...
        """
        return survey_skeleton(self._drawn(), self._known(project, indoor_c, height_m, outdoor_c, flow_temp_c))

    def save(
        self,
        folder: str | Path,
        *,
        project: str | None = None,
        indoor_c: float | None = None,
        height_m: float | None = None,
        outdoor_c: float | None = None,
        flow_temp_c: float | None = None,
    ) -> list[Path]:
        """Write the survey of the traced rooms, survey.toml, and a catalogue into a folder.

        Parameters
        ----------
        folder : str or pathlib.Path
            Where to put the files; the folder is created if it does not exist.
        project : str, optional
            Name of the project; by default the name of the plan.
        indoor_c, height_m : float, optional
            Temperature in °C and height in m of all rooms.
        outdoor_c, flow_temp_c : float, optional
            Design outdoor temperature and flow temperature in °C.

        Returns
        -------
        list of pathlib.Path
            The files written.

        Raises
        ------
        InputError
            With every fault of the tracing, or if one of the files is there already; nothing is written then.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     trace = hl.trace_plan("data/alder-lodge/plan.pdf", state=folder + "/lodge.trace.json")
        ...     for x, y in [(200, 900), (1000, 900), (300, 800), (300, 500), (700, 500), (700, 800)]:
        ...         trace.act("click", x=x, y=y)
        ...         if x == 1000:
        ...             trace.act("text", text="8.00")
        ...     trace.act("key", key="Enter")
        ...     trace.act("text", text="Study")
        ...     [file.name for file in trace.save(folder, project="Lodge")]
        ['survey.toml', 'catalogue.toml']
        """
        return begun_files(folder, self._drawn(), self._known(project, indoor_c, height_m, outdoor_c, flow_temp_c))

    def _drawn(self) -> tuple[DrawnRoom, ...]:
        rooms, issues = traced_rooms(self._kept.session.tracing, str(self.plan), self._north_deg)
        if issues:
            raise InputError(issues)
        return rooms

    def _known(self, project: str | None, *numbers: float | None) -> TemplateOptions:
        indoor_c, height_m, outdoor_c, flow_temp_c = numbers
        remarks = [f"Page {page.number}: {length_words(page)}." for page in self._scaled()]
        options = TemplateOptions(origin=f"traced on {self.plan.name}", remarks=tuple(remarks))
        return replace(
            options, project=project or self.plan.stem, indoor_c=indoor_c, height_m=height_m, outdoor_c=outdoor_c,
            flow_temp_c=flow_temp_c,
        )  # fmt: skip

    def _scaled(self) -> list[TracedPage]:
        return [page for page in self._kept.session.tracing.pages if page.rooms and page.scale is not None]

    @cached_property
    def widget(self) -> TracingWidget:
        """The picture with its tools, as a widget."""
        from heatloop.workflows.tracing.widget import TracingWidget

        return TracingWidget(self._kept)

    def _ipython_display_(self) -> None:
        """Shown by a notebook as the picture with its tools."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]

    def __str__(self) -> str:
        tracing = self._kept.session.tracing
        openings = sum(len(page.openings) for page in tracing.pages)
        words = [f"page {page.number}: {length_words(page)}" for page in self._scaled()]
        counted = f"{self.plan}: {len(tracing.room_names)} rooms and {openings} openings traced"
        return "; ".join([counted, *words])


def _check(numbers: Sequence[object], levels: Sequence[object], north_deg: float, dpi: float) -> None:
    """Raise InputError for arguments that cannot be used."""
    issues = []
    if not numbers or any(not isinstance(one, int) or isinstance(one, bool) or one < 1 for one in numbers):
        issues.append(InputIssue("trace_plan", "page", quoted_value(numbers), "numbers of pages, from 1"))
    if len(set(numbers)) < len(numbers):
        issues.append(InputIssue("trace_plan", "page", quoted_value(numbers), "each page once"))
    if len(levels) != len(numbers) or not all(_within(level, LOWEST_M, HIGHEST_M) for level in levels):
        required = f"a number of m from {LOWEST_M:g} to {HIGHEST_M:g}, or one for each page"
        issues.append(InputIssue("trace_plan", "level_m", quoted_value(levels), required))
    if not _within(north_deg, -360.0, 360.0):
        required = "a bearing in degrees, from -360 to 360"
        issues.append(InputIssue("trace_plan", "north_deg", quoted_value(north_deg), required))
    if not _within(dpi, MIN_DPI, MAX_DPI):
        required = f"a number of pixels per inch, from {MIN_DPI:g} to {MAX_DPI:g}"
        issues.append(InputIssue("trace_plan", "dpi", quoted_value(dpi), required))
    if issues:
        raise InputError(issues)


def _within(value: Any, least: float, most: float) -> bool:
    return is_number(value) and least <= value <= most


def _check_libraries(path: Path) -> None:
    """Raise InputError if a library of the extra is not installed."""
    for name in ("anywidget", "pypdfium2"):
        if find_spec(name) is None:
            raise InputError([InputIssue(str(path), "", "a plan, but no library to trace it", f"{name}, {EXTRA}")])
