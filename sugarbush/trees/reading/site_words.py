"""What towns write where no tree stands, and whose land it is."""

import re
from typing import Literal

from sugarbush.trees.reading.species import plain
from sugarbush.trees.reading.words import word_set

Site = Literal["", "stump", "vacant", "removed", "dead"]
Land = Literal["private", "public", "unknown"]

_STUMP = re.compile(r"\b(stumps?|souche|baumstumpf|stubben|tocon|stronk)\b")
_VACANT = re.compile(
    r"\bvacant\b(?! (?:lot|land|propert|house|parcel|building))|\bempty\b|\bplant(?:ing|able) (?:site|spa|pit|loc)"
    r"|\bavailable (?:site|space)|\bno tree\b|\bunplanted\b|\b(?:emplacement|site|fosse) (?:vide|libre)"
    r"|\bunbesetzt|\bleerer? |\bvacio\b"
)
_REMOVED = re.compile(r"\b(removed|felled|cut down|deleted|gone|retired|abattue?|enlevee?|gefallt|entfernt|talado)\b")
_STILL_THERE = re.compile(
    r"\b(?:to be|not|should be|will be|needs? to|scheduled|recommended|proposed|pending|never|requested)\b"
)
_DEAD = re.compile(r"\b(?:dead|morte?|abgestorben|muerto)\b")
_ABSENT = frozenset({"absent", "vide", "leer", "none present"})
_PUBLIC = word_set(
    "public publique offentlich municipal municipality city town village county state federal government park parks "
    "street boulevard row roadway verge cemetery school district parkway stadt ville commune communal kommune"
)
_PRIVATE = word_set("private privately privat prive privee privado")


def site_of(text: str) -> Site:
    """Whether a status, site or species text says that no living tree stands there.

    >>> site_of("Vacant Site - Large"), site_of("To be removed"), site_of("Stump"), site_of("Removed 2019")
    ('vacant', '', 'stump', 'removed')
    """
    words = plain(text)
    if not words:
        return ""
    if _STUMP.search(words):
        return "stump"
    if _VACANT.search(words) or words in _ABSENT:
        return "vacant"
    if _REMOVED.search(words) and not _STILL_THERE.search(words):
        return "removed"
    return "dead" if _DEAD.search(words) else ""


def land_of(text: str) -> Land:
    """Public or private land, where the text says one and not the other.

    >>> land_of("City ROW"), land_of("Private"), land_of("Private street"), land_of("")
    ('public', 'private', 'unknown', 'unknown')
    """
    words = set(plain(text).split())
    public = bool(words & _PUBLIC) or "right of way" in plain(text)
    private = bool(words & _PRIVATE)
    if public == private:
        return "unknown"
    return "public" if public else "private"
