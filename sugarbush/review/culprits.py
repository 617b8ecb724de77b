"""What does not add up, with the page of the movement to look at."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from urllib.parse import urlencode

from sugarbush.review import recount
from sugarbush.review.recount import Finding
from sugarbush.seasons.models import Season
from sugarbush.taps.said import url

NAMED = 5


@dataclass(frozen=True, slots=True)
class Culprit:
    """A finding and where to look."""

    code: str
    sentence: str
    link: str


def link_of(season: Season, found: Finding) -> str:
    """The movement on the ledger's page, among those of its vessel where the vessel is at fault."""
    if found.seq is None and found.vessel is None:
        return ""
    asked: dict[str, object] = {"year": season.year}
    if found.vessel is not None:
        asked["vessel"] = found.vessel
    if found.seq is not None:
        asked["at"] = found.seq
    place = f"#m{found.seq}" if found.seq is not None else ""
    return f"{url('season-ledger')}?{urlencode(asked)}{place}"


def first(season: Season, count: int = NAMED) -> list[Culprit]:
    """The first findings of a recount. It reads every movement, so only where something is known to be wrong."""
    return [
        Culprit(found.code, found.sentence, link_of(season, found)) for found in islice(recount.findings(season), count)
    ]
