"""Versions of Python and of the libraries that a calculation depends on."""

from __future__ import annotations

import platform
from importlib import metadata

LIBRARIES = (
    "heatloop", "numpy", "scipy", "pandas", "fluids", "CoolProp", "matplotlib", "pydantic", "openpyxl", "jinja2",
    "ezdxf", "ipywidgets", "nbclient", "nbconvert",
)  # fmt: skip


def show_versions() -> None:
    """Print the versions of Python, the operating system, heatloop and the libraries it uses.

    A library of an optional installation that is missing is listed as not installed. Add the printed lines when you
    report a fault.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.show_versions()  # doctest: +ELLIPSIS
    Python      3...
    system      ...
    heatloop    ...
    """
    print(f"{'Python':12}{platform.python_version()}")
    print(f"{'system':12}{platform.platform()}")
    for name in LIBRARIES:
        print(f"{name:12}{_version(name)}")


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed"
