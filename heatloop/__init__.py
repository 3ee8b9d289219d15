"""Design of water-heated skirting: heat loss, layout, loops, balancing, parts and commissioning."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from heatloop.design import size
from heatloop.rate import Rating, rate
from heatloop.result import Design
from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import Survey
from heatloop.survey.read import read_survey

if TYPE_CHECKING:
    from heatloop.handover.handover_pack import hand_over_pack as commission
    from heatloop.handover.parts import parts_list as parts
    from heatloop.handover.price import quote as price
    from heatloop.study import lowest_flow_temperature

__all__ = [
    "Design",
    "Fault",
    "Rating",
    "Survey",
    "SurveyError",
    "commission",
    "lowest_flow_temperature",
    "parts",
    "price",
    "rate",
    "read_survey",
    "size",
]

_WHEN_USED = {
    "commission": ("heatloop.handover.handover_pack", "hand_over_pack"),
    "lowest_flow_temperature": ("heatloop.study", "lowest_flow_temperature"),
    "parts": ("heatloop.handover.parts", "parts_list"),
    "price": ("heatloop.handover.price", "quote"),
}


def __getattr__(name: str) -> Any:
    """What stands above the design is imported when it is first asked for."""
    if name not in _WHEN_USED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, function = _WHEN_USED[name]
    return getattr(import_module(module), function)
