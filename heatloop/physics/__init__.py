"""Formulas, pure functions of numbers and arrays: public as `heatloop.physics`, a module by subject.

>>> import heatloop as hl
>>> round(hl.physics.valves.pressure_drop_from_kv_pa(0.2, 0.8, 1000.0))
6250
"""

from importlib import import_module
from types import ModuleType

__all__ = [
    "channels",
    "comfort",
    "ducts",
    "emitters",
    "fabric",
    "friction",
    "heat_transfer",
    "pressurisation",
    "thermal_expansion",
    "valves",
    "water",
    "weather_compensation",
    "yearly",
]


def __getattr__(name: str) -> ModuleType:
    """A module of this folder, imported when it is first used."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return import_module(f"{__name__}.{name}")


def __dir__() -> list[str]:
    """The modules of this folder."""
    return __all__
