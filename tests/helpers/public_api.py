"""The public names of the package as text: signatures, and for classes those of their public members."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from functools import cached_property
from types import ModuleType

import heatloop as hl


def public_api() -> str:
    """One line for every public name and member, in alphabetical order."""
    return "\n".join(line for name in sorted(hl.__all__) for line in _lines(name, getattr(hl, name))) + "\n"


def _lines(name: str, value: object) -> Iterator[str]:
    if isinstance(value, ModuleType):
        yield f"{name}: module"
        yield from (f"{name}.{member}" for member in sorted(value.__all__))
    elif inspect.isclass(value):
        yield f"class {name}{_signature(value)}"
        for member in sorted(dir(value)):
            if not member.startswith("_") and not hasattr(Exception, member):
                yield from _member(f"{name}.{member}", inspect.getattr_static(value, member), getattr(value, member))
    else:
        yield f"{name}{_signature(value)}"


def _member(name: str, static: object, value: object) -> Iterator[str]:
    if isinstance(static, (property, cached_property)):
        yield f"  {name}: property"
    elif callable(value):
        yield f"  {name}{_signature(value)}"


def _signature(value: object) -> str:
    return str(inspect.signature(value))  # type: ignore[arg-type]
