"""Acts on the house rules: publishing a version, and saying yes to one."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access, waivers
from sugarbush.volunteers.models import Credential, CredentialKind, HouseRules, Person

GRACE = dt.timedelta(days=7)

# Where a programme begins. It says itself that it is a draft, and that nobody learned in the law has read it.
START = (
    gettext_noop(
        "DRAFT. This is a first text to work from. It was written by nobody learned in the law and promises no "
        "protection. Let the programme’s own adviser and insurer read it, put in what holds in your town, and take "
        "this paragraph out."
    ),
    gettext_noop(
        "We work in streets and yards in late winter. There is ice, traffic, heavy pails, drills, a fire and "
        "boiling syrup. I go where I feel safe, I stop when I do not, and I tell the group lead when I am hurt or "
        "nearly was."
    ),
    gettext_noop(
        "I tap and gather only at trees that were given to us, enter a yard only at the hours its owner named, and "
        "close the gate behind me. I write down what I did, also when it went wrong."
    ),
    gettext_noop(
        "I carry no more than I can. Drilling, ladders and the fire are for trained adults. Whoever is under 18 "
        "comes with a guardian’s consent and works beside two screened adults."
    ),
    gettext_noop(
        "I take part of my own free will. What the programme and its insurance answer for, and what they do not: "
        "[to be written by the programme’s adviser]."
    ),
    gettext_noop("Names, addresses and what I learn at people’s doors stay in the programme."),
)


def first_text() -> str:
    """The draft a programme begins with, in the reader's language."""
    return "\n\n".join(_(paragraph) for paragraph in START)


def still_a_draft(words: str) -> list[Reason]:
    """The reason against publishing what says of itself that it is a draft, or leaves its gap open."""
    if not any(_(part) in words or part in words for part in (START[0], START[4])):
        return []
    fact = _("The text still says that it is a draft, or has its gap in square brackets.")
    step = _("Let the programme’s adviser read it, fill the gap, take the first paragraph out")
    return [Reason(code="draft", fact=fact, next_text=step)]


def latest() -> HouseRules | None:
    """The version shown to people now, or None while nothing is published."""
    return HouseRules.objects.select_related("published_by").first()


@transaction.atomic
def publish(
    *, by: Person, words: str, after: int, asks_anew: bool, needed_from: dt.date, what_changed: str = ""
) -> HouseRules:
    """Publish the next version. The same words pressed twice are published once.

    after: the version its writer saw (0: none).  needed_from: from that day an act that needs a yes needs this one.
    Raises Refused where another version came in between, where the words are the last ones again, and where they
    still say that they are a draft.
    """
    access.require(by, "rules.keep", anywhere=True)
    words = words.strip().replace("\r\n", "\n")
    if reasons := still_a_draft(words):
        raise Refused(reasons)
    before = latest()
    if before is not None and before.words == words:
        if before.number == after + 1:
            return before
        fact = _("These are the words of version %(n)d already.") % {"n": before.number}
        raise Refused([Reason(code="same", fact=fact, next_text=_("Change them first, or leave it as it is"))])
    made, is_new = HouseRules.objects.get_or_create(
        number=after + 1,
        defaults={
            "words": words,
            "asks_anew": asks_anew or after == 0,
            "needed_from": needed_from,
            "what_changed": what_changed.strip(),
            "published_by": by,
        },
    )
    if not is_new and made.words != words:
        fact = _("Version %(n)d has been published meanwhile.") % {"n": made.number}
        url = reverse("house-rules-version", args=[made.number])
        raise Refused([Reason(code="meanwhile", fact=fact, next_text=_("Read it, then publish yours"), next_url=url)])
    if is_new:
        told = {"version": made.number, "asks anew": made.asks_anew, "needed from": str(needed_from)}
        record(by=by, act="publish house rules", subject=made, new=told)
        wanted = waivers.asked()
        transaction.on_commit(lambda: waivers.keep(wanted.wanted if wanted else 0))
    return made


class MovedOn(Refused):
    """The words somebody read are not the ones that stand now."""

    def __init__(self) -> None:
        fact = _("The house rules have changed while you read them.")
        super().__init__([Reason(code="moved-on", fact=fact, next_text=_("Read what stands below, then say yes"))])


@transaction.atomic
def say_yes(*, person: Person, number: int, guardian: str = "") -> Credential:
    """A person's own yes to the version they have just read; said twice it is written once.

    guardian: who was there and agreed, for somebody under 18. It is written down to be asked about, and opens nothing.
    Raises MovedOn where another version stands by now.
    """
    now = latest()
    if now is None or now.number != number:
        raise MovedOn
    Person.objects.select_for_update().get(pk=person.pk)
    today = access.today()
    held = person.credentials.filter(kind=CredentialKind.WAIVER, version=str(number)).live(today).first()
    if held is None:
        held = Credential.objects.create(
            person=person, kind=CredentialKind.WAIVER, version=str(number), valid_from=today, by_self=True
        )
        record(by=person, act="say yes to house rules", subject=held, new={"version": number})
    if guardian and not person.is_adult:
        _guardian(person, number, guardian, today)
    return held


def _guardian(person: Person, number: int, guardian: str, today: dt.date) -> None:
    said = {"kind": CredentialKind.GUARDIAN, "version": str(number), "by_self": True}
    if not person.credentials.filter(**said).live(today).exists():
        note = _("said on the phone, to be asked: %(who)s") % {"who": guardian}
        row = Credential.objects.create(person=person, valid_from=today, note=note[:200], **said)
        record(by=person, act="name a guardian", subject=row, new={"version": number})
