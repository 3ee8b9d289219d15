"""The parts of Jupyter that run notebooks, imported without a checker of addresses that takes seconds to load.

Importing nbformat brings jsonschema, and that the grammar of internationalised addresses where it is installed;
no notebook holds one that is checked. Whoever imports jsonschema first keeps the checker.
"""

from __future__ import annotations

import sys
from typing import Any

_SLOW = "rfc3987_syntax"

_spared = "jsonschema" not in sys.modules and _SLOW not in sys.modules
_modules: dict[str, Any] = sys.modules
if _spared:
    _modules[_SLOW] = None  # an import then finds no such module
import nbformat  # noqa: E402

if _spared:
    del _modules[_SLOW]
from jupyter_client.kernelspec import KernelSpec  # noqa: E402
from jupyter_client.manager import KernelManager  # noqa: E402
from nbclient import NotebookClient  # noqa: E402
from nbclient.exceptions import CellExecutionError, DeadKernelError  # noqa: E402
from nbformat import NotebookNode  # noqa: E402

__all__ = [
    "CellExecutionError",
    "DeadKernelError",
    "KernelManager",
    "KernelSpec",
    "NotebookClient",
    "NotebookNode",
    "nbformat",
]
