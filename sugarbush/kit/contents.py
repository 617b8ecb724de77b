"""What is known of one container: where it hangs, what is in it. Each app that knows something registers its word."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sugarbush.kit.models import Container
from sugarbush.volunteers.models import Person


@dataclass(frozen=True, kw_only=True)
class Known:
    """One thing that is known: its name, the sentence, and the page it stands on, if there is one."""

    word: str
    text: str
    url: str = ""


Teller = Callable[[Person, Container], list[Known]]
_TELLERS: dict[str, Teller] = {}


def register(name: str, tell: Teller) -> None:
    """Name a function that tells a person what it knows of a container, and only what that person may see."""
    _TELLERS[name] = tell


def known_of(person: Person, container: Container) -> list[Known]:
    """Everything this person may know of the container."""
    return [one for tell in _TELLERS.values() for one in tell(person, container)]
