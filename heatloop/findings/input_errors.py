"""Input issues, and the exception that lists all issues of a file."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from typing import Any

MAX_LISTED = 100
"""Issues that an error lists one by one; the rest are counted."""

LONGEST = 1000
"""Maximum length of a place, or of the words for what was found or is required, in a message."""


@dataclass(frozen=True)
class InputIssue:
    """One error of a file or an argument, in one line.

    Attributes
    ----------
    file : str
        The file, or the function whose argument it is.
    place : str
        The place in it.
    found : str
        What was found.
    required : str
        What is required.

    Examples
    --------
    >>> import heatloop as hl
    >>> print(hl.InputIssue("survey.toml", "project, flow_temp_c", "200", "20 to 95"))
    survey.toml: project, flow_temp_c: found 200; required: 20 to 95
    """

    file: str
    place: str
    found: str
    required: str

    def __str__(self) -> str:
        place = f"{_cut(self.place)}: " if self.place else ""
        return _one_line(f"{self.file}: {place}found {_cut(self.found)}; required: {_cut(self.required)}")


class InputError(Exception):
    """The input cannot be used; every issue is listed.

    `str()` has one line for each of the first hundred issues and counts the rest. Places that refer to the same missing
    name, or have the same unknown key, share a line.

    Attributes
    ----------
    issues : tuple of InputIssue
        All issues.
    more : int
        Number of issues that are not in the list.
    partial : object
        The readable part of a faulty survey, with only the loops that no issue concerns; None where there is none.

    Examples
    --------
    >>> import heatloop as hl
    >>> try:
    ...     hl.read_survey("data/nowhere.toml")
    ... except hl.InputError as error:
    ...     print(len(error.issues))
    1
    """

    def __init__(self, issues: Iterable[InputIssue], partial: object = None, more: int = 0) -> None:
        self.issues = tuple(issues)
        self.partial = partial
        self.more = more
        grouped = _grouped(self.issues)
        lines = [_line_of(group) for group in grouped[:MAX_LISTED]]
        unlisted = sum(map(len, grouped[MAX_LISTED:])) + more
        super().__init__("\n".join([*lines, f"and {unlisted} more faults"] if unlisted else lines))


MAX_PLACES = 3
"""Places that a line lists where they refer to the same missing name, or have the same unknown key."""

REFERENCE = re.compile(r"the (?:whole )?name of an? ([\w-]+)")
"""How the requirement of a reference to another item begins, with the kind of the item."""

NEAREST = '; the nearest is "'
"""What the requirement of a reference or a key states before the nearest name."""

UNKNOWN_KEY = 'the key "'
"""How an unknown key is found; a requirement that begins so states the key that is meant."""


def _grouped(issues: Sequence[InputIssue]) -> list[list[InputIssue]]:
    """The issues in order; those of one missing name or one unknown key are in one group, at the first of them."""
    groups: list[list[InputIssue]] = []
    slips: dict[tuple[str, ...], list[InputIssue]] = {}
    for issue in issues:
        slip = _slip(issue)
        if slip in slips:
            slips[slip].append(issue)
            continue
        groups.append([issue])
        if slip:
            slips[slip] = groups[-1]
    return groups


def _slip(issue: InputIssue) -> tuple[str, ...]:
    """What issues of one slip have in common: a missing name of one kind, or one unknown key; nothing for others.

    The words of the requirement may differ: a wall can also be adjacent to a space, a key is required in some tables.
    """
    _, _, nearest = issue.required.partition(NEAREST)
    if issue.found.startswith(UNKNOWN_KEY):
        meant = issue.required.removeprefix(UNKNOWN_KEY) if issue.required.startswith(UNKNOWN_KEY) else nearest
        return issue.file, issue.found, meant or issue.required
    reference = REFERENCE.match(issue.required)
    if reference is None:
        return ()
    quoted = issue.found.startswith('"') and issue.found.endswith('"')
    return issue.file, issue.found, *((reference[1], nearest) if quoted else (issue.required,))


def _line_of(group: Sequence[InputIssue]) -> str:
    """The line of an issue, or of several with their places."""
    places = [issue.place for issue in group[:MAX_PLACES]]
    if len(group) > MAX_PLACES:
        more = len(group) - MAX_PLACES
        places.append(f"and {more} more place{'s' if more > 1 else ''}")
    return str(replace(group[0], place="; ".join(places)))


def _cut(text: str) -> str:
    """A text as long as a message may quote it; a longer one without its middle."""
    return text if len(text) <= LONGEST else f"{text[: LONGEST // 2]}...{text[-LONGEST // 4 :]}"


def _one_line(text: str) -> str:
    """A text with every character that would break its line or hide in it written out; joiners stay."""
    if text.isprintable():
        return text
    shown = (c if c.isprintable() or c in "\u200c\u200d" else ascii(c)[1:-1] for c in text)
    return "".join(shown)


def check_given(call: str, **given: tuple[object, Any, str]) -> None:
    """Raise InputError where an argument of the function `call` is not of its type.

    `given` has by the name of each argument its value, the type or union of types, and the type in words.
    """
    faults = [
        InputIssue(call, name, quoted_value(value), required)
        for name, (value, types, required) in given.items()
        if not isinstance(value, types)
    ]
    if faults:
        raise InputError(faults)


def number_faults(call: str, numbers: Mapping[str, object], required: str = "a number in °C") -> list[InputIssue]:
    """A fault for every one of the `numbers`, by the name of its argument, that is no finite number."""
    return [
        InputIssue(call, place, quoted_value(value), required)
        for place, value in numbers.items()
        if not is_number(value)
    ]


def is_number(value: Any) -> bool:
    """Whether it is a finite number, and not true or false."""
    try:
        return isinstance(value, Real) and not isinstance(value, bool) and math.isfinite(float(value))
    except OverflowError:  # a whole number beyond every float
        return False


def quoted_value(value: object) -> str:
    """A value as a message shows it, in one short line."""
    if isinstance(value, str):
        return f'"{value}"'
    words = " ".join(repr(value).split())
    return words if len(words) <= 60 else f"{words[:57]}..."
