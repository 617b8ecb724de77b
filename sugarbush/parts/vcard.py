"""Address cards as telephones take them in: vCard 3.0 (RFC 2426), which older and newer programs read alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sugarbush.parts.contentlines import escaped, joined

MEDIA_TYPE = "text/vcard; charset=utf-8"


@dataclass(frozen=True, kw_only=True)
class Card:
    """One person or body. Of a name the programme does not know which part is the family's, so none is guessed."""

    uid: str
    name: str
    organisation: str = ""
    title: str = ""
    email: str = ""
    phone: str = ""
    address: str = ""
    note: str = ""
    is_body: bool = False

    def lines(self) -> list[str]:
        name = escaped(self.name)
        lines = ["BEGIN:VCARD", "VERSION:3.0", f"UID:{escaped(self.uid)}", f"FN:{name}"]
        lines.append(f"N:{'' if self.is_body else name};;;;")
        if self.is_body:
            lines += [f"ORG:{name}", "X-ABShowAs:COMPANY"]
        elif self.organisation:
            lines.append(f"ORG:{escaped(self.organisation)}")
        told = (("TITLE", self.title), ("EMAIL;TYPE=INTERNET", self.email), ("TEL;TYPE=VOICE", self.phone))
        lines += [f"{head}:{escaped(text)}" for head, text in told if text]
        if self.address:
            lines.append(f"ADR:;;{escaped(self.address)};;;;")
        if self.note:
            lines.append(f"NOTE:{escaped(self.note)}")
        return [*lines, "END:VCARD"]


def cards(found: Iterable[Card]) -> Iterator[bytes]:
    """The cards one after another in one file."""
    for card in found:
        yield joined(card.lines())
