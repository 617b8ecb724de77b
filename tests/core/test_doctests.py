"""Every worked example in the core runs, and no module is without one."""

import doctest
import importlib
import pkgutil

import pytest

import sugarbush.core

MODULES = sorted(found.name for found in pkgutil.iter_modules(sugarbush.core.__path__))


def test_the_core_has_the_modules_this_file_thinks_it_has() -> None:
    assert set(MODULES) >= {
        "boiling", "errors", "health", "instruments", "keeping", "rounds", "shares", "sugar", "syrup", "taphole",
        "trunk", "typed", "units", "weather",
    }  # fmt: skip


@pytest.mark.parametrize("name", MODULES)
def test_the_worked_examples_of_each_module_hold(name: str) -> None:
    result = doctest.testmod(importlib.import_module(f"sugarbush.core.{name}"))
    assert result.attempted > 0
    assert result.failed == 0
