"""What a caller gives to a function of the library, checked as a file is: one plain line for each fault."""

from __future__ import annotations

import math
from collections.abc import Mapping
from numbers import Real
from pathlib import Path
from typing import Any

from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import Survey
from heatloop.survey.read import read_survey


def survey_from(call: str, given: object) -> Survey:
    """The survey that was given to the function `call`, or the one in the file whose path was given.

    Raises SurveyError for anything else, and with every fault of the file.
    """
    if isinstance(given, Survey):
        return given
    if isinstance(given, str | Path):
        return read_survey(given)
    raise SurveyError([Fault(call, "survey", shown(given), "a Survey, or the path of a survey file")])


def check_given(call: str, **given: tuple[object, Any, str]) -> None:
    """Raise SurveyError where an argument of the function `call` is not of its type.

    `given` has by the name of each argument its value, the type or union of types, and the type in words.
    """
    faults = [
        Fault(call, name, shown(value), wanted)
        for name, (value, types, wanted) in given.items()
        if not isinstance(value, types)
    ]
    if faults:
        raise SurveyError(faults)


def number_faults(call: str, numbers: Mapping[str, object], wanted: str = "a number of degrees C") -> list[Fault]:
    """A fault for every one of the `numbers`, by the name of its argument, that is no finite number."""
    return [Fault(call, place, shown(value), wanted) for place, value in numbers.items() if not is_number(value)]


def is_number(value: Any) -> bool:
    """Whether it is a finite number, and not true or false."""
    return isinstance(value, Real) and not isinstance(value, bool) and math.isfinite(float(value))


def shown(value: object) -> str:
    """A value as a message shows it, in one short line."""
    if isinstance(value, str):
        return f'"{value}"'
    words = " ".join(repr(value).split())
    return words if len(words) <= 60 else f"{words[:57]}..."
