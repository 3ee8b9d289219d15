"""Design of water-heated skirting: heat loss, layout, loops, balancing, parts and commissioning.

Every public name is imported when it is first asked for, so that `import heatloop` costs next to nothing.
"""

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heatloop.diagnosis.diagnosis import Diagnosis
    from heatloop.findings.input_errors import InputError, InputIssue
    from heatloop.handover.quotation import quote as price
    from heatloop.results.design import Design
    from heatloop.results.operating_point import OperatingPoint
    from heatloop.survey.read import read_survey
    from heatloop.survey.survey import Survey
    from heatloop.workflows.commission import hand_over_pack as commission
    from heatloop.workflows.diagnose import diagnose, read_readings
    from heatloop.workflows.fewer_bars import BarSaving, fewer_bars
    from heatloop.workflows.flow_temperature import lowest_flow_temperature
    from heatloop.workflows.operating_point import simulate
    from heatloop.workflows.order import parts_list as parts
    from heatloop.workflows.size import size

__all__ = [
    "Design",
    "Diagnosis",
    "InputIssue",
    "BarSaving",
    "OperatingPoint",
    "Survey",
    "InputError",
    "commission",
    "diagnose",
    "fewer_bars",
    "lowest_flow_temperature",
    "parts",
    "price",
    "simulate",
    "read_readings",
    "read_survey",
    "size",
]

_WHEN_USED = {
    "Design": ("heatloop.results.design", "Design"),
    "Diagnosis": ("heatloop.diagnosis.diagnosis", "Diagnosis"),
    "InputIssue": ("heatloop.findings.input_errors", "InputIssue"),
    "BarSaving": ("heatloop.workflows.fewer_bars", "BarSaving"),
    "OperatingPoint": ("heatloop.results.operating_point", "OperatingPoint"),
    "Survey": ("heatloop.survey.survey", "Survey"),
    "InputError": ("heatloop.findings.input_errors", "InputError"),
    "commission": ("heatloop.workflows.commission", "hand_over_pack"),
    "diagnose": ("heatloop.workflows.diagnose", "diagnose"),
    "fewer_bars": ("heatloop.workflows.fewer_bars", "fewer_bars"),
    "lowest_flow_temperature": ("heatloop.workflows.flow_temperature", "lowest_flow_temperature"),
    "parts": ("heatloop.workflows.order", "parts_list"),
    "price": ("heatloop.handover.quotation", "quote"),
    "simulate": ("heatloop.workflows.operating_point", "simulate"),
    "read_readings": ("heatloop.workflows.diagnose", "read_readings"),
    "read_survey": ("heatloop.survey.read", "read_survey"),
    "size": ("heatloop.workflows.size", "size"),
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
    """A module of the package never takes the place of the public name it shares: `simulate` stays the function."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _WHEN_USED and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
