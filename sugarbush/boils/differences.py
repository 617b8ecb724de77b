"""What the depot measures and what was entered differ: how much is let pass, and what is said beyond it."""

from __future__ import annotations

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season

ORIGIN = "delivery"


class Differs(Refused):
    """The measures differ by more than the tolerance: explain it, or (over only) accept it ahead of its entries."""

    def __init__(self, *, held_ml: int, measured_ml: int, reason: Reason) -> None:
        self.held_ml, self.measured_ml = held_ml, measured_ml
        super().__init__([reason])


def tolerance_ml(season: Season, held_ml: int) -> int:
    """The season's measuring tolerance: a share of what was held, or a fixed volume, the larger."""
    return max(int(held_ml * season.tolerance_pct / 100), season.tolerance_ml)
