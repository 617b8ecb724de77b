"""The usual sizes of jars, and how they are said."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy

# Jar sizes in mL. US measures to the nearest millilitre: NIST Special Publication 811, appendix B.
USUAL: dict[str, tuple[tuple[int, Any], ...]] = {
    "metric": (
        (1_000, gettext_lazy("1 L")),
        (500, gettext_lazy("500 mL")),
        (250, gettext_lazy("250 mL")),
        (125, gettext_lazy("125 mL")),
    ),
    "us": (
        (946, gettext_lazy("quart (946 mL)")),
        (473, gettext_lazy("pint (473 mL)")),
        (237, gettext_lazy("half pint (237 mL)")),
        (118, gettext_lazy("4 fl oz (118 mL)")),
    ),
}


def size_words(size_ml: int) -> str:
    """A jar size as it is said: 250 mL, 1 L, pint (473 mL)."""
    for sizes in USUAL.values():
        for size, label in sizes:
            if size == size_ml:
                return str(label)
    return f"{size_ml}\u00a0mL"
