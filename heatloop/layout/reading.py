"""A survey as it is given to a calculation: the faults of the file and those of the layout told together."""

from __future__ import annotations

from heatloop.layout.build import layout_faults
from heatloop.survey.arguments import survey_from
from heatloop.survey.faults import SurveyError
from heatloop.survey.model import Survey


def validated_survey(call: str, given: object) -> Survey:
    """The survey that was given to the function `call`, or the one in the file whose path was given.

    Raises SurveyError for anything else and, for a file, with every fault of it and of its catalogue; with these
    come the faults of the layout of all loops that could be read, so that nobody mends the one kind to meet the
    other.
    """
    try:
        return survey_from(call, given)
    except SurveyError as error:
        if not isinstance(error.readable, Survey):
            raise
        told = dict.fromkeys((*error.faults, *layout_faults(error.readable)))
    raise SurveyError(told)
