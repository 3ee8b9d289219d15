"""A whole design that follows sliders in a notebook: each change is sized starting from the design before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.findings.input_errors import InputError
from heatloop.results.summaries import short_rooms
from heatloop.survey.editing import Survey
from heatloop.survey.entry import survey_from
from heatloop.workflows.design import Design, size
from heatloop.workflows.size import size_valid

if TYPE_CHECKING:
    import ipywidgets

KEPT_COLUMNS = (
    "design", "flow_temp_c", "delta_t_k", "outdoor_c", "verdict", "short_rooms", "min_margin_w", "pump_flow_l_h",
    "pump_head_kpa",
)  # fmt: skip


@dataclass(frozen=True)
class DesignValues:
    """Values of the controls of a live design.

    Attributes
    ----------
    flow_temp_c, outdoor_c : float
        Flow temperature of the source and design outdoor temperature, °C.
    delta_t_k : float
        Design temperature drop in K of loops that do not state one.
    profiles : mapping of str to str
        Profile by loop, where it differs from the survey.
    loops_off : frozenset of str
        Loops that are left out, as if they were not built.
    heat_losses_w : mapping of str to float
        Heat loss by room, W, where it differs from the survey.
    """

    flow_temp_c: float
    outdoor_c: float
    delta_t_k: float
    profiles: Mapping[str, str] = field(default_factory=dict)
    loops_off: frozenset[str] = frozenset()
    heat_losses_w: Mapping[str, float] = field(default_factory=dict)


class InteractiveDesign:
    """A design with sliders for its flow temperature, drop, outdoor temperature, profiles, loops and heat losses.

    In a notebook the object shows its controls and a button that keeps a design. Below them are the verdict, the plans,
    the margins of all rooms, and the loops; they follow every change. The displayed design is that of `heatloop.size`
    for `survey`.

    Parameters
    ----------
    survey : Survey, Design, str or pathlib.Path
        The survey to start with, its file, or a design of it.

    Attributes
    ----------
    base : Survey
        The survey at the start.
    values : DesignValues
        Values of the controls.
    survey : Survey or None
        The survey with these values; None where they are invalid.
    design : Design or None
        Its design; None where there is none, with the reasons in `faults`.
    faults : tuple of str
        Reasons why there is no design, one line each.
    kept : dict of str to Design
        The designs that were kept, by name.
    solves : int
        Number of changes that were sized.
    is_checked : bool
        Whether the displayed design has been checked against all limits.

    Raises
    ------
    InputError
        If the given survey is invalid or cannot be sized.

    Examples
    --------
    >>> import heatloop as hl
    >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
    >>> live.change(flow_temp_c=60.0)
    >>> abs(live.design.summary["heat_to_rooms_w"] - hl.size(live.survey).summary["heat_to_rooms_w"]) < 1e-6
    True
    """

    def __init__(self, survey: Survey | Design | str | Path) -> None:
        first = survey if isinstance(survey, Design) else size(survey_from("InteractiveDesign", survey))
        self.base, self._last = first.survey, first
        project = self.base.project
        self.values = DesignValues(project.flow_temp_c, project.outdoor_c, project.delta_t_k)
        self.survey: Survey | None = self.base
        self.design: Design | None = first
        self.faults: tuple[str, ...] = ()
        self.kept: dict[str, Design] = {}
        self.solves = 0
        self.is_checked = True
        self._verdict = first.verdict

    def change(self, *, check: bool = True, **values: Any) -> None:
        """Set values and size again; where this gives no design, the reasons are in `faults`.

        Parameters
        ----------
        check : bool, default True
            Whether to check the design against all limits. This takes about as long as the sizing; `check` does
            it later.
        **values
            Fields of :class:`DesignValues` with their new values.

        Raises
        ------
        TypeError
            If there is no such field.

        Examples
        --------
        >>> import heatloop as hl
        >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
        >>> live.change(flow_temp_c=50.0)
        >>> live.design.summary["flow_temp_c"]
        50.0
        """
        self.values = replace(self.values, **values)
        self.solves += 1
        try:
            self.survey = self._changed()
            design = Design.of(size_valid(self.survey, self._last.system))
            design.rooms, design.loops  # noqa: B018  what is shown is calculated here, so that its errors are caught
        except (InputError, ArithmeticError) as error:
            self._note_faults(error)
        else:
            self.design, self._last, self.faults, self.is_checked = design, design, (), False
            if check:
                self.check()

    def check(self) -> None:
        """Check the displayed design against all limits, where that has not been done.

        Examples
        --------
        >>> import heatloop as hl
        >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
        >>> live.change(check=False, flow_temp_c=60.0)
        >>> live.check()
        >>> live.is_checked
        True
        """
        if self.design is None or self.is_checked:
            return
        try:
            self._verdict, self.is_checked = self.design.verdict, True
        except (InputError, ArithmeticError) as error:
            self._note_faults(error)

    def _note_faults(self, error: InputError | ArithmeticError) -> None:
        """Keep the reasons why there is no design at these values."""
        self.design, self.faults, self.is_checked = None, tuple(str(error).splitlines()), True
        self.survey = None if isinstance(error, InputError) else self.survey

    @property
    def rooms(self) -> pd.DataFrame:
        """Rooms of the displayed design, or of the last one where there is none.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.InteractiveDesign("data/mill-annexe/survey.toml").rooms["room"].tolist()
        ['Annexe']
        """
        return self._last.rooms

    def _changed(self) -> Survey:
        """The survey with all values of the controls."""
        values, survey = self.values, self.base
        for loop, profile in values.profiles.items():
            survey = survey.with_profile(loop, profile)
        if values.heat_losses_w:
            survey = survey.with_values(
                {"room": {room: {"heat_loss_w": float(heat_w)} for room, heat_w in values.heat_losses_w.items()}}
            )
        for loop in sorted(values.loops_off):
            survey = survey.without_loop(loop)
        project = replace(survey.project, outdoor_c=values.outdoor_c, delta_t_k=values.delta_t_k)
        if values.flow_temp_c != project.flow_temp_c:
            return replace(survey, project=project).with_flow_temp(values.flow_temp_c)
        if project != survey.project:
            return replace(survey, project=project).with_outdoor(values.outdoor_c)  # checks the drop too
        return survey

    def keep(self, name: str) -> None:
        """Keep the displayed design under a name, for comparison with others.

        Parameters
        ----------
        name : str
            The name; an earlier design of this name is replaced.

        Raises
        ------
        ValueError
            If there is no design at these values.

        Examples
        --------
        >>> import heatloop as hl
        >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
        >>> live.keep("as surveyed")
        >>> len(live.comparison())
        1
        """
        if self.design is None:
            raise ValueError(f"no design to keep: {'; '.join(self.faults)}")
        self.kept[name] = self.design

    def comparison(self) -> pd.DataFrame:
        """The kept designs side by side.

        Returns
        -------
        pandas.DataFrame
            One row for each kept design: its conditions, verdict, rooms short of heat, smallest margin in W, pump flow
            in l/h and pump head in kPa.

        Examples
        --------
        >>> import heatloop as hl
        >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
        >>> live.keep("as surveyed")
        >>> live.comparison().shape[0] > 0
        True
        """
        rows = []
        for name, design in self.kept.items():
            project, rooms = design.survey.project, design.rooms
            rows.append(
                (
                    name, project.flow_temp_c, project.delta_t_k, project.outdoor_c, design.verdict.state,
                    len(short_rooms(rooms)), float(rooms["margin_w"].min()), design.summary["pump_flow_l_h"],
                    design.summary["pump_head_kpa"],
                )
            )  # fmt: skip
        return pd.DataFrame(rows, columns=list(KEPT_COLUMNS))

    def save(self, path: str | Path) -> Path:
        """Save the survey of the displayed design; it states the path of the catalogue relative to the new file.

        Parameters
        ----------
        path : str or pathlib.Path
            A new file, TOML or .xlsx.

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        ValueError
            If there is no valid survey at these values.
        InputError
            As for :meth:`heatloop.Survey.save`.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
        >>> live.change(flow_temp_c=65.0)
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     live.save(f"{folder}/changed.toml").name
        'changed.toml'
        """
        if self.survey is None:
            raise ValueError(f"no survey to save: {'; '.join(self.faults)}")
        return self.survey.save(path)

    def markup(self) -> str:
        """The content below the controls, as HTML.

        Examples
        --------
        >>> import heatloop as hl
        >>> "<svg" in hl.InteractiveDesign("data/mill-annexe/survey.toml").markup()
        True
        """
        from heatloop.report.pages.live_design import fault_page, live_page  # here: sizing does not load the pages

        if self.design is None:
            return fault_page(self.faults).markup
        return live_page(self.design, self._verdict, self.is_checked).markup

    def kept_markup(self) -> str:
        """The kept designs side by side, as HTML; empty where none is kept.

        Examples
        --------
        >>> import heatloop as hl
        >>> live = hl.InteractiveDesign("data/mill-annexe/survey.toml")
        >>> live.keep("as surveyed")
        >>> "as surveyed" in live.kept_markup()
        True
        """
        from heatloop.report.pages.live_design import kept_page  # here: sizing does not load the pages

        return kept_page(self.comparison().to_dict("records")).markup if self.kept else ""

    @cached_property
    def widget(self) -> ipywidgets.Widget:
        """The controls and the content below them. ImportError without ipywidgets (`heatloop[notebook]`)."""
        from heatloop.workflows.live.controls import design_controls

        return design_controls(self)

    def _ipython_display_(self) -> None:
        """Display the controls in a notebook."""
        from IPython.display import display

        display(self.widget)  # type: ignore[no-untyped-call]
