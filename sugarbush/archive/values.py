"""How a column is written in the archive, and read back: exact, and the same from each database.

Numbers with a fixed point are strings ("2.10"), times are UTC with six places, JSON has its keys in order. What JSON
itself cannot tell apart is written one way: PostgreSQL keeps 1e21 as an integer and knows no negative zero.
"""

from __future__ import annotations

import datetime as dt
import math
import re
import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Field

Write = Callable[[Any], Any]
Read = Callable[[Any], Any]

_DECIMAL = re.compile(r"-?\d{1,30}(\.\d{1,30})?", re.ASCII)
_LARGEST_EXACT = 1e16  # from here on a float is written with an exponent, which PostgreSQL reads as an integer
_KINDS = {
    "AutoField": "integer",
    "BigAutoField": "integer",
    "BigIntegerField": "integer",
    "BinaryField": "",
    "BooleanField": "boolean",
    "CharField": "text",
    "DateField": "date",
    "DateTimeField": "time",
    "DecimalField": "decimal",
    "FileField": "text",
    "FloatField": "float",
    "IntegerField": "integer",
    "JSONField": "json",
    "PositiveBigIntegerField": "integer",
    "PositiveIntegerField": "integer",
    "PositiveSmallIntegerField": "integer",
    "SlugField": "text",
    "SmallIntegerField": "integer",
    "TextField": "text",
    "TimeField": "time of day",
    "UUIDField": "uuid",
}


class NotThis(ValueError):  # noqa: N818  (named as it is said)
    """A value is not of its column's kind."""


def kind_of(field: Field[Any, Any]) -> str:
    """ "integer", "boolean", "text", "date", "time", "decimal", "float", "json", "time of day" or "uuid".

    Raises TypeError for a column nobody has said how to write: the archive would not be whole.
    """
    while field.is_relation:
        field = field.target_field  # type: ignore[attr-defined]  # a relation's own
    kind = _KINDS.get(field.get_internal_type(), "")
    if not kind:
        raise TypeError(f"archive/values.py does not say how {field} is written.")
    return kind


def _float(value: float) -> float:
    return 0.0 if value == 0 else value  # no negative zero


def one_way(value: Any) -> Any:
    """JSON as both databases give it back."""
    if isinstance(value, dict):
        return {key: one_way(value[key]) for key in sorted(value)}
    if isinstance(value, list):
        return [one_way(each) for each in value]
    if isinstance(value, float):
        return int(value) if math.isfinite(value) and abs(value) >= _LARGEST_EXACT else _float(value)
    return value


def _moment(value: dt.datetime) -> str:
    return value.astimezone(dt.UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


_WRITE: dict[str, Write] = {
    "date": dt.date.isoformat,
    "decimal": lambda value: f"{value:f}",
    "float": _float,
    "json": one_way,
    "time": _moment,
    "time of day": lambda value: value.isoformat(timespec="microseconds"),
    "uuid": str,
}


def writer(field: Field[Any, Any]) -> Write | None:
    """Python's value into JSON's; None where it is written as it is. Never asked about nothing (null)."""
    return _WRITE.get(kind_of(field))


def _only(*kinds: type) -> Read:
    def read(value: Any) -> Any:
        if type(value) not in kinds:
            raise NotThis
        return value

    return read


def _text(make: Callable[[str], Any]) -> Read:
    def read(value: Any) -> Any:
        if type(value) is not str:
            raise NotThis
        try:
            return make(value)
        except (ValueError, ArithmeticError) as why:
            raise NotThis from why

    return read


def _read_moment(value: str) -> dt.datetime:
    if len(value) != 27 or value[-1] != "Z":
        raise ValueError
    return dt.datetime.fromisoformat(value[:-1]).replace(tzinfo=dt.UTC)


def _read_decimal(value: str) -> Decimal:
    if not _DECIMAL.fullmatch(value):
        raise ValueError
    return Decimal(value)


_READ: dict[str, Read] = {
    "boolean": _only(bool),
    "date": _text(dt.date.fromisoformat),
    "decimal": _text(_read_decimal),
    "float": _only(float, int),
    "integer": _only(int),
    "json": lambda value: value,
    "text": _only(str),
    "time": _text(_read_moment),
    "time of day": _text(dt.time.fromisoformat),
    "uuid": _text(uuid.UUID),
}
_AS_IT_IS = {"boolean", "float", "integer", "text"}


def reader(field: Field[Any, Any], connection: BaseDatabaseWrapper) -> Read:
    """JSON's value into what this database takes. Raises NotThis. Never asked about nothing (null)."""
    kind = kind_of(field)
    read = _READ[kind]
    if kind in _AS_IT_IS:
        return read
    return lambda value: field.get_db_prep_save(read(value), connection)
