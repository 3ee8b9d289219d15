"""The public design object: its tables, figures and report parts, and the next steps from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatloop.findings.input_errors import is_number
from heatloop.handover.cutting.model import CutProgress
from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.parts.model import PartsOptions
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.results.design import DesignResult
from heatloop.results.operating_point import OperatingPoint
from heatloop.survey.editing import Survey
from heatloop.survey.entry import as_survey
from heatloop.survey.survey import at_flow_temp
from heatloop.workflows.commission import commission
from heatloop.workflows.fewer_bars import BarSavingResult, save_bars
from heatloop.workflows.handed_over import Commissioning, FirstFix, PartsList, one_of_each_kind
from heatloop.workflows.operating_point import simulate
from heatloop.workflows.order import first_fix, parts_list
from heatloop.workflows.size import size_survey

if TYPE_CHECKING:
    from heatloop.report.accessors.design import DesignPlots, DesignSections


class Design(DesignResult):
    """The sized system of a survey: flows, valve settings, tables and figures.

    A design is made by :func:`heatloop.size` and cannot be changed. Every access to a table returns a new copy, so
    changes of a copy do not affect the design. The columns of all tables, with units and meaning, are described on the
    page "Tables" of the documentation.

    Attributes
    ----------
    survey : Survey
        The survey that was sized.
    rooms, heat_loss_parts, output_range, glazing_comfort, remote_sensors, profile_ratings : pandas.DataFrame
        Tables of rooms and profiles.
    loops, elements, valves, temperature_profile, loop_isolation : pandas.DataFrame
        Tables of loops.
    pumps, pump_curves, source_heat_balance, checks, assumptions : pandas.DataFrame
        Tables of the whole system; `tables` has all of them by name.
    summary : dict
        Key figures by name, each with its unit in the name.
    plots : DesignPlots
        Figures of the report.
    show : DesignSections
        Tables of the report with heading and caption.
    levels_m : tuple of float
        Levels with surveyed rooms, in m, lowest first.
    measured_rooms : tuple of str
        Rooms whose walls have been surveyed.

    Examples
    --------
    >>> import heatloop as hl
    >>> design = hl.size("data/mill-annexe/survey.toml")
    >>> design.summary["index_loop"]
    'Annexe'
    >>> design.levels_m
    (0.0,)
    """

    @classmethod
    def of(cls, result: DesignResult) -> Design:
        """The design of a plain result; a design is returned unchanged."""
        return result if isinstance(result, cls) else cls(result.system, result.figures)

    @property
    def survey(self) -> Survey:
        """The survey that was designed."""
        return as_survey(self.system.survey)

    @cached_property
    def plots(self) -> DesignPlots:
        """The figures of the report; every method returns a Figure."""
        from heatloop.report.accessors.design import DesignPlots  # here, so that sizing does not load matplotlib

        return DesignPlots(self)

    @cached_property
    def show(self) -> DesignSections:
        """The tables of the report with heading and caption."""
        from heatloop.report.accessors.design import DesignSections  # here, so that sizing does not load matplotlib

        return DesignSections(self)

    @property
    def levels_m(self) -> tuple[float, ...]:
        """Levels with surveyed rooms in m, lowest first: those of `plots.storey_plan`.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").levels_m
        (0.0,)
        """
        return tuple(rooms_by_storey(self.survey, self.layout))

    @property
    def measured_rooms(self) -> tuple[str, ...]:
        """Names of the rooms whose walls have been surveyed: those of `plots.room_plan`."""
        return tuple(room.room for room in self.layout.rooms if room.geometry is not None)

    def parts(self, options: PartsOptions | None = None, progress: CutProgress | None = None) -> PartsList:
        """Parts to order, pieces to cut, and thermal movement.

        Parameters
        ----------
        options : PartsOptions, optional
            How to count and cut; None uses the defaults.
        progress : callable, optional
            Called during the search for a cutting plan with the stock, the best plan so far and the proved
            lower bound.

        Returns
        -------
        PartsList

        Raises
        ------
        InputError
            If the options do not fit the survey. Every issue is listed.

        Examples
        --------
        >>> import heatloop as hl
        >>> parts = hl.size("data/mill-annexe/survey.toml").parts()
        >>> parts.summary["pieces"] == len(parts.pieces)
        True
        """
        return PartsList.of(parts_list(self, options, progress))

    def first_fix(self, options: FirstFixOptions | None = None) -> FirstFix:
        """Pipe positions for first fix, before the floors are closed.

        Parameters
        ----------
        options : FirstFixOptions, optional
            Pipe lengths above the floor and the like; None uses the defaults.

        Returns
        -------
        FirstFix

        Raises
        ------
        InputError
            If an option is out of its range.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").first_fix().sheets()[0].title
        'Mill Annexe: first fix, level 0.00 m'
        """
        return FirstFix.of(first_fix(self, options))

    def commissioning(
        self,
        outdoor_c: float | None = None,
        flow_temp_c: float | None = None,
        treatment_rules: str | Path | None = None,
    ) -> Commissioning:
        """Settings, filling, checks and handover for the weather of the day.

        Parameters
        ----------
        outdoor_c : float, optional
            Outdoor temperature of the day in °C; None uses that of weather compensation in the survey, otherwise the
            design outdoor temperature.
        flow_temp_c : float, optional
            Flow temperature read at the source in °C; None uses that of weather compensation at this outdoor
            temperature, or the design flow temperature if the survey states no weather compensation.
        treatment_rules : str or pathlib.Path, optional
            A TOML file with rules of water treatment, which take precedence over those of the package.

        Returns
        -------
        Commissioning

        Raises
        ------
        InputError
            If the temperatures of the day are impossible.
        ValueError
            If the file holds no valid rules.
        OSError
            If the file cannot be read.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").commissioning(outdoor_c=5.0).summary["outdoor_c"]
        5.0
        """
        return Commissioning.of(commission(self, outdoor_c, flow_temp_c, treatment_rules))

    def simulate(self, **conditions: Any) -> OperatingPoint:
        """The system at other conditions; see :func:`heatloop.simulate` for the conditions.

        Parameters
        ----------
        **conditions
            Keyword arguments of :func:`heatloop.simulate`, for example `outdoor_c` in °C.

        Returns
        -------
        OperatingPoint

        Raises
        ------
        InputError
            If a condition contains an unknown name or is out of range.
        ArithmeticError
            If the equations of the system have no solution.

        Examples
        --------
        >>> import heatloop as hl
        >>> design = hl.size("data/mill-annexe/survey.toml")
        >>> bool(design.simulate(outdoor_c=8.0).summary["source_heat_w"] < design.summary["source_heat_w"])
        True
        """
        return simulate(self, **conditions)

    def save_bars(self, options: PartsOptions | None = None) -> BarSaving:
        """Straight joints that save whole bars of profile.

        Parameters
        ----------
        options : PartsOptions, optional
            How to cut; the search stops after the time limit of its cutting options.

        Returns
        -------
        BarSaving
            The joints, the cutting plans without and with them, and the design sized again with them.

        Raises
        ------
        InputError
            If the options do not fit the survey.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").save_bars().summary["joints_added"]
        1
        """
        saving = save_bars(self, options)
        return BarSaving(Design.of(saving.design), saving.added, saving.before, saving.after, saving.searched)

    def resize(self, survey: Survey | None = None, **changes: Any) -> Design:
        """Size again in other conditions: the same result as `heatloop.size` of the changed survey, but faster.

        The search for flows and temperatures starts from this design; the result does not depend on the start.

        Parameters
        ----------
        survey : Survey, optional
            The survey to size, for example `design.survey` with a changed room, another profile or one loop less;
            None uses `design.survey`.
        **changes
            Fields of `survey.project` with their new values: `flow_temp_c` and `outdoor_c` in °C, `delta_t_k` in K,
            `size_by`, and the like. A flow temperature applies to loops as in `Survey.with_flow_temp`.

        Returns
        -------
        Design

        Raises
        ------
        TypeError
            If the project has no such field.
        InputError
            If the changed survey is invalid or cannot be sized.

        Examples
        --------
        >>> import heatloop as hl
        >>> design = hl.size("data/mill-annexe/survey.toml")
        >>> cooler = design.resize(flow_temp_c=design.survey.project.flow_temp_c - 5.0)
        >>> bool(cooler.summary["heat_to_rooms_w"] < design.summary["heat_to_rooms_w"])
        True
        """
        survey = self.survey if survey is None else survey
        survey = replace(survey, project=replace(survey.project, **changes))
        if is_number(changes.get("flow_temp_c")):
            survey = at_flow_temp(survey, changes["flow_temp_c"])
        return Design.of(size_survey(survey, self.system))

    def write_files(self, folder: str | Path, *results: PartsList | FirstFix | Commissioning) -> tuple[Path, ...]:
        """Write workbook, JSON, CSV files and site sheets into an existing folder.

        Parameters
        ----------
        folder : str or pathlib.Path
            An existing folder. Files of the same names are replaced.
        *results : PartsList, FirstFix or Commissioning
            Results to write beside the design, at most one of each kind.

        Returns
        -------
        tuple of pathlib.Path
            The files written.

        Raises
        ------
        InputError
            If a result is of another kind, or two are of one kind.
        OSError
            If a file cannot be written.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     [file.name for file in hl.size("data/mill-annexe/survey.toml").write_files(folder)][:2]
        ['design.xlsx', 'design.json']
        """
        from heatloop.report.files.write_all import write_design_files  # here, so that sizing does not load openpyxl

        return write_design_files(self, folder, *one_of_each_kind(self.survey, results))


def size(survey: Survey | str | Path) -> Design:
    """Size the heating system of a survey: flows, valve settings and all tables of the design.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path
        A survey, or the path of a survey file (TOML or .xlsx).

    Returns
    -------
    Design
        The sized system. Every loop has the flow that gives its temperature drop (or, where the survey states so,
        the heat loss of its rooms) and every balancing valve has the setting that takes the surplus pressure.

    Raises
    ------
    InputError
        If the survey has faults or cannot be sized. Every issue is listed with its place in the file.

    See Also
    --------
    read_survey : Read a survey without sizing it.
    simulate : The operating point of a sized system at other conditions.
    lowest_flow_temperature : The lowest flow temperature at which all rooms reach their temperature.

    Notes
    -----
    Heat losses follow EN 12831-1, ratings of profiles EN 442-2. Temperatures along the channels of the skirting, flows
    and pressures are solved together; the page "Method" of the documentation gives the equations.

    Examples
    --------
    >>> import heatloop as hl
    >>> design = hl.size("data/mill-annexe/survey.toml")
    >>> design.summary["checks_failed"]
    0
    >>> design.rooms[["room", "indoor_c"]].shape
    (1, 2)
    """
    return Design.of(size_survey(survey))


@dataclass(frozen=True, eq=False, repr=False)
class BarSaving(BarSavingResult):
    """Straight joints that save bars of profile, from `Design.save_bars`.

    Attributes
    ----------
    design : Design
        The design sized again with the joints; if no joint saves a bar, the original design.
    added : tuple of (str, StraightJoint)
        The joints, each with the name of its loop.
    before, after : CutPlan or None
        The cutting plans without and with the joints; None where there is nothing to cut.
    searched : bool
        Whether every straight length was tried within the time limit.
    survey_lines : tuple of str
        Lines for the survey that add these joints, one for each loop.

    Examples
    --------
    >>> import heatloop as hl
    >>> saving = hl.size("data/mill-annexe/survey.toml").save_bars()
    >>> saving.summary["bars_saved"]
    1
    """

    design: Design
