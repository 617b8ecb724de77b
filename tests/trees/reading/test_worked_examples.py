"""The examples in the docstrings are true."""

import doctest
import importlib
import pkgutil

import pytest

from sugarbush.trees import reading

pytestmark = pytest.mark.pure

MODULES = [found.name for found in pkgutil.iter_modules(reading.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    assert doctest.testmod(importlib.import_module(f"sugarbush.trees.reading.{name}")).failed == 0


def test_some_modules_have_examples() -> None:
    tried = [doctest.testmod(importlib.import_module(f"sugarbush.trees.reading.{name}")).attempted for name in MODULES]
    assert sum(tried) >= 10


def test_reading_works_before_django_is_set_up() -> None:
    """The command line and scripts may read a file without the settings."""
    import subprocess
    import sys

    script = (
        "from sugarbush.trees.reading.errors import EmptyFile\n"
        "from sugarbush.trees.reading import files, guess, verdicts, streets, refusals\n"
        "print(EmptyFile('empty').sentence); print(refusals.refusal_sentence('stump', {'text': 'x'}))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, env={}, check=False)
    assert done.returncode == 0, done.stderr
    assert "This file is empty." in done.stdout
