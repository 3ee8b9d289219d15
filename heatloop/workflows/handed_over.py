"""Public objects for parts list, first fix and commissioning, with their figures and report parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from heatloop.findings.input_errors import InputError, check_given
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.price_file import PriceList
from heatloop.handover.quotation import Quotation, quotation_from
from heatloop.survey.survey import SurveyData

if TYPE_CHECKING:
    from heatloop.report.accessors.handed_over import (
        CommissioningSections,
        FirstFixPlots,
        FirstFixSections,
        PartsPlots,
        PartsSections,
    )
    from heatloop.report.drawings.geometry import DrawingSheet


class PartsList(PartsListResult):
    """Parts to order, pieces to cut and thermal movement of a design.

    A parts list is made by `Design.parts` and cannot be changed; its tables are new copies.

    Attributes
    ----------
    parts, pieces, cuts, joints, thermal_movement, expansion_gaps, pipework, parts_notes : pandas.DataFrame
        The tables; the page "Tables" of the documentation describes their columns.
    cut_plan : CutPlan or None
        How each bar is cut; None where there is nothing to cut.
    summary : dict
        Key figures by name, each with its unit in the name.
    plots : PartsPlots
        The cutting plan as a figure.
    show : PartsSections
        Tables of the report with heading and caption.

    Examples
    --------
    >>> import heatloop as hl
    >>> parts = hl.size("data/mill-annexe/survey.toml").parts()
    >>> {"item", "order_quantity", "unit"} <= set(parts.parts)
    True
    """

    @classmethod
    def of(cls, result: PartsListResult) -> PartsList:
        """The parts list of a plain result."""
        return cls(**{field.name: getattr(result, field.name) for field in fields(result)})

    @cached_property
    def plots(self) -> PartsPlots:
        """The figures of the parts list.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.size("data/mill-annexe/survey.toml").parts().plots.cutting_plan().alt_text[:30]
        'Cutting plan, 5 bars drawn to '
        """
        from heatloop.report.accessors.handed_over import PartsPlots  # here, so that counting needs no matplotlib

        return PartsPlots(self)

    @cached_property
    def show(self) -> PartsSections:
        """The tables of the parts list with heading and caption.

        Examples
        --------
        >>> import heatloop as hl
        >>> "<table" in str(hl.size("data/mill-annexe/survey.toml").parts().show.parts())
        True
        """
        from heatloop.report.accessors.handed_over import PartsSections  # here, so that counting needs no matplotlib

        return PartsSections(self)

    def price(self, prices: PriceList | str | Path) -> Quotation:
        """The parts list priced by a price file.

        Parameters
        ----------
        prices : str or pathlib.Path
            The path of a price file (CSV or .xlsx).

        Returns
        -------
        Quotation
            Cost without waste and as ordered, and the minutes of labour. Items without a price are listed as missing
            and are not included in totals.

        Raises
        ------
        InputError
            If the file has faults, or prices an item per a unit in which it is not counted.

        Examples
        --------
        >>> import heatloop as hl
        >>> parts = hl.size("data/alder-lodge/survey.toml").parts(
        ...     hl.PartsOptions(cutting=hl.CuttingOptions(time_limit_s=0.5))
        ... )
        >>> parts.price("data/alder-lodge/prices.csv").missing
        ()
        """
        return quotation_from(self, prices)


class FirstFix(FirstFixResult):
    """Positions of the pipes before the floors close.

    A first fix is made by `Design.first_fix` and cannot be changed; its tables are new copies.

    Attributes
    ----------
    pipe_positions, pipe_runs, pipe_totals, first_fix_checks, notes : pandas.DataFrame
        The tables; the page "Tables" of the documentation describes their columns.
    summary : dict
        Key figures by name, each with its unit in the name.
    plots : FirstFixPlots
        The drawings.
    show : FirstFixSections
        Tables of the report with heading and caption.

    Examples
    --------
    >>> import heatloop as hl
    >>> first_fix = hl.size("data/mill-annexe/survey.toml").first_fix()
    >>> len(first_fix.sheets())
    1
    """

    @classmethod
    def of(cls, result: FirstFixResult) -> FirstFix:
        """The first fix of a plain result."""
        return cls(**{field.name: getattr(result, field.name) for field in fields(result)})

    def sheets(self) -> tuple[DrawingSheet, ...]:
        """The drawings on A3: each level at a true scale with its table, in parts where it is too large for one.

        The title block is that of the survey's `[document]`, issued today where it states no date.

        Examples
        --------
        >>> import heatloop as hl
        >>> len(hl.size("data/mill-annexe/survey.toml").first_fix().sheets())
        1
        """
        from heatloop.report.control.control import document_control  # here, so that planning needs no matplotlib
        from heatloop.report.drawings.first_fix_sheets import first_fix_sheets  # here, as above

        return first_fix_sheets(self, document_control(self.survey, self.verdict))

    def write_drawings(self, folder: str | Path) -> tuple[Path, ...]:
        """Write the drawings into a folder: all sheets as one PDF, and a DXF file for each level.

        Parameters
        ----------
        folder : str or pathlib.Path
            The folder; it is made if it does not exist. Files of the same names are replaced.

        Returns
        -------
        tuple of pathlib.Path
            The files written; no DXF where the extra `drawing` is not installed, none at all without positions.

        Raises
        ------
        OSError
            If a file cannot be written.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     written = hl.size("data/mill-annexe/survey.toml").first_fix().write_drawings(folder)
        ...     sorted({file.suffix for file in written})
        ['.dxf', '.pdf']
        """
        from heatloop.report.control.control import document_control  # here, so that planning needs no matplotlib
        from heatloop.report.files.first_fix_drawings import write_first_fix  # here, as above

        control = document_control(self.survey, self.verdict)
        place = Path(folder)
        place.mkdir(parents=True, exist_ok=True)
        return tuple(place / file.name for file in write_first_fix(self, control, place))

    @cached_property
    def plots(self) -> FirstFixPlots:
        """The drawings as figures.

        Examples
        --------
        >>> import heatloop as hl
        >>> first_fix = hl.size("data/mill-annexe/survey.toml").first_fix()
        >>> first_fix.plots.sheet(first_fix.sheets()[0]).alt_text[:11]
        'First fix, '
        """
        from heatloop.report.accessors.handed_over import FirstFixPlots  # here, so that planning needs no matplotlib

        return FirstFixPlots(self)

    @cached_property
    def show(self) -> FirstFixSections:
        """The tables of the first fix with heading and caption.

        Examples
        --------
        >>> import heatloop as hl
        >>> "<table" in str(hl.size("data/mill-annexe/survey.toml").first_fix().show.pipe_totals())
        True
        """
        from heatloop.report.accessors.handed_over import FirstFixSections  # here, as above

        return FirstFixSections(self)


class Commissioning(CommissioningResult):
    """Settings, filling, checks and handover for the weather of a day.

    This object is made by `Design.commissioning` and cannot be changed; its tables are new copies.

    Attributes
    ----------
    commissioning, part_load, surface_temperatures : pandas.DataFrame
        Tables for commissioning.
    commissioning_checks, water_content, pressures_table, fill_and_vent, purging, treatment, doses : pandas.DataFrame
        Tables for filling and cleaning.
    settings_as_left, water_record, user_guide, annual_checks : pandas.DataFrame
        Tables for the owner of the house.
    summary : dict
        Key figures by name, each with its unit in the name.
    show : CommissioningSections
        Tables of the report with heading and caption.

    Examples
    --------
    >>> import heatloop as hl
    >>> commissioning = hl.size("data/mill-annexe/survey.toml").commissioning(outdoor_c=5.0)
    >>> commissioning.summary["outdoor_c"]
    5.0
    """

    @classmethod
    def of(cls, result: CommissioningResult) -> Commissioning:
        """The commissioning of a plain result."""
        return cls(**{field.name: getattr(result, field.name) for field in fields(result)})

    @cached_property
    def show(self) -> CommissioningSections:
        """Sections of the report for the site and for the users of the house.

        Examples
        --------
        >>> import heatloop as hl
        >>> type(hl.size("data/mill-annexe/survey.toml").commissioning(outdoor_c=5.0).show).__name__
        'CommissioningSections'
        """
        from heatloop.report.accessors.handed_over import CommissioningSections  # here: pages are loaded when shown

        return CommissioningSections(self)


def one_of_each_kind(
    survey: SurveyData, results: Sequence[PartsList | FirstFix | Commissioning]
) -> tuple[PartsList | None, FirstFix | None, Commissioning | None]:
    """The results by their kind, None for a kind that is not given; InputError for another kind or two of one."""
    by_type: dict[type, Any] = {}
    kinds = (PartsList, FirstFix, Commissioning)
    for number, result in enumerate(results, start=1):
        required = PartsList | FirstFix | Commissioning
        check_given("write_files", **{f"result {number}": (result, required, "a PartsList, FirstFix or Commissioning")})
        kind = next(kind for kind in kinds if isinstance(result, kind))
        if kind in by_type:
            found = f"two results of the kind {kind.__name__}"
            raise InputError([survey.fault("write_files", found, "at most one")])
        by_type[kind] = result
    return by_type.get(PartsList), by_type.get(FirstFix), by_type.get(Commissioning)
