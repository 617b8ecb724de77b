"""Papers for the street: the sheet of a scout, the card of a permit for the rounds, the notice for the neighbours."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.gathering.rounds import natural
from sugarbush.owners import consent
from sugarbush.papers import blocks as b
from sugarbush.papers.documents.boils import day_asked
from sugarbush.papers.documents.permission import slips_asked
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.papers.maps import map_of
from sugarbush.papers.numbers import digest_of
from sugarbush.papers.squares import square_drawn
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import diameter_words
from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.queries import filtered, trees_for
from sugarbush.volunteers import access

MOST_TREES = 60
"""As many as somebody looks at on one walk."""
TO_SCOUT = (Shown.LISTED, Shown.CONSIDERED, Shown.ASKED, Shown.ALLOWED, Shown.READY)


# The scout's sheet --------------------------------------------------------------------


def to_scout(asked: Asked) -> QuerySet[Tree]:
    """Trees of a street, in the person's reach, that may come into question."""
    access.require(asked.person, "trees.see", anywhere=True)
    street = " ".join(str(asked.choices.get("street", "")).split())
    kinds = bool(asked.choices.get("tappable", True))
    found = filtered(trees_for(asked.person), q=street, states=[int(one) for one in TO_SCOUT], tappable=kinds)
    return found.select_related("species").order_by("address", "pk")


def scout(asked: Asked) -> Sequence[Part]:
    street = " ".join(str(asked.choices.get("street", "")).split())
    found = sorted(to_scout(asked)[: MOST_TREES * 4], key=lambda tree: (natural(tree.address), tree.code))[:MOST_TREES]
    if not found:
        raise Refused(
            [
                Reason(
                    code="none",
                    fact=_("No tree of yours to look at has “%(street)s” in its address.") % {"street": street},
                )
            ]
        )
    rows = [
        [
            str(n),
            tree.code,
            tree.place or _("no address"),
            tree.species.common if tree.species else _("not known"),
            diameter_words(tree.diameter_um, asked.units) or _("not measured"),
            "",
            "",
            "",
        ]
        for n, tree in enumerate(found, start=1)
    ]
    across = _("Trunk (%(unit)s)") % {"unit": "in" if asked.units == "us" else "cm"}
    heads = [
        _("No."),
        _("Tag"),
        _("Where"),
        _("Kind by the list"),
        _("By the list"),
        across,
        _("Kind seen"),
        _("Crown, bark, note"),
    ]
    made = [
        b.title(_("Scout sheet: %(street)s") % {"street": street}, size=18),
        b.columns(
            [b.blank_lines(_("Who looked"))],
            [b.blank_lines(_("Day"))],
        ),
        b.space(2),
        b.para(
            _("Twigs and leaves face to face: a maple, or an ash. Look at a leaf or the keys to be sure."), soft=True
        ),
        map_of([(tree.longitude, tree.latitude) for tree in found], tallest=0.5),
        b.space(2),
        b.table(heads, rows, widths=[0, 0, 2.4, 1.5, 1.1, 1.1, 1.3, 2.4], code=1, row_mm=7.5, size=8.5),
    ]
    subject = f"scout:{digest_of([tree.pk for tree in found])[:24]}"
    return [Part(subject=subject, title=_("Scout sheet"), content={"blocks": made})]


# The permit card ------------------------------------------------------------------------


def permit_cards(asked: Asked) -> Sequence[Part]:
    """A page to carry: which permit, from when to when, what it asks for."""
    parts = []
    for slip in slips_asked(asked):
        days = consent.days_of(slip)
        count = slip.trees.count()
        codes = ", ".join(slip.trees.order_by("code").values_list("code", flat=True)[:60])
        rows = [
            (_("From"), slip.owner.name),
            (_("To"), asked.programme.name),
            (_("Days"), f"{date_format(days[0], 'j F Y')} – {date_format(days[1], 'j F Y')}" if days else _("not set")),
            (_("Our number"), slip.number if slip.public_number else ""),
            (_("Insurance proof until"), date_format(slip.insurance_to, "j F Y") if slip.insurance_to else ""),
            (
                _("Trees"),
                ngettext("%(n)d tree: %(codes)s", "%(n)d trees: %(codes)s", count) % {"n": count, "codes": codes},
            ),
            (_("Questions"), asked.programme.phone or asked.programme.name),
        ]
        made = [
            b.columns(
                [b.title(_("We may tap these trees"), size=22), b.poster(slip.label, size=26)],
                [b.square(square_drawn(asked.address(reverse("paper-slip", args=[slip.number]))), side_mm=27)],
                widths=[4, 1],
            ),
            b.pairs(rows),
            b.heading(_("What we keep to")),
            *(b.para(line, size=12) for line in consent.limits_of(slip, asked.units)),
            b.space(2),
            b.boxed(
                _("Whoever asks you about it"),
                _("Stay friendly, show this card, and give them the telephone number above."),
                _("Is it their tree, and they want it stopped? Then stop, and tell your lead today."),
            ),
        ]
        parts.append(Part(subject=f"permit:{slip.pk}", title=_("Permit card"), content={"blocks": made}))
    return parts


# The notice for neighbours -----------------------------------------------------------------


def notice(asked: Asked) -> Sequence[Part]:
    """A poster for the street: when we boil, what of it they notice, whom to call."""
    access.require(asked.person, "boil.plan", anywhere=True)
    day = day_asked(asked)
    at = time_format(timezone.localtime(day.starts_at), "H:i") if day.starts_at else ""
    when = date_format(day.day, "l j F")
    visit = bool(asked.choices.get("open_day"))
    made = [
        b.space(12),
        b.poster(_("We boil maple syrup"), size=40),
        b.space(4),
        b.poster(_("%(day)s, from %(time)s") % {"day": when, "time": at} if at else when, size=26),
        b.poster(day.site, size=20),
        b.space(8),
        b.boxed(
            _("What you will notice"),
            _("White steam that smells sweet, and some wood smoke, for most of the day."),
            day.wind,
            _("If the smoke drifts into your rooms, please call us and we move or end it."),
            size=15,
        ),
        b.space(4),
    ]
    if visit:
        made.append(
            b.boxed(
                _("Come and look"),
                _("Everybody is welcome. Children stay behind the line: hot sugar burns worse than water."),
                size=15,
            )
        )
    if day.rain_day:
        made.append(b.para(_("If it rains: %(day)s.") % {"day": date_format(day.rain_day, "l j F")}, size=15))
    made += [
        b.space(6),
        b.poster(asked.programme.phone or asked.programme.name, size=30),
        b.poster(asked.programme.name, size=14),
    ]
    kind = "open" if visit else "smoke"
    return [Part(subject=f"notice:{day.pk}:{kind}", title=_("Notice for the neighbours"), content={"blocks": made})]


SCOUT = register(
    Kind(
        key="scout-sheet",
        label=gettext_lazy("Scout sheet"),
        layout="report.typ",
        version="1",
        gather=scout,
        form="ScoutForm",
        note=gettext_lazy("The maples of one street with a small map, and room for what you see."),
    )
)
PERMIT = register(
    Kind(
        key="permit-card",
        label=gettext_lazy("Permit cards for the rounds"),
        layout="report.typ",
        version="1",
        gather=permit_cards,
        may=slips_asked,
        form="PermitForm",
        file_name="permit-cards",
        note=gettext_lazy(
            "What was allowed, by whom, until when, and what we keep to: for whoever is asked in the street."
        ),
    )
)
NOTICE = register(
    Kind(
        key="notice",
        label=gettext_lazy("Notice for the neighbours"),
        layout="report.typ",
        version="1",
        gather=notice,
        form="NoticeForm",
        note=gettext_lazy("A poster for the street before a boiling day: steam, smoke, whom to call."),
    )
)
