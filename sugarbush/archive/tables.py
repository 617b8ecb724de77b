"""Which tables go into the archive, in which order, and what deliberately stays behind."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.db.models import Field, FileField, Model
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

LEFT_OUT: dict[str, StrOrPromise] = {
    "volunteers_signinlink": _("sign-in links: ask for new ones"),
    "volunteers_signincode": _("codes to sign in with that wait in a mail"),
    "volunteers_device": _("devices people are signed in on, and their sessions: sign in again"),
    "volunteers_tries": _("how often an address tried a wrong code"),
    "papers_printjob": _("long prints that wait for a day: print them again"),
    "archive_archive": _("the list of archives made"),
    "api_token": _("tokens of programs: their people make new ones"),
}
"""Tables of ours that stay behind, and what that means. A table that is not named here goes along."""

FILLED_BY_MIGRATIONS = {"trees_species"}
"""What an empty install holds already; the archive's rows take their place."""


@dataclass(frozen=True)
class Table:
    """One table of the database as it goes into the archive."""

    model: type[Model]

    @property
    def name(self) -> str:
        return self.model._meta.db_table

    @property
    def app(self) -> str:
        return self.model._meta.app_label

    @functools.cached_property
    def fields(self) -> list[Field[Any, Any]]:
        return list(self.model._meta.concrete_fields)

    @functools.cached_property
    def columns(self) -> dict[str, Field[Any, Any]]:
        """By the name the column has in the database."""
        return {str(field.column): field for field in self.fields}

    @property
    def key(self) -> str:
        return str(self.model._meta.pk.column)

    @property
    def numbered(self) -> bool:
        """Whether the database itself counts its rows."""
        return self.model._meta.auto_field is not None

    @property
    def about_itself(self) -> bool:
        """Whether a row may name another row of the same table, which may come after it."""
        return any(field.is_relation and field.related_model is self.model for field in self.fields)

    @property
    def files(self) -> list[str]:
        return [field.attname for field in self.fields if isinstance(field, FileField)]


def _file_name(value: str) -> str:
    return PurePath(value).name


# Where a file lay on this machine is nobody else's business; the file itself is brought again.
REWRITTEN = {("trees_importrun", "path"): _file_name}


def ours() -> Iterator[type[Model]]:
    """Every table of the app itself."""
    for model in apps.get_models(include_auto_created=True):
        name = apps.get_app_config(model._meta.app_label).name
        if name.startswith("sugarbush.") and model._meta.managed and not model._meta.proxy:
            yield model


def in_order() -> list[Table]:
    """The tables that go along; each comes after those its rows point to.

    Raises TypeError where a row that goes along must point to one that stays behind.
    """
    waiting = {model._meta.db_table: model for model in ours() if model._meta.db_table not in LEFT_OUT}
    needs = {name: _needs(model) for name, model in waiting.items()}
    for name, needed in needs.items():
        if behind := needed & set(LEFT_OUT):
            raise TypeError(f"{name} points to {behind}, which stays behind.")
    ordered: list[Table] = []
    while waiting:
        ready = sorted(name for name in waiting if not needs[name] & set(waiting))
        if not ready:
            raise TypeError(f"These tables point to each other: {sorted(waiting)}.")
        ordered += [Table(waiting.pop(name)) for name in ready]
    return ordered


def _needs(model: type[Model]) -> set[str]:
    pointed = {
        field.related_model._meta.db_table
        for field in model._meta.concrete_fields
        if field.is_relation and getattr(field, "db_constraint", False) and isinstance(field.related_model, type)
    }
    return pointed - {model._meta.db_table}
