"""A refusal in plain words, with its next step. Gate, closing checks and commands all speak in these."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Reason:
    """One thing that stands in the way.

    code: short and stable, for programs and tests. fact: the sentence in bold. detail: what lies behind it.
    next_text, next_url: the next step and where it is done; next_url may be empty on a command line.
    """

    code: str
    fact: str
    detail: str = ""
    next_text: str = ""
    next_url: str = ""

    def __str__(self) -> str:
        return " ".join(part for part in (self.fact, self.detail, self.next_text and self.next_text + ".") if part)


class Refused(Exception):  # noqa: N818  # said as people say it: the act was refused
    """An act that was not done, with every reason at once."""

    def __init__(self, reasons: Iterable[Reason]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n".join(str(reason) for reason in self.reasons))
