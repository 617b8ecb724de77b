"""The core is plain Python: it loads in a bare interpreter and brings no web framework with it."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PROGRAM = """
import importlib, pkgutil, sys
import sugarbush.core
for found in pkgutil.iter_modules(sugarbush.core.__path__):
    importlib.import_module(f"sugarbush.core.{found.name}")
assert "django" not in sys.modules
outside = {name.split(".")[0] for name in sys.modules} - set(sys.stdlib_module_names) - {"sugarbush", "__main__"}
print("outside:", sorted(name for name in outside if not name.startswith(("_", "site"))))
"""


def test_the_core_loads_without_django_and_without_any_other_package() -> None:
    # -S: no site-packages at all, so an import of anything but the standard library stops here.
    done = subprocess.run(
        [sys.executable, "-S", "-c", PROGRAM], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == "outside: []\n"
