"""One thing that waits for a person."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """Something that waits for a person, and where it is done."""

    fact: str
    next_text: str
    url: str
    urgent: bool = False
