"""Design of water-heated skirting: heat loss, layout, loops, balancing, parts and commissioning."""

from heatloop.design import size
from heatloop.result import Design
from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import Survey
from heatloop.survey.read import read_survey

__all__ = ["Design", "Fault", "Survey", "SurveyError", "read_survey", "size"]
