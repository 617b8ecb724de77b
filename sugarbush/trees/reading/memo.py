"""Answers kept for texts that come again and again, such as the thirty sizes of a town's ten thousand trunks."""

from collections.abc import Callable
from typing import TypeVar

Text = TypeVar("Text", bound=object)
Answer = TypeVar("Answer")

MOST_KEPT = 20_000


class Memo(dict[Text, Answer]):
    """A dict that works its answers out; it stops keeping them at MOST_KEPT, so its memory stays flat."""

    def __init__(self, work_out: Callable[[Text], Answer]) -> None:
        super().__init__()
        self._work_out = work_out

    def __missing__(self, text: Text) -> Answer:
        answer = self._work_out(text)
        if len(self) < MOST_KEPT:
            self[text] = answer
        return answer
