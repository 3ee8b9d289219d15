"""Remedies for a survey that does not pass, each tried in the solver."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue, check_given, quoted_value
from heatloop.handover.price_file import PriceList, read_prices
from heatloop.layout.build import validated_survey
from heatloop.results.improvement import REMEDIES, REMEDY_PARTS, REMEDY_ROOMS, ImprovementResult
from heatloop.survey.converting import changed_copy
from heatloop.survey.editing import Survey
from heatloop.survey.entry import survey_from
from heatloop.text.formatting import listing
from heatloop.text.table_set import table_frame
from heatloop.workflows.improve.candidates.remedies_for import families_for
from heatloop.workflows.improve.remedy import Remedy, are_compatible, with_remedies
from heatloop.workflows.improve.rows import Measure, Outcome, part_rows, ranked, remedy_row, room_rows
from heatloop.workflows.improve.shortcomings import shortcomings
from heatloop.workflows.improve.trial import Trial, Trials

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
    """

    survey: Survey
    tried: tuple[Remedy, ...]

    _internal = frozenset({"tried"})

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
        """
        return changed_copy(self.with_remedies(*numbers), path)


def improve(
    survey: Survey | str | Path, prices: PriceList | str | Path | None = None, progress: Said | None = None
) -> Improvement:
    """What would put right each check that a survey misses, each remedy tried in the solver.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path
        A survey, or the path of a survey file (TOML or .xlsx).
    prices : str or pathlib.Path, optional
        A price file, by which remedies are ranked. Without it they are ranked by the length of profile that they add.
    progress : callable, optional
        Called with the words of each change before it is sized.

    Returns
    -------
    Improvement

    Raises
    ------
    InputError
        If the survey or the price file has faults, or the survey cannot be sized.

    See Also
    --------
    lowest_flow_temperature : The lowest flow temperature at which all rooms reach their temperature.

    Notes
    -----
    Remedies are sought for failed checks of rooms. Of each remedy the least amount that resolves the check is listed,
    otherwise the greatest possible. Of amounts between which the effect does not rise throughout, one that
    resolves the check is found, and not always the least.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.improve("data/alder-lodge/survey.toml").summary["shortcomings"]
    0
    """
    held = validated_survey("improve", survey)
    check_given("improve", prices=(prices, PriceList | str | Path | None, "the path of a price file"))
    stock = read_prices(prices) if isinstance(prices, str | Path) else prices
    trials = Trials(held, progress)
    measure = Measure(trials.present, stock)
    missed = shortcomings(trials.present.verdict)
    outcomes: list[Outcome] = []
    without: list[str] = []
    for shortcoming in missed:
        families = families_for(trials.present.system, shortcoming)
        without += [] if families else [f"{shortcoming.check} ({shortcoming.location})"]
        found = [trials.least(family, shortcoming) for family in families]
        outcomes += ranked([Outcome(shortcoming, trial.remedies[0], trial) for trial in found], measure)
    numbered = list(enumerate(outcomes, start=1))
    rows = [remedy_row(number, outcome, measure) for number, outcome in numbered]
    sized = [(number, outcome.trial) for number, outcome in numbered if isinstance(outcome.trial, Trial)]
    frames = {
        REMEDIES.name: table_frame(REMEDIES, rows),
        REMEDY_ROOMS.name: table_frame(
            REMEDY_ROOMS, (row for number, trial in sized for row in room_rows(number, trial, trials.present))
        ),
        REMEDY_PARTS.name: table_frame(
            REMEDY_PARTS, (row for number, trial in sized for row in part_rows(number, trial, measure))
        ),
    }
    facts = {
        "project": held.project.name,
        "headline": trials.present.verdict.headline,
        "shortcomings": len(missed),
        "remedies": len(rows),
        "resolving": sum(row["resolves"] for row in rows),
        "tried": trials.count,
        "currency": "" if stock is None else stock.currency,
        "measure": measure.words,
        "without_remedy": "; ".join(without),
        "missing_prices": "; ".join(measure.missing),
    }
    return Improvement(frames, facts, held, tuple(outcome.remedy for outcome in outcomes))
