"""Scripts of the documentation as modules."""

import importlib.util
import sys


def loaded(path):
    """A script of the docs as a module; it may import its neighbours."""
    spec = importlib.util.spec_from_file_location(f"docs_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    sys.path.insert(0, str(path.parent))
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path.pop(0)
    return module
