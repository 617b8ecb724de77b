"""What every page knows: the version, the reader's units, and what later apps add (programme, nav)."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from sugarbush import __version__

METRIC = "metric"

Hook = Callable[[HttpRequest], Any]
_hooks: dict[str, Hook] = {}


def register(name: str, hook: Hook) -> None:
    """Give every page the value of `hook(request)` under `name`, worked out only where a page uses it.

    Call it from `AppConfig.ready()`. Known names: `programme`, `nav` (list of (url, label, is_current)),
    `default_units` ("metric" or "us", for those not signed in).
    """
    _hooks[name] = hook


def units_of(request: HttpRequest) -> str:
    """The units this reader sees and types: "metric" or "us"."""
    person = getattr(request, "user", None)
    if person is not None and person.is_authenticated and getattr(person, "units", None):
        return str(person.units)
    default = _hooks.get("default_units")
    return str((default and default(request)) or METRIC)


def page(request: HttpRequest) -> dict[str, Any]:
    """Context processor. Nothing here asks the database until a template uses it."""
    context: dict[str, Any] = {"version": __version__, "programme": None, "nav": ()}
    for name, hook in _hooks.items():
        context[name] = SimpleLazyObject(partial(hook, request))
    context["units"] = SimpleLazyObject(partial(units_of, request))
    return context
