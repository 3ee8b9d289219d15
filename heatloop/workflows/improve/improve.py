"""Remedies for a survey that does not pass, each tried in the solver."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, check_given, is_number, quoted_value
from heatloop.handover.price_file import PriceList, read_prices
from heatloop.layout.build import validated_survey
from heatloop.results.improvement import BY_FLOW_TEMP, REMEDIES, REMEDY_PARTS, REMEDY_ROOMS, ImprovementResult
from heatloop.survey.converting import write_survey
from heatloop.survey.editing import Survey
from heatloop.survey.energy.model import Year
from heatloop.survey.entry import survey_from
from heatloop.survey.read import read_year
from heatloop.text.formatting import listing
from heatloop.text.table_set import table_frame
from heatloop.workflows.energy.weather_curve import max_flow_temp_c
from heatloop.workflows.improve.by_flow_temp import at_flow_temps, flow_temp_row
from heatloop.workflows.improve.remedy import Remedy, are_compatible, with_remedies
from heatloop.workflows.improve.remedy_list import tried_families
from heatloop.workflows.improve.rows import Measure, Outcome, part_rows, ranked, remedy_row, room_rows
from heatloop.workflows.improve.shortcomings import Shortcoming, shortcomings
from heatloop.workflows.improve.trial import Trial, Trials

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from heatloop.report.plots.figure import Figure
    from heatloop.report.plots.palette import Style

MAX_TEMPS, MAX_TRIES = 12, 60

Said = Callable[[str], None]
"""Called with the words of each change before it is sized."""


@dataclass(frozen=True, eq=False, repr=False)
class Improvement(ImprovementResult):
    """Remedies for every check that a survey misses, from :func:`heatloop.improve`.

    A notebook shows the remedies of each check, the best first.

    Attributes
    ----------
    survey : Survey
        The present survey.
    remedies, remedy_rooms, remedy_parts : pandas.DataFrame
        The remedies, and the effect of each on rooms and parts; the page "Tables" of the documentation describes their
        columns.
    cheapest_surveys : pandas.DataFrame
        The least costly survey with which no check fails at each flow temperature of the search.
    summary : dict
        Key figures by name.

    Examples
    --------
    >>> import heatloop as hl
    >>> cold = hl.read_survey("data/mill-annexe/survey.toml").with_flow_temp(65.0)
    >>> found = hl.improve(cold)
    >>> found.remedies["remedy"].iloc[0]
    'temperature drop of loop Annexe from 15.0 to 11.5 K'
    >>> hl.size(found.with_remedies(1)).summary["checks_failed"]
    0
    >>> found.cheapest_survey().loops[0].delta_t_k
    11.5
    """

    survey: Survey
    tried: tuple[Remedy, ...]
    cheapest: Mapping[float, Survey]

    _internal = frozenset({"tried", "cheapest"})

    def with_remedies(self, *numbers: int) -> Survey:
        """The survey with some of the remedies.

        Parameters
        ----------
        *numbers : int
            Numbers of remedies in the table of remedies.

        Returns
        -------
        Survey
            A changed copy.

        Raises
        ------
        InputError
            If there is no such remedy, if two of them change the same thing, or if the changed survey has errors.

        Examples
        --------
        >>> import heatloop as hl
        >>> found = hl.improve(hl.read_survey("data/mill-annexe/survey.toml").with_flow_temp(65.0))
        >>> found.with_remedies(1).loops[0].delta_t_k
        11.5
        """
        known = dict(enumerate(self.tried, start=1))
        for held in numbers:
            if held not in known:
                required = f"numbers of remedies, 1 to {len(known)}" if known else "nothing: there is no remedy"
                raise InputError([InputIssue("improve", "numbers", quoted_value(held), required)])
        chosen = [known[held] for held in numbers]
        if not are_compatible(chosen):
            found = f"remedies {listing(map(str, numbers))}, which change the same thing"
            raise InputError([InputIssue("improve", "numbers", found, "remedies of different things")])
        return survey_from("improve", with_remedies(self.survey, chosen))

    def cheapest_survey(self, flow_temp_c: float | None = None) -> Survey:
        """The least costly survey that was found with which no check fails.

        Parameters
        ----------
        flow_temp_c : float, optional
            One of the flow temperatures of the search in °C; None uses that of the present survey.

        Returns
        -------
        Survey
            The present survey at this flow temperature if it passes itself.

        Raises
        ------
        InputError
            If no such survey was found at this flow temperature.

        Examples
        --------
        >>> import heatloop as hl
        >>> found = hl.improve(hl.read_survey("data/mill-annexe/survey.toml").with_flow_temp(65.0))
        >>> found.cheapest_survey(65.0).loops[0].delta_t_k
        11.5
        """
        chosen_c = self.survey.project.flow_temp_c if flow_temp_c is None else flow_temp_c
        if chosen_c not in self.cheapest:
            tried = chosen_c in self.frames[BY_FLOW_TEMP.name]["flow_temp_c"].tolist()
            reason = "at which no design without a failed check was found" if tried else "which was not searched"
            required = listing((f"{c:g}" for c in self.cheapest), "or") or "a flow temperature with such a design"
            place = "flow temperature (flow_temp_c, --flow-temp)"
            raise InputError([InputIssue("improve", place, f"{quoted_value(chosen_c)}, {reason}", required)])
        return self.cheapest[chosen_c]

    def plot(self, ax: Axes | None = None, style: Style = "report") -> Figure:
        """Price of the least costly survey, or the profile that it adds, against the flow temperature.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw into; None makes a new figure.
        style : {"report", "own"}, default "report"
            Settings of matplotlib: those of the report, or the caller's own.

        Returns
        -------
        Figure

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.improve("data/mill-annexe/survey.toml", flow_temps_c=(70.0,)).plot().alt_text
        'Least cost by flow temperature. 70.0 °C: 0.00 m.'
        """
        from heatloop.report.plots.price_by_flow_temp import price_by_flow_temp_plot  # here: matplotlib is slow to load

        return price_by_flow_temp_plot(self, ax, style)

    def save(self, path: str | Path, *numbers: int) -> Path:
        """Write the survey with some of the remedies into a new file; comments of a survey file (TOML) are kept.

        Parameters
        ----------
        path : str or pathlib.Path
            A new file, .toml or .xlsx.
        *numbers : int
            Numbers of remedies in the table of remedies.

        Returns
        -------
        pathlib.Path
            The file.

        Raises
        ------
        InputError
            If the file exists or cannot be written, or as for `with_remedies`.

        Examples
        --------
        >>> import heatloop as hl, tempfile
        >>> found = hl.improve(hl.read_survey("data/mill-annexe/survey.toml").with_flow_temp(65.0))
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     found.save(f"{folder}/changed.toml", 1).name
        'changed.toml'
        """
        return write_survey(self.with_remedies(*numbers), path, keep_comments=True)


def improve(
    survey: Survey | str | Path,
    prices: PriceList | str | Path | None = None,
    flow_temps_c: Sequence[float] | None = None,
    max_tries: int = MAX_TRIES,
    progress: Said | None = None,
    year: Year | str | Path | None = None,
) -> Improvement:
    """Remedies for each check that a survey misses, and their least costly combination with which no check fails.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path
        A survey, or the path of a survey file (TOML or .xlsx).
    prices : str or pathlib.Path, optional
        A price file: the cost is the price of the fitted parts. Without it, it is the length of profile.
    flow_temps_c : sequence of float, optional
        Flow temperatures in °C, at most twelve, at which the least costly survey is searched; None uses that of the
        survey, an empty sequence none.
    max_tries : int, default 60
        Combinations of remedies that are sized at one flow temperature before the search ends with a lower bound.
    progress : callable, optional
        Called with the words of each change before it is sized.
    year : Year, str or pathlib.Path, optional
        A year file: the cost of the energy of a year then stands beside the price of each least costly survey.

    Returns
    -------
    Improvement

    Raises
    ------
    InputError
        If the survey, the price file or the year file has faults, or the survey cannot be sized.

    See Also
    --------
    yearly_energy : The energy of a year of one system.
    lowest_flow_temperature : The lowest flow temperature at which all rooms reach their temperature.

    Notes
    -----
    Remedies are sought for failed checks and for missed limits of comfort. Of each remedy the least amount that
    resolves the check is listed, otherwise the greatest possible. Where more of the remedy does
    not always help more, the amount found resolves the check but need not be the least.

    The search combines up to three remedies of the same loops with those of other loops by rising cost, each
    combination sized as a whole, until one passes. Remedies whose cost is not in the parts list are left out. A
    combination is not sized if, sized alone, the remedies of one loop leave a room of that loop short by more than 1 %.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.improve("data/alder-lodge/survey.toml").summary["shortcomings"]
    0
    """
    held = validated_survey("improve", survey)
    check_given(
        "improve",
        prices=(prices, PriceList | str | Path | None, "the path of a price file"),
        year=(year, Year | str | Path | None, "the path of a year file"),
    )
    temps_c = _checked_temps_c(held, flow_temps_c, max_tries)
    stock = read_prices(prices) if isinstance(prices, str | Path) else prices
    season = read_year(year) if isinstance(year, str | Path) else year
    trials = Trials(held, progress)
    measure = Measure(trials.present, stock)
    missed = shortcomings(trials.present.verdict)
    tried = list(tried_families(trials, missed))
    plain = _in_order(missed, [one.outcome for one in tried], Measure(trials.present, None))
    outcomes = [(plain.index(outcome) + 1, outcome) for outcome in _in_order(missed, plain, measure)]
    searched = list(at_flow_temps(trials, lambda present: Measure(present, stock), temps_c, max_tries))
    frames = _frames(outcomes, measure)
    rows = [
        flow_temp_row(at, Measure(at.present or trials.present, stock), stock is not None, season) for at in searched
    ]
    frames[BY_FLOW_TEMP.name] = table_frame(BY_FLOW_TEMP, rows)
    without = [one for one in missed if not any(family.shortcoming is one for family in tried)]
    facts = {
        "project": held.project.name,
        "headline": trials.present.verdict.headline,
        "checks_failed": len(trials.present.verdict.fails),
        "shortcomings": len(missed),
        "remedies": len(outcomes),
        "resolving": int(frames[REMEDIES.name]["resolves"].sum()),
        "tried": trials.count,
        "currency": "" if stock is None else stock.currency,
        "year": "" if season is None else season.name,
        "year_currency": "" if season is None else season.currency,
        "measure": measure.words,
        "without_remedy": "; ".join(f"{one.check} ({one.location})" for one in without),
        "missing_prices": "; ".join(measure.missing),
    }
    found = {at.flow_temp_c: at.found.trial.survey for at in searched if at.found.trial is not None}
    return Improvement(frames, facts, held, tuple(outcome.remedy for outcome in plain), found)


def _in_order(missed: Sequence[Shortcoming], outcomes: Sequence[Outcome], measure: Measure) -> list[Outcome]:
    """The remedies of each shortcoming, the best first; their order without prices numbers them."""
    return [
        outcome
        for shortcoming in missed
        for outcome in ranked([one for one in outcomes if one.shortcoming is shortcoming], measure)
    ]


def _checked_temps_c(survey: Survey, flow_temps_c: Sequence[float] | None, max_tries: int) -> list[float]:
    """Flow temperatures of the search, lowest first; InputError for other arguments."""
    temps_c = [survey.project.flow_temp_c] if flow_temps_c is None else flow_temps_c
    issues = []
    is_list = isinstance(temps_c, Sequence) and not isinstance(temps_c, str)
    max_c = max_flow_temp_c(survey)
    if not is_list or len(temps_c) > MAX_TEMPS or not all(is_number(c) and 20.0 <= c <= max_c for c in temps_c):
        required = f"at most {MAX_TEMPS} temperatures from 20 to {max_c:g} °C"
        issues.append(InputIssue("improve", "flow_temps_c", quoted_value(flow_temps_c), required))
    if not isinstance(max_tries, int) or isinstance(max_tries, bool) or max_tries < 1:
        issues.append(InputIssue("improve", "max_tries", quoted_value(max_tries), "a whole number, 1 or more"))
    if issues:
        raise InputError(issues)
    return sorted(dict.fromkeys(map(float, temps_c)))


def _frames(numbered: Sequence[tuple[int, Outcome]], measure: Measure) -> dict[str, pd.DataFrame]:
    """The tables of remedies, each remedy with its number."""
    sized = [(number, outcome.trial) for number, outcome in numbered if isinstance(outcome.trial, Trial)]
    rooms = (row for number, trial in sized for row in room_rows(number, trial, measure.present))
    parts = (row for number, trial in sized for row in part_rows(number, trial, measure))
    return {
        REMEDIES.name: table_frame(REMEDIES, (remedy_row(number, outcome, measure) for number, outcome in numbered)),
        REMEDY_ROOMS.name: table_frame(REMEDY_ROOMS, rooms),
        REMEDY_PARTS.name: table_frame(REMEDY_PARTS, parts),
    }
