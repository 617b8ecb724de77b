"""Each document: what it gathers. Loaded when the first page of paper is asked for."""

from __future__ import annotations

from importlib import import_module

NAMES = ("permission", "rounds", "tags", "lots", "boils", "streets", "returns", "thanks", "season", "shares", "binder")


def load() -> None:
    """Fill the table of kinds."""
    for name in NAMES:
        import_module(f"{__name__}.{name}")
