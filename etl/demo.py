"""Load the generator of the invented demo fleet, which is packaged as data beside the code."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

from etl.errors import InputError
from etl.paths import resource


def generator() -> ModuleType:
    """Return the module that makes the demo fleet's logs.

    Raises
    ------
    InputError
        The installation lacks it.
    """
    name = "braidlife_demo_fleet"
    if name in sys.modules:
        return sys.modules[name]
    path = resource("demo_fleet") / "make_fleet.py"
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None or not path.is_file():
        raise InputError("demo fleet: its generator is not part of this installation.")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def make_demo_logs(folder: Path) -> None:
    """Write the logs of the invented fleet into a folder, the same bytes every time."""
    folder.mkdir(parents=True, exist_ok=True)
    generator().make_fleet(folder)
