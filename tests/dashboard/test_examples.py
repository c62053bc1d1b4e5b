"""The examples in the documentation of the pages' functions are true."""

import doctest
import importlib
import pkgutil

import pytest

import dashboard

MODULES = sorted(
    module.name for module in pkgutil.walk_packages(dashboard.__path__, "dashboard.")
    if not module.name.startswith("dashboard.pages")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples():
    assert len(MODULES) > 15
