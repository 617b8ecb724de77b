"""Changing a row that somebody else may be changing too: the second person is told, and loses nothing."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, ClassVar, TypeVar, cast

from django import forms
from django.db import models, transaction

from sugarbush.audit.models import record
from sugarbush.volunteers.models import Person

Row = TypeVar("Row", bound=models.Model)


class MovedOn(Exception):  # noqa: N818  # it says what happened, and is no fault
    """The row was changed after this page was opened. `row` is what is there now."""

    def __init__(self, row: models.Model) -> None:
        self.row = row
        super().__init__("changed meanwhile")


def plain_values(row: models.Model, names: Iterable[str]) -> dict[str, Any]:
    """The named values as the history keeps them: text, numbers, or nothing."""
    values: dict[str, Any] = {}
    for name in names:
        value = getattr(row, row._meta.get_field(name).attname)  # type: ignore[union-attr]  # plain columns only
        if isinstance(value, Decimal):
            value = format(value.normalize(), "f")  # 5 and 5.0 are the same rule
        values[name] = value if value is None or isinstance(value, str | int | float | list) else str(value)
    return values


def edition_of(row: models.Model, names: Iterable[str]) -> str:
    """A short mark of what these columns hold; it differs as soon as one of them does."""
    held = json.dumps(plain_values(row, names), sort_keys=True)  # not repr: a choice and its text are the same
    return hashlib.sha256(held.encode()).hexdigest()[:16]


@transaction.atomic
def change(
    *,
    row: Row,
    by: Person,
    values: Mapping[str, Any],
    seen: str,
    act: str,
    reason: str = "",
    group_id: int | None = None,
) -> Row:
    """Write the values to the row and to the history; the row as it is now.

    seen: the `edition_of` these columns when the page was opened.  Raises MovedOn when they hold something else by now.
    """
    names = list(values)
    model = cast(type[Row], row._meta.model)  # not type(row): the signed-in person comes wrapped
    fresh = model._default_manager.select_for_update().get(pk=row.pk)
    if seen != edition_of(fresh, names):
        raise MovedOn(fresh)
    old = plain_values(fresh, names)
    for name, value in values.items():
        setattr(fresh, name, value)
    new = plain_values(fresh, names)
    if new == old:
        return fresh
    fresh.save()
    moved = [name for name in names if new[name] != old[name]]
    personal = [name for name in moved if name in getattr(model, "NOT_IN_HISTORY", ())]
    plain = [name for name in moved if name not in personal]
    record(
        by=by,
        act=act,
        subject=fresh,
        reason=reason,
        group_id=group_id,
        old={name: old[name] for name in plain},
        new={name: new[name] for name in plain} | ({"changed": personal} if personal else {}),
    )
    return fresh


class EditionMixin(forms.BaseModelForm):  # type: ignore[type-arg]  # the model comes with Meta
    """A model's form that remembers what it was opened on, and sets "there now" beside "typed" when that moved on."""

    more_columns: ClassVar[tuple[str, ...]] = ()  # columns that `clean` fills without a field of their own

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.meanwhile: list[tuple[str, str]] = []
        # The columns of the model only: a form may ask for more, such as a reason.
        self.columns = [name for name in self.fields if name in (self._meta.fields or ())] + [*self.more_columns]
        if not self.instance._state.adding:
            self.fields["edition"] = forms.CharField(required=False, widget=forms.HiddenInput)
            self.mark_seen()

    def mark_seen(self) -> None:
        """Remember what the columns hold now. For a form that dropped a column after this class had looked."""
        self.fields["edition"].initial = edition_of(self.instance, self.columns)

    @property
    def seen(self) -> str:
        return str(self.cleaned_data.get("edition", ""))

    @property
    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.columns}

    def show_meanwhile(self, now: models.Model) -> None:
        """Keep what was typed, list what is there now where it differs, and take the new state as seen."""
        fresh = type(self)(instance=now, **self.reopen_with())
        for name in (name for name in self.columns if name in self.fields):
            bound, mine = fresh[name], self[name]
            if _text(bound) != _text(mine):
                self.meanwhile.append((str(mine.label), _in_words(bound)))
        data = self.data.copy()  # type: ignore[attr-defined]  # a QueryDict on every page
        data[self.add_prefix("edition")] = edition_of(now, self.columns)
        self.data = data

    def reopen_with(self) -> dict[str, Any]:
        """What else this form is built with."""
        return {"units": self.units} if hasattr(self, "units") else {}


def _text(bound: forms.BoundField) -> str:
    value = bound.value()
    return "" if value is None else str(value)


def _in_words(bound: forms.BoundField) -> str:
    value = bound.value()
    choices = getattr(bound.field, "choices", None)
    if choices is not None:
        value = next((label for key, label in choices if str(key) == str(value)), value)
    unit = getattr(bound.field, "unit_sign", "")
    shown = bound.field.prepare_value(value)
    return "" if shown in (None, "") else f"{shown}\u00a0{unit}" if unit else str(shown)
