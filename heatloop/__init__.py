"""Design of water-heated skirting: heat loss, layout, loops, balancing, parts and commissioning.

Every public name is imported when it is first asked for, so that `import heatloop` costs next to nothing.
"""

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heatloop.design import size
    from heatloop.diagnose.diagnosis import Diagnosis, diagnose
    from heatloop.diagnose.readings_file import read_readings
    from heatloop.handover.fewer_bars import FewerBars, fewer_bars
    from heatloop.handover.handover_pack import hand_over_pack as commission
    from heatloop.handover.parts import parts_list as parts
    from heatloop.handover.price import quote as price
    from heatloop.rate import Rating, rate
    from heatloop.result import Design
    from heatloop.study import lowest_flow_temperature
    from heatloop.survey.faults import Fault, SurveyError
    from heatloop.survey.model import Survey
    from heatloop.survey.read import read_survey

__all__ = [
    "Design",
    "Diagnosis",
    "Fault",
    "FewerBars",
    "Rating",
    "Survey",
    "SurveyError",
    "commission",
    "diagnose",
    "fewer_bars",
    "lowest_flow_temperature",
    "parts",
    "price",
    "rate",
    "read_readings",
    "read_survey",
    "size",
]

_WHEN_USED = {
    "Design": ("heatloop.result", "Design"),
    "Diagnosis": ("heatloop.diagnose.diagnosis", "Diagnosis"),
    "Fault": ("heatloop.survey.faults", "Fault"),
    "FewerBars": ("heatloop.handover.fewer_bars", "FewerBars"),
    "Rating": ("heatloop.rate", "Rating"),
    "Survey": ("heatloop.survey.model", "Survey"),
    "SurveyError": ("heatloop.survey.faults", "SurveyError"),
    "commission": ("heatloop.handover.handover_pack", "hand_over_pack"),
    "diagnose": ("heatloop.diagnose.diagnosis", "diagnose"),
    "fewer_bars": ("heatloop.handover.fewer_bars", "fewer_bars"),
    "lowest_flow_temperature": ("heatloop.study", "lowest_flow_temperature"),
    "parts": ("heatloop.handover.parts", "parts_list"),
    "price": ("heatloop.handover.price", "quote"),
    "rate": ("heatloop.rate", "rate"),
    "read_readings": ("heatloop.diagnose.readings_file", "read_readings"),
    "read_survey": ("heatloop.survey.read", "read_survey"),
    "size": ("heatloop.design", "size"),
}


def __getattr__(name: str) -> Any:
    """A public name, imported when it is first asked for."""
    if name not in _WHEN_USED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, own_name = _WHEN_USED[name]
    globals()[name] = found = getattr(import_module(module), own_name)
    return found


def __dir__() -> list[str]:
    """The public names too, before they are imported."""
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """A module of the package never takes the place of the public name it shares: `rate` stays the function."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _WHEN_USED and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
