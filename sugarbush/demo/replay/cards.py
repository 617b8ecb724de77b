"""Cards to join by: one group's sheet, a card of it lost and withdrawn, and a newcomer who came by another."""

from __future__ import annotations

import datetime as dt
import uuid

from sugarbush.demo.replay.cast import Cast, Plan
from sugarbush.demo.replay.clock import Story
from sugarbush.volunteers.cards import join, make_cards, withdraw
from sugarbush.volunteers.models import CardSheet

GROUP = "North Bank"
NEWCOMER = "Juniper Ashgrove"
MADE, LOST, JOINED = -9, -6, -1
"""Days from the demo's own day."""
_CARDS = 8
_OPEN, _STAYS = dt.timedelta(days=40), dt.timedelta(days=70)


def write(story: Story, cast: Cast, plan: Plan, today: dt.date) -> None:
    """The sheet, the lost card, and who joined the evening before."""
    first = (today - plan.first_day).days
    story.add(story.moment(first + MADE, 19), _make, cast, today)
    story.add(story.moment(first + LOST, 20), _lose, cast)
    story.add(story.moment(first + JOINED, 18, 20), _join)


def _make(cast: Cast, today: dt.date) -> None:
    made = today + dt.timedelta(days=MADE)
    make_cards(
        by=cast.lead(GROUP),
        group=cast.groups[GROUP],
        count=_CARDS,
        most=1,
        good_from=made,
        good_to=made + _OPEN,
        member_to=made + _STAYS,
        sheet_id=uuid.uuid4(),
    )


def _lose(cast: Cast) -> None:
    withdraw(by=cast.lead(GROUP), sheet=CardSheet.objects.get(), number=_CARDS)


def _join() -> None:
    card = CardSheet.objects.get().cards.get(number=1)
    join(card=card, press=str(uuid.uuid4()), display_name=NEWCOMER, units="us", age_band="adult")
