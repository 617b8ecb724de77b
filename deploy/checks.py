"""Every check of the project, each with its name and time. Started by deploy/test.

    python -m deploy.checks [--all] [pytest arguments]

Two steps run side by side, for machines with two cores, the longest first; whoever is done takes the next. What
measures time runs last and alone.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TOOLS = Path(sys.executable).parent
PYTEST = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "--durations=5", "--durations-min=2"]
NO_TESTS_CHOSEN = 5  # pytest's status for it
STARTED = time.monotonic()
_printing = threading.Lock()


@dataclass(frozen=True)
class Step:
    """One check: a command, and what to say instead where it cannot run."""

    name: str
    command: Sequence[str | Path]
    env: Mapping[str, str] = field(default_factory=dict)
    skip: str = ""
    may_be_empty: bool = False


@dataclass(frozen=True)
class Outcome:
    name: str
    word: str
    seconds: float


def main(arguments: list[str]) -> int:
    everything = "--all" in arguments
    chosen = [argument for argument in arguments if argument != "--all"]
    env = {name: value for name, value in os.environ.items() if not name.startswith("SUGARBUSH_")}
    with tempfile.TemporaryDirectory(prefix="sugarbush-checks-") as data:
        env |= {"SUGARBUSH_DATA": data, "MALLOC_ARENA_MAX": "2"}
        if chosen:
            outcomes = [run(step, env, live=True) for step in chosen_tests(chosen, everything=everything)]
        else:
            outcomes = side_by_side(long_first(), env)
            if everything:
                outcomes += [run(step, env, live=True) for step in long_lane()]
    return report(outcomes)


def linters() -> list[Step]:
    python = sys.executable
    return [
        Step("style", [python, "-m", "ruff", "check"]),
        Step("layout of the code", [python, "-m", "ruff", "format", "--check"]),
        Step("layers", [TOOLS / "lint-imports"]),
        Step("templates", [TOOLS / "djlint", "templates", "--lint", "--quiet"]),
        Step("Django's own checks", [python, "manage.py", "check", "--fail-level", "WARNING"]),
        Step("migrations", [python, "manage.py", "makemigrations", "--check", "--dry-run"]),
        Step("types", [python, "-m", "mypy"]),
        scripts(),
    ]


def scripts() -> Step:
    """The tests of the page scripts, in plain Node."""
    node = shutil.which("node") or ""
    files = sorted(path for path in (ROOT / "tests" / "js").rglob("*.js") if not path.name.startswith("_"))
    skip = "" if node else "Node was not found: the tests of the page scripts are left out."
    # The files by name: what Node does with a folder differs between its versions.
    return Step("page scripts", [node, "--test", *files], skip=skip if files else "There are no tests in tests/js.")


def long_first() -> list[Step]:
    """Every step of a usual run, those that take longest first."""
    return [
        run_of_tests("tests, PostgreSQL", "postgres", "not slow and not bench"),
        run_of_tests("tests, SQLite", "sqlite", "not browser and not slow and not bench", "--ignore=tests/setup"),
        run_of_tests("tests, browser", "sqlite", "browser and not slow and not bench"),
        run_of_tests("tests, setting up", "sqlite", "not slow and not bench", "tests/setup"),
        *linters(),
    ]


def long_lane() -> list[Step]:
    return [
        run_of_tests("long tests, SQLite", "sqlite", "slow and not bench", profile="all", may_be_empty=True),
        run_of_tests("long tests, PostgreSQL", "postgres", "slow and not bench", profile="all", may_be_empty=True),
        run_of_tests("time and memory", "sqlite", "bench", "-s"),
    ]


def run_of_tests(
    name: str, database: str, marks: str, *words: str, profile: str = "", may_be_empty: bool = False
) -> Step:
    env = {"SUGARBUSH_TEST_DB": database, "HYPOTHESIS_PROFILE": profile}
    return Step(name, [*PYTEST, "-q", "-m", marks, *words], env, may_be_empty=may_be_empty)


def chosen_tests(chosen: list[str], *, everything: bool) -> list[Step]:
    marks = [] if everything or "-m" in chosen else ["-m", "not slow and not bench"]
    return [
        Step(f"tests, {word}", [*PYTEST, *marks, *chosen], {"SUGARBUSH_TEST_DB": database}, may_be_empty=True)
        for word, database in (("SQLite", "sqlite"), ("PostgreSQL", "postgres"))
    ]


def side_by_side(steps: list[Step], env: Mapping[str, str], at_once: int = 2) -> list[Outcome]:
    """Run the steps, so many at a time; each worker takes the next that nobody has begun."""
    waiting, outcomes = deque(steps), list[Outcome]()

    def work() -> None:
        while True:
            try:
                step = waiting.popleft()
            except IndexError:
                return
            outcomes.append(run(step, env))

    workers = [threading.Thread(target=work) for _ in range(at_once)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    return outcomes


def run(step: Step, env: Mapping[str, str], *, live: bool = False) -> Outcome:
    """Run one step; its words are printed as one piece when it is done, or as they come when it runs alone."""
    if step.skip:
        if os.environ.get("CI") and "not found" in step.skip:
            return tell(Outcome(step.name, "failed", 0), f"{step.skip} CI needs it.")
        return tell(Outcome(step.name, "left out", 0), step.skip)
    began = time.monotonic()
    done = subprocess.run(
        [str(part) for part in step.command],
        cwd=ROOT,
        env={**env, **step.env},
        stdin=None if live else subprocess.DEVNULL,
        stdout=None if live else subprocess.PIPE,
        stderr=None if live else subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
    )
    good = done.returncode == 0 or (step.may_be_empty and done.returncode == NO_TESTS_CHOSEN)
    return tell(Outcome(step.name, "good" if good else "failed", time.monotonic() - began), done.stdout or "")


def tell(outcome: Outcome, words: str) -> Outcome:
    with _printing:
        print(f"\n── {outcome.name}: {outcome.word}, {outcome.seconds:.1f} s", flush=True)
        if words.strip():
            print(words.rstrip(), flush=True)
    return outcome


def report(outcomes: list[Outcome]) -> int:
    print("\nAll steps:")
    for outcome in outcomes:
        print(f"  {outcome.word:<9} {outcome.seconds:7.1f} s  {outcome.name}")
    failed = [outcome.name for outcome in outcomes if outcome.word == "failed"]
    print(f"  {'together':<9} {time.monotonic() - STARTED:7.1f} s")
    print(f"These failed: {'; '.join(failed)}." if failed else "Every step is good.", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
