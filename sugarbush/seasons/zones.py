"""Time zones as people look for them: by the town, then the part of the world."""

from __future__ import annotations

from functools import cache
from zoneinfo import available_timezones

# Old doubles of other names, and zones by the hour that know no summer time.
_LEFT_OUT = ("Etc/", "SystemV/", "US/", "Canada/", "Brazil/", "Chile/", "Mexico/", "posix/", "right/", "Arctic/")


@cache
def choices() -> list[tuple[str, str]]:
    """(key, words), sorted by town; "America/New_York" reads "New York, America".

    >>> dict(choices())["America/New_York"]
    'New York, America'
    """
    named = []
    for key in available_timezones():
        if "/" not in key or key.startswith(_LEFT_OUT):
            continue
        region, *rest = key.replace("_", " ").split("/")
        named.append((key, ", ".join([*reversed(rest), region])))
    return [*sorted(named, key=lambda pair: pair[1].lower()), ("UTC", "UTC")]
