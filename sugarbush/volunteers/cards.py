"""Joining by a card: making cards, finding the one a code opens, coming in by it, withdrawing.

A code can be printed again, yet stands nowhere: it is worked out from the card's seed and the signing key, and what is
kept to find it by is a hash with that key. Whoever has only the database opens nothing with it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Callable

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access, people
from sugarbush.volunteers import rules as house_rules
from sugarbush.volunteers.models import CardSheet, Group, JoinCard, JoinedByCard, Membership, Person, Role

LETTERS = "CDFGHJKMNPQRTVWXY23456789"
"""No vowels, so no words; none of 0 O, 1 I L, and of B 8, S 5, Z 2 the figure alone."""
CODE_LENGTH = 9
MEANT = str.maketrans({"B": "8", "S": "5", "Z": "2"})
MOST_CARDS, MOST_BY_ONE = 48, 50
OPEN_FOR, STAYS_FOR = dt.timedelta(days=60), dt.timedelta(days=28)
LONGEST = dt.timedelta(days=400)
SAME_PRESS_FOR = dt.timedelta(minutes=10)
SIGNED_IN_AFTER = dt.timedelta(days=28)
"""So long a phone stays signed in after the last day in the group: what still waits on it is sent, and looked at."""

SeasonEnd = Callable[[], dt.date | None]
_season_end: list[SeasonEnd] = []


class NameTaken(Refused):
    """Somebody of that name works in the group already."""


def register_season_end(ask: SeasonEnd) -> None:
    """Name the function that knows the last day of the season people work in."""
    _season_end[:] = [ask]


def usual_days(today: dt.date) -> tuple[dt.date, dt.date]:
    """Until when a new card opens, and until when who joins by it is in the group, unless somebody says otherwise."""
    end = _season_end[0]() if _season_end else None
    end = end if end is not None and end > today else today + OPEN_FOR
    return end, end + STAYS_FOR


# Codes --------------------------------------------------------------------------------


def code_of(card: JoinCard) -> str:
    """The code of a card, to be printed. Needs the signing key it was made with: see `can_print`."""
    number = int.from_bytes(salted_hmac("sugarbush.card.code", card.seed, algorithm="sha256").digest())
    code = ""
    for _place in range(CODE_LENGTH):
        number, letter = divmod(number, len(LETTERS))
        code += LETTERS[letter]
    return code


def hash_of(code: str) -> str:
    return salted_hmac("sugarbush.card.hash", code, algorithm="sha256").hexdigest()


def can_print(card: JoinCard) -> bool:
    """Whether the signing key is still the one the card was made with."""
    return hash_of(code_of(card)) == card.code_hash


def spaced(code: str) -> str:
    """In threes, as it is printed and read aloud.

    >>> spaced("K7MQR4XW9")
    'K7M QR4 XW9'
    """
    return " ".join(code[at : at + 3] for at in range(0, len(code), 3))


def as_code(typed: str) -> str:
    """What was typed as a code: gaps and small letters do not matter, B, S and Z are 8, 5 and 2. Empty: no code.

    >>> as_code(" k7m-qr4 xw9 "), as_code("K7MQR4XWB"), as_code("K7MQR4XW"), as_code("K7MQR4XWO")
    ('K7MQR4XW9', 'K7MQR4XW8', '', '')
    """
    code = "".join(sign for sign in typed.upper() if sign.isalnum()).translate(MEANT)
    return code if len(code) == CODE_LENGTH and set(code) <= set(LETTERS) else ""


# Making, printing, withdrawing --------------------------------------------------------


@transaction.atomic
def make_cards(
    *,
    by: Person,
    group: Group,
    count: int,
    most: int,
    good_from: dt.date,
    good_to: dt.date,
    member_to: dt.date,
    sheet_id: uuid.UUID,
) -> CardSheet:
    """A sheet of cards for a group. The same id again gives the sheet that is there."""
    access.require(by, "cards.make", group_id=group.pk)
    Group.objects.select_for_update().get(pk=group.pk)  # of two presses at once the second finds the first's sheet
    there = CardSheet.objects.filter(pk=sheet_id).first()
    if there is not None and (there.group_id, there.made_by_id) == (group.pk, by.pk):
        return there
    sheet = CardSheet.objects.create(
        pk=uuid.uuid4() if there else sheet_id,
        group=group,
        made_by=by,
        good_from=good_from,
        good_to=good_to,
        member_to=member_to,
    )
    cards = [JoinCard(sheet=sheet, number=number, most=most) for number in range(1, count + 1)]
    for card in cards:
        card.code_hash = hash_of(code_of(card))
    JoinCard.objects.bulk_create(cards)
    made = {"cards": count, "people by each": most, "from": str(good_from), "to": str(good_to)}
    record(by=by, act="make join cards", subject=sheet, new=made | {"in the group until": str(member_to)})
    return sheet


def still_open(on: dt.date) -> Q:
    """A filter for cards by which somebody may still join, on that day or, not begun yet, later."""
    return Q(withdrawn_at=None, used__lt=F("most"), sheet__good_to__gte=on)


def to_print(*, by: Person, sheet: CardSheet) -> list[tuple[JoinCard, str]]:
    """The cards of a sheet that may still open, with their codes; that they were shown is written down."""
    access.require(by, "cards.make", group_id=sheet.group_id)
    cards = sheet.cards.filter(still_open(access.today())).order_by("number") if maker_may(sheet) else []
    shown = [(card, code_of(card)) for card in cards if can_print(card)]
    record(by=by, act="show join cards", subject=sheet, new={"cards": len(shown)})
    return shown


@transaction.atomic
def withdraw(*, by: Person, sheet: CardSheet, number: int | None = None) -> int:
    """Let one card of a sheet, or all that are not used up, open nothing any more. How many that were."""
    access.require(by, "cards.make", group_id=sheet.group_id)
    cards = JoinCard.objects.select_for_update().filter(sheet=sheet, withdrawn_at=None, used__lt=F("most"))
    if number is not None:
        cards = cards.filter(number=number)
    numbers = [card.number for card in cards]
    if numbers:
        sheet.cards.filter(number__in=numbers).update(withdrawn_at=timezone.now(), withdrawn_by=by)
        record(by=by, act="withdraw join cards", subject=sheet, new={"cards": numbers})
    return len(numbers)


def sheets_of(group: Group) -> QuerySet[CardSheet]:
    """The sheets of a group, the newest first."""
    return CardSheet.objects.filter(group=group).select_related("made_by").order_by("-made_at", "pk")


# Coming in ----------------------------------------------------------------------------


def card_for(code: str) -> JoinCard | None:
    """The card a code opens today. Unknown, used up, withdrawn, too old and not begun are all the same: None."""
    card = JoinCard.objects.select_related("sheet__group").filter(code_hash=hash_of(code)).first()
    return card if card is not None and _opens(card) else None


def open_card(card_id: int) -> JoinCard | None:
    """The card, if somebody may join by it today."""
    card = JoinCard.objects.select_related("sheet__group").filter(pk=card_id).first()
    return card if card is not None and _opens(card) else None


def _opens(card: JoinCard) -> bool:
    begun = card.sheet.good_from <= access.today() <= card.sheet.good_to
    return begun and card.withdrawn_at is None and card.used < card.most and maker_may(card.sheet)


def makers(group: Group) -> set[int]:
    """Who may make cards for a group today, by key. A card opens no longer than whoever made it might make another:
    a lead who is out could otherwise come back by a card kept at home."""
    held = Membership.objects.live(access.today()).filter(role__in=access.roles_for("cards.make"))
    held = held.filter(Q(group=None) | Q(group=group), person__is_active=True)
    return set(held.values_list("person_id", flat=True))


def maker_may(sheet: CardSheet) -> bool:
    return sheet.made_by_id in makers(sheet.group)


def gone() -> Refused:
    """What is said of every card that does not open, whatever the cause."""
    return Refused(
        [
            Reason(
                code="card-gone",
                fact=_("This card does not open anything, or not any more."),
                next_text=_("Ask who gave it to you for another"),
            )
        ]
    )


def joined_by_press(press: str) -> JoinedByCard | None:
    """Who joined by this very press of the button, a moment ago: the answer was lost, or it was pressed twice."""
    since = timezone.now() - SAME_PRESS_FOR
    rows = JoinedByCard.objects.select_related("person", "card__sheet").filter(at__gte=since, person__is_active=True)
    return rows.filter(press_hash=_press_hash(press)).first()


def _press_hash(press: str) -> str:
    return hashlib.sha256(press.encode()).hexdigest()


@transaction.atomic
def join(
    *,
    card: JoinCard,
    press: str,
    display_name: str,
    units: str,
    age_band: str,
    language: str = "en",
    rules: int = 0,
    guardian: str = "",
) -> JoinedByCard:
    """Somebody new comes in by a card, as a volunteer of its group from today on.

    press: a secret of the page; the same again gives who joined by it.  rules: the version of the house rules they
    said yes to, 0 where none was shown; guardian: who agreed beside them, for somebody under 18.  Raises Refused when
    the card does not open any more, NameTaken when somebody of that name is in the group, house_rules.MovedOn when
    other house rules stand by now.
    """
    # The card's row is held first, so that of two presses at once the second finds what the first has done.
    held = JoinCard.objects.select_for_update(of=("self",)).select_related("sheet__group").get(pk=card.pk)
    there = joined_by_press(press)
    if there is not None:
        return there
    if not _opens(held):
        raise gone()
    if not rules and house_rules.latest() is not None:
        raise house_rules.MovedOn()
    group = held.sheet.group
    if people.is_named(display_name, groups=[group.pk]):
        raise NameTaken(
            [
                Reason(
                    code="name-taken",
                    fact=_("%(name)s is in %(group)s already. Is that you?") % {"name": display_name, "group": group},
                    detail=_("Then ask your group lead for a link, and keep the card for somebody else."),
                    next_text=_("Somebody else of that name? Add a second name or an initial"),
                )
            ]
        )
    person = Person.objects.create(display_name=display_name, units=units, age_band=age_band, language=language)
    Membership.objects.create(
        person=person, group=group, role=Role.VOLUNTEER, date_from=access.today(), date_to=held.sheet.member_to
    )
    if rules:
        house_rules.say_yes(person=person, number=rules, guardian=guardian)
    JoinCard.objects.filter(pk=held.pk).update(used=F("used") + 1)
    joined = JoinedByCard.objects.create(person=person, card=held, press_hash=_press_hash(press))
    told = {"card": str(held), "to": str(held.sheet.member_to), "age": age_band}
    record(by=person, act="join by card", subject=person, group_id=group.pk, new=told)
    return joined


def signed_in_until(sheet: CardSheet) -> dt.datetime:
    """How long a phone that came in by one of these cards stays signed in."""
    last = sheet.member_to + SIGNED_IN_AFTER
    return timezone.make_aware(dt.datetime.combine(last, dt.time(23, 59)))
