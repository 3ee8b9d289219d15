"""Many dwellings sized in lots: the rows of one lot after the other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue, check_given, quoted_value
from heatloop.results.many_dwellings.sized_dwellings import SizedDwellings
from heatloop.survey.editing import Survey
from heatloop.survey.survey import SurveyData
from heatloop.workflows.many_dwellings.one_lot import Entry, LotSizer

LOT_SIZE = 80
"""Dwellings of a lot. In smaller lots the calls of each step take most of the time; the arrays of larger ones do not
fit the cache of the processor, and the slowest loop of the lot keeps all others waiting."""


def size_many(
    surveys: Iterable[Survey | str | Path], names: Iterable[str] | None = None, *, lot_size: int = LOT_SIZE
) -> Iterator[SizedDwellings]:
    """Size thousands of dwellings: heat of rooms, flows, pressures, valve settings and checks, lot by lot.

    Parameters
    ----------
    surveys : iterable of Survey, str or pathlib.Path
        Surveys, or paths of survey files (TOML or .xlsx). They are read one lot at a time.
    names : iterable of str, optional
        A name for each dwelling; by default the path as given, or the name of the project. If a
        name is repeated, " (2)", " (3)" and so on is added.
    lot_size : int, default 80
        Dwellings of a lot, at least 1. It affects the time, and not the results.

    Returns
    -------
    iterator of SizedDwellings
        One result for each lot, in the order of the surveys. Only one lot is held in memory at a time;
        `SizedDwellings.joined` joins them.

    Raises
    ------
    InputError
        If an argument is wrong, or there are fewer or more names than surveys. Faults of a survey raise no error: they
        are rows of the table `faults`.

    See Also
    --------
    size : Size one dwelling, with all tables of its design.

    Notes
    -----
    The dwellings of a lot are solved together. Those with tees, with a loop without a balancing valve, with
    arms without valves, or with channels in parallel that differ in bore or direction are sized one after the other;
    the column `sizing` states which, and why. The figures are those of
    :func:`size`, to about a millionth. Checks that require other states of the system are left out,
    so the outcome is not the verdict of a design.

    Examples
    --------
    >>> import heatloop as hl
    >>> for lot in hl.size_many(["data/mill-annexe/survey.toml", "data/alder-lodge/survey.toml"], ["Mill", "Lodge"]):
    ...     print(lot.dwellings[["dwelling", "sizing", "loops"]].to_string(index=False))
    dwelling   sizing  loops
        Mill in a lot      1
       Lodge in a lot      6
    """
    if isinstance(surveys, str | Path | SurveyData):
        raise InputError([_issue("surveys", surveys, "a list of surveys, or of paths of survey files")])
    if isinstance(names, str):
        raise InputError([_issue("names", names, "a list of names, one for each survey")])
    check_given(
        "size_many",
        surveys=(surveys, Iterable, "a list of surveys, or of paths of survey files"),
        names=(names, Iterable | None, "a list of names, one for each survey"),
        lot_size=(lot_size, int, "a whole number of dwellings"),
    )
    if isinstance(lot_size, bool) or lot_size < 1:
        raise InputError([_issue("lot_size", lot_size, "at least 1")])
    return _lots(_entries(surveys, names), lot_size)


def _lots(entries: Iterator[Entry], lot_size: int) -> Iterator[SizedDwellings]:
    sizer = LotSizer()
    while lot := list(islice(entries, lot_size)):
        yield sizer.size(lot)


def _entries(surveys: Iterable[Survey | str | Path], names: Iterable[str] | None) -> Iterator[Entry]:
    """The dwellings with names that differ."""
    given = None if names is None else iter(names)
    used: dict[str, int] = {}
    for number, survey in enumerate(surveys, start=1):
        name = _own_name(survey, number) if given is None else next(given, None)
        if name is None:
            raise InputError([_issue("names", number - 1, "a name for each survey")])
        yield Entry(_unique(str(name), used), survey)
    if given is not None and next(given, None) is not None:
        raise InputError([_issue("names", "more names than surveys", "a name for each survey")])


def _own_name(survey: object, number: int) -> str:
    if isinstance(survey, SurveyData):
        return survey.project.name
    return str(survey) if isinstance(survey, str | Path) else f"number {number}"


def _unique(name: str, used: dict[str, int]) -> str:
    """The name, or if it has been used, the name with a number after it; `used`: last number of each name."""
    unique, number = name, used.get(name, 1)
    while unique in used:
        number += 1
        unique = f"{name} ({number})"
    used[name] = number
    used.setdefault(unique, 1)
    return unique


def _issue(place: str, value: object, required: str) -> InputIssue:
    return InputIssue("size_many", place, quoted_value(value), required)
