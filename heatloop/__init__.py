"""Design of water-heated skirting: heat loss, layout, hydraulics, parts and commissioning.

The public names are those of the stub `__init__.pyi`; each is imported when it is first used.
"""

import ast
from importlib import import_module
from importlib.resources import files
from typing import Any

_STUB = ast.parse(files("heatloop").joinpath("__init__.pyi").read_text(encoding="utf-8"))
_PLACES = {
    alias.asname: (str(node.module), alias.name)
    for node in _STUB.body
    if isinstance(node, ast.ImportFrom)
    for alias in node.names
    if alias.asname is not None
}
__all__ = sorted(_PLACES)


def __getattr__(name: str) -> Any:
    """A public name, imported when it is first used."""
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, own_name = _PLACES[name]
    held = vars(import_module(module))
    globals()[name] = public = held[own_name] if own_name in held else import_module(f"{module}.{own_name}")
    return public


def __dir__() -> list[str]:
    """The public names."""
    return __all__
