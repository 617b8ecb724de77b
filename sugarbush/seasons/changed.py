"""Who wants to hear of a changed season, and who knows the kinds of trees. Later apps register as they start."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sugarbush.seasons.models import Season


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of tree a season may list. key: its botanical name."""

    key: str
    label: str
    usual: bool


_LISTENERS: list[Callable[[Season], None]] = []
_KINDS: list[Callable[[], list[Kind]]] = []


def register(listener: Callable[[Season], None]) -> None:
    """Call `listener(season)` after each act that changes a season's rules or its state, in the same transaction."""
    if listener not in _LISTENERS:
        _LISTENERS.append(listener)


def announce(season: Season) -> None:
    """Tell everybody who registered."""
    for listener in _LISTENERS:
        listener(season)


def register_kinds(reader: Callable[[], list[Kind]]) -> None:
    """Name the one function that lists the kinds of trees; `usual` ones go on a season's list when it opens."""
    _KINDS[:] = [reader]


def kinds() -> list[Kind] | None:
    """The kinds of trees known; None where nobody has registered."""
    return _KINDS[0]() if _KINDS else None
