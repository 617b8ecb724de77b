"""Which column of a town's file says what."""

import json
from dataclasses import dataclass, fields, replace
from typing import Any, Literal, get_args

from sugarbush.trees.reading.species import CodeList
from sugarbush.trees.reading.words import gettext as _

SizeKind = Literal["diameter", "girth"]
SizeUnit = Literal["in", "cm", "mm", "m"]
Decimal = Literal[".", ","]
PositionOrder = Literal["lon lat", "lat lon"]
DateOrder = Literal["ymd", "mdy", "dmy"]

CHOICES: dict[str, tuple[str, ...]] = {
    "size_kind": get_args(SizeKind),
    "size_unit": get_args(SizeUnit),
    "decimal": get_args(Decimal),
    "position_order": get_args(PositionOrder),
    "date_order": get_args(DateOrder),
    "code_list": get_args(CodeList),
}


@dataclass(frozen=True, slots=True)
class Mapping:
    """A column name for each thing we can use ("" where the file does not say it), and how to read it."""

    number: str = ""
    botanical: str = ""
    common: str = ""
    code: str = ""
    size: str = ""
    longitude: str = ""
    latitude: str = ""
    position: str = ""
    """Both in one column: "POINT (lon lat)" or a pair such as "(43.7, -79.4)"."""
    address: str = ""
    street: str = ""
    house: str = ""
    side: str = ""
    land: str = ""
    status: str = ""
    site: str = ""
    stems: str = ""
    note: str = ""
    surveyed: str = ""
    size_kind: SizeKind = "diameter"
    size_unit: SizeUnit = "cm"
    decimal: Decimal = "."
    position_order: PositionOrder = "lon lat"
    """Of a pair in the position column; a POINT is always longitude first."""
    date_order: DateOrder = "ymd"
    code_list: CodeList = ""
    unsure: tuple[str, ...] = ()
    """Fields the guess would like a person to look at; no bearing on the reading."""

    def with_changes(self, **changes: Any) -> "Mapping":
        """A copy with some fields set by hand; those are no longer unsure. Raises ValueError for a bad value."""
        unsure = tuple(name for name in self.unsure if name not in changes)
        return _checked(replace(self, **{"unsure": unsure, **changes}))

    def to_json(self) -> str:
        """As text to keep; `from_json` gives an equal mapping back."""
        return json.dumps({field.name: getattr(self, field.name) for field in fields(self)}, ensure_ascii=False)

    @classmethod
    def from_json(cls, text: str) -> "Mapping":
        """Raises ValueError for anything `to_json` would not write."""
        found = json.loads(text)
        if not isinstance(found, dict) or set(found) - {field.name for field in fields(cls)}:
            raise ValueError("not a mapping of columns")
        found["unsure"] = tuple(found.get("unsure", ()))
        return _checked(cls(**found))

    def problems(self, columns: list[str]) -> list[str]:
        """Sentences for what must be chosen before the file can be read; none when it can."""
        said = []
        missing = [name for name in self.used_columns() if name not in columns]
        if missing:
            said.append(_("The file has no column “%(column)s”. Choose another.") % {"column": missing[0]})
        if not self.position and not (self.longitude and self.latitude):
            said.append(_("Choose the columns that hold longitude and latitude, or the one that holds both."))
        elif not self.position and self.longitude == self.latitude:
            said.append(_("Longitude and latitude are the same column. Choose two."))
        if not (self.botanical or self.common or self.code):
            said.append(_("Choose the column that names the species: botanical name, common name or code."))
        return said

    def used_columns(self) -> list[str]:
        """The columns chosen, in the order of the fields."""
        return [name for name in (getattr(self, field) for field in COLUMN_FIELDS) if name]


COLUMN_FIELDS: tuple[str, ...] = tuple(
    field.name for field in fields(Mapping) if field.name not in CHOICES and field.name != "unsure"
)


def _checked(mapping: Mapping) -> Mapping:
    for field, allowed in CHOICES.items():
        if getattr(mapping, field) not in allowed:
            raise ValueError(f"{field} must be one of {allowed}, not {getattr(mapping, field)!r}")
    for field in COLUMN_FIELDS:
        if not isinstance(getattr(mapping, field), str):
            raise ValueError(f"{field} must be the name of a column")
    return mapping
