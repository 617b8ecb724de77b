"""What messages are usually about, each with a starting text of ours. Whoever writes changes every word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.notices.models import To
from sugarbush.seasons.models import Programme

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

NAME = "{name}"
"""Stands in a text for the name of each recipient."""
REMINDER = "reminder"


@dataclass(frozen=True, kw_only=True)
class Kind:
    """audience: the code of whom it usually goes to.  short: for a chat, without a name."""

    code: str
    label: StrOrPromise
    to: To
    audience: str
    subject: StrOrPromise = ""
    body: StrOrPromise = ""
    short: StrOrPromise = ""


_P, _O = To.PEOPLE, To.OWNERS
KINDS = (
    Kind(
        code="running",
        label=gettext_lazy("it is running"),
        to=_P,
        audience="role",
        subject=gettext_lazy("The sap is running"),
        body=gettext_lazy(
            "Hello {name},\n\nit is running: pails may be full before tomorrow evening. Please look at your round on "
            "your phone, and say early if you cannot come, so that somebody else can.\n\nLids on, and bring the sap "
            "to the depot the same day."
        ),
        short=gettext_lazy("It is running. Please look at your round today, and say early if you cannot come."),
    ),
    Kind(
        code="tapping",
        label=gettext_lazy("tapping Saturday"),
        to=_P,
        audience="role",
        subject=gettext_lazy("We tap on Saturday"),
        body=gettext_lazy(
            "Hello {name},\n\non Saturday we tap. We meet at the depot at nine; bring gloves and warm shoes. Drills "
            "and spouts are there.\n\nShould the wood be frozen that morning we wait, and write again on Friday "
            "evening."
        ),
        short=gettext_lazy("We tap on Saturday, nine at the depot. If it stays frozen we write again on Friday."),
    ),
    Kind(
        code="rota-gap",
        label=gettext_lazy("nobody for a round yet"),
        to=_P,
        audience="role",
        subject=gettext_lazy("A round has nobody yet"),
        body=gettext_lazy(
            "Hello {name},\n\na round of our group has nobody for one of the coming days. Could you take it? It is on "
            "the rota page; a press puts your name there."
        ),
        short=gettext_lazy("A round has nobody yet for one of the coming days. Can you take it? See the rota."),
    ),
    Kind(
        code="boil-day",
        label=gettext_lazy("boiling day"),
        to=_P,
        audience="boil-crew",
        subject=gettext_lazy("Boiling day"),
        body=gettext_lazy(
            "Hello {name},\n\nthank you for standing at the pan. Your shift, the place and the rain date are on the "
            "page of the day; please look once more the evening before.\n\nChildren come with an adult of their own "
            "and stay behind the line."
        ),
        short=gettext_lazy("Boiling day: please look at your shift and at the rain date on the page of the day."),
    ),
    Kind(
        code="postponed",
        label=gettext_lazy("the boiling day moves"),
        to=_P,
        audience="boil-crew",
        subject=gettext_lazy("The boiling day moves"),
        body=gettext_lazy(
            "Hello {name},\n\nwe do not boil on the day we said. The new day is on the page of the boiling day; please "
            "say there once more whether you come. The sap stays cold until then."
        ),
        short=gettext_lazy("The boiling day moves: please see its page and say again whether you come."),
    ),
    Kind(
        code="season-ends",
        label=gettext_lazy("the season ends"),
        to=_P,
        audience="role",
        subject=gettext_lazy("The season ends"),
        body=gettext_lazy(
            "Hello {name},\n\nthe buds are opening, so we stop. Please pull every spout on your trees within three "
            "days, say so on each tree’s page, and bring pails, lids and spouts back washed."
        ),
        short=gettext_lazy("The season ends. Please pull all spouts within three days and bring the pails back."),
    ),
    Kind(
        code="results",
        label=gettext_lazy("what came of it"),
        to=_P,
        audience="role",
        subject=gettext_lazy("What came of this season"),
        body=gettext_lazy(
            "Hello {name},\n\nthe season is counted. What our trees gave, how it was shared and what we learned is on "
            "the season’s page. Thank you for every litre carried."
        ),
        short=gettext_lazy("The season is counted: see the season’s page. Thank you!"),
    ),
    Kind(code="people", label=gettext_lazy("something else, to people"), to=_P, audience="role"),
    Kind(
        code="asking",
        label=gettext_lazy("asking for permission"),
        to=_O,
        audience="owners-new",
        subject=gettext_lazy("May we tap your maple?"),
        body=gettext_lazy(
            "Dear {name},\n\nwe are neighbours who collect maple sap in late winter and boil it into syrup together. "
            "A tree of yours would suit. One small hole for some weeks, by trained people, and the tree closes it "
            "again within a year or two.\n\nYou may say no, or stop at any time. May we come by and talk about it?"
        ),
    ),
    Kind(
        code=REMINDER,
        label=gettext_lazy("the one reminder"),
        to=_O,
        audience="owners-asked",
        subject=gettext_lazy("Your answer about your maple"),
        body=gettext_lazy(
            "Dear {name},\n\nsome time ago we asked whether we may tap your maple. A no is just as welcome as a yes. "
            "We do not ask a third time: without an answer we leave the tree alone."
        ),
    ),
    Kind(
        code="thanks",
        label=gettext_lazy("thank you, with the copy"),
        to=_O,
        audience="owners-live",
        subject=gettext_lazy("Thank you for your yes"),
        body=gettext_lazy(
            "Dear {name},\n\nthank you for letting us tap. What we agreed is on the slip; your copy comes with this "
            "letter, or by your private link. You can stop it at any time: call, and the spout is out within a day."
        ),
    ),
    Kind(
        code="renewal",
        label=gettext_lazy("asking for another season"),
        to=_O,
        audience="owners-ending",
        subject=gettext_lazy("Another season with your maple?"),
        body=gettext_lazy(
            "Dear {name},\n\nyour permission ends soon. May we tap again next season, as before? We look at the "
            "tree first, and use no tree that needs a rest."
        ),
    ),
    Kind(
        code="stopped",
        label=gettext_lazy("we have stopped"),
        to=_O,
        audience="owners-suspended",
        subject=gettext_lazy("We have stopped at your tree"),
        body=gettext_lazy(
            "Dear {name},\n\nwe have stopped at your tree. The spout is out or comes out within a day, and no new "
            "hole is made. Thank you for telling us."
        ),
    ),
    Kind(
        code="spouts-out",
        label=gettext_lazy("all spouts are out"),
        to=_O,
        audience="owners-live",
        subject=gettext_lazy("All spouts are out"),
        body=gettext_lazy(
            "Dear {name},\n\nthe season is over and all spouts are out of your trees. The holes stay open, so that "
            "they dry and close by themselves; please leave them as they are. Thank you."
        ),
    ),
    Kind(
        code="jar",
        label=gettext_lazy("the jar is ready"),
        to=_O,
        audience="owners-jar",
        subject=gettext_lazy("Your jar is ready"),
        body=gettext_lazy(
            "Dear {name},\n\nthere is a jar of this season’s syrup for you. Fetch it at the depot, or tell us when "
            "we may bring it."
        ),
    ),
    Kind(code="owners", label=gettext_lazy("something else, to owners"), to=_O, audience="owners-live"),
)
BY_CODE = {kind.code: kind for kind in KINDS}


def words_of(code: str) -> str:
    """What a message is about; a kind of an older version says itself."""
    kind = BY_CODE.get(code)
    return str(kind.label) if kind else code


def starting_text(kind: Kind) -> dict[str, str]:
    """Subject, body and short to begin with, signed by the programme."""
    programme = Programme.current()
    signed = [programme.name, programme.phone] if programme else []
    body = "\n\n".join(part for part in (str(kind.body), "\n".join(filter(None, signed))) if part)
    return {"subject": str(kind.subject), "body": body, "short": str(kind.short)}


def text_for(body: str, name: str) -> str:
    """The text as one recipient reads it. Only {name} is put in; no other brace means anything."""
    return body.replace(NAME, name)


def text_for_all(body: str) -> str:
    """The text to copy for several at once."""
    return body.replace(NAME, _("everybody"))
