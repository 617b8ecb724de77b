"""The shares on paper: a statement for each person, and the list on which the jars are signed for."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.lots.sizes import size_words
from sugarbush.papers import blocks as b
from sugarbush.papers.documents.returns import season_asked
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.shares import runs
from sugarbush.shares.models import Party, Share, ShareRun, Taken
from sugarbush.volunteers import access


def run_asked(asked: Asked) -> ShareRun:
    """The final working-out of a season."""
    access.require(asked.person, "share.see", anywhere=True)
    season = season_asked(asked)
    found = runs.final_of(season)
    if found is None:
        raise Refused(
            [Reason(code="final", fact=_("The shares of %(year)d are not final yet.") % {"year": season.year})]
        )
    return found


def jar_words(share: Share) -> str:
    return ", ".join(f"{n} × {size_words(size)}" for size, n in share.by_size.items())


def statements(asked: Asked) -> Sequence[Part]:
    """A page for each member's share: what they brought of the whole, what is due, what they get."""
    run = run_asked(asked)
    rows = run.shares.filter(party=Party.PERSON).order_by("name", "pk")
    whole_ml = sum(row["sap_ml"] for row in run.inputs["people"])
    count = rows.count()
    parts = []
    for n, share in enumerate(rows, start=1):
        parts.append(_statement(asked, run, share, whole_ml))
        if n % 25 == 0:
            asked.progress(n, count)
    return parts


def _statement(asked: Asked, run: ShareRun, share: Share, whole_ml: int) -> Part:
    about, units = share.working, asked.units
    minutes = about.get("min") or 0
    brought = about.get("sap_ml", 0)
    made = [
        b.title(_("Your share of the syrup")),
        b.para(share.name, size=14, bold=True),
        b.space(3),
        b.poster(
            ngettext("%(n)d jar", "%(n)d jars", share.count) % {"n": share.count}
            if share.count
            else _("no jar this time"),
            size=30,
        ),
        b.poster(jar_words(share), size=14) if share.count else b.space(1),
        b.space(3),
        b.pairs(
            [
                (
                    _("You brought"),
                    _("%(mine)s of the season’s %(all)s")
                    % {
                        "mine": volume_words(brought, units, exact=True),
                        "all": volume_words(whole_ml, units, exact=True),
                    },
                ),
                (_("Hours at the pan"), f"{Decimal(minutes) / 60:.2f}" if minutes else ""),
                (
                    _("Due"),
                    _("%(due)s of %(pool)s of syrup")
                    % {
                        "due": volume_words(share.entitled_ml, units, exact=True),
                        "pool": volume_words(run.pool_ml, units, exact=True),
                    },
                ),
                (_("In the jars"), volume_words(share.given_ml, units, exact=True)),
                (_("Jars are kept until"), date_format(run.collect_by, "j F Y") if run.collect_by else ""),
                (_("Working-out"), _("no. %(n)d, final") % {"n": run.number}),
            ]
        ),
        b.space(4),
        b.para(_("Whole jars cannot match every drop: what is over or under goes into the next season’s reckoning.")),
        b.para(
            _("A question? Ask on the page of your share, or call %(who)s.")
            % {"who": asked.programme.phone or asked.programme.name}
        ),
    ]
    return Part(subject=f"share:{share.pk}", title=_("Share statement"), content={"blocks": made})


def hand_out(asked: Asked) -> Sequence[Part]:
    """The list with a line to sign for each."""
    run = run_asked(asked)
    made = [
        b.title(_("Hand-out list %(year)d") % {"year": run.season.year}, size=18),
        b.para(_("Write down the lot that stands on the jars, and tick it off on the page the same day."), soft=True),
    ]
    for party, name in ((Party.PERSON, _("Members")), (Party.OWNER, _("Tree owners")), (Party.ASIDE, _("Set aside"))):
        shares = list(run.shares.filter(party=party, given_ml__gt=0).order_by("name", "pk"))
        if not shares:
            continue
        made.append(b.heading(name))
        made.append(
            b.table(
                [_("Name"), _("Jars"), _("Lot"), _("Received: signature and day")],
                [
                    [
                        share.name,
                        jar_words(share),
                        "",
                        "" if share.taken == Taken.WAITING else share.get_taken_display(),
                    ]
                    for share in shares
                ],
                widths=[2, 1.6, 0.9, 2.2],
                row_mm=8.5,
            )
        )
    return [Part(subject=f"hand-out:{run.pk.hex}", title=_("Hand-out list"), content={"blocks": made})]


def _people(asked: Asked) -> int:
    return run_asked(asked).shares.filter(party=Party.PERSON).count()


STATEMENTS = register(
    Kind(
        key="share-statements",
        label=gettext_lazy("Share statements"),
        layout="report.typ",
        version="1",
        gather=statements,
        may=run_asked,
        size=_people,
        long_above=40,
        form="SeasonForm",
        note=gettext_lazy("A page for each person: what they brought, what is due, which jars they get."),
    )
)
HAND_OUT = register(
    Kind(
        key="hand-out-list",
        label=gettext_lazy("Hand-out list"),
        layout="report.typ",
        version="1",
        gather=hand_out,
        may=run_asked,
        form="SeasonForm",
        note=gettext_lazy("Who gets which jars, with a line to sign on."),
    )
)
