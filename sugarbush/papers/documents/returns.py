"""What goes back to whoever allowed it: for each permit trees, taps, days, and first what was not kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Sum
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.owners.models import Permission
from sugarbush.papers import blocks as b
from sugarbush.papers.documents.permission import slips_asked
from sugarbush.papers.kinds import Asked, Kind, Part, register
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import diameter_words, length_words, volume_words
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees.models import Tree


@dataclass(kw_only=True)
class Condition:
    """One limit of a permit: its words, each tap or tree that went beyond it, and whether its day is still to come."""

    words: str
    broken: list[str]
    ahead: bool = False


def season_asked(asked: Asked) -> Season:
    """The season of choices["year"], else the current one, else the newest."""
    year = str(asked.choices.get("year") or "")
    found = Season.objects.filter(year=int(year)).first() if year.isdecimal() and len(year) == 4 else Season.current()
    found = found or Season.objects.order_by("-year").first()
    if found is None:
        raise Refused([Reason(code="season", fact=_("There is no season yet."))])
    return found


def gather(asked: Asked) -> Sequence[Part]:
    season = season_asked(asked)
    return [_part(asked, slip, season) for slip in slips_asked(asked)]


def conditions_of(slip: Permission, taps: Iterable[Tap], units: str, on: dt.date) -> list[Condition]:
    """Each checkable limit with what broke it, the days and the pulling among them."""
    taps = list(taps)
    by_tree: dict[str, int] = {}
    for tap in taps:
        by_tree[tap.tree.code] = by_tree.get(tap.tree.code, 0) + 1
    most = slip.most_taps if slip.most_taps is not None else 2
    spouts = ngettext("At most %(n)d spout a tree", "At most %(n)d spouts a tree", most) % {"n": most}
    found = [Condition(words=spouts, broken=[f"{code}: {n}" for code, n in by_tree.items() if n > most])]
    if slip.least_diameter_um:
        least = slip.least_diameter_um
        found.append(
            Condition(
                words=_("Trunks of at least %(size)s") % {"size": diameter_words(least, units)},
                broken=[
                    f"{tap.tree.code}: {diameter_words(tap.diameter_um, units)}"
                    for tap in taps
                    if tap.diameter_um is not None and tap.diameter_um < least
                ],
            )
        )
    if slip.most_height_mm:
        highest = slip.most_height_mm
        found.append(
            Condition(
                words=_("No hole higher than %(height)s") % {"height": length_words(highest, units)},
                broken=[
                    f"{tap.tree.code}: {length_words(tap.height_mm, units)}" for tap in taps if tap.height_mm > highest
                ],
            )
        )
    if slip.largest_bit_um:
        widest = slip.largest_bit_um
        found.append(
            Condition(
                words=_("No hole wider than %(size)s") % {"size": diameter_words(widest, units, bit=True)},
                broken=[
                    f"{tap.tree.code}: {diameter_words(tap.bit_um, units, bit=True)}"
                    for tap in taps
                    if tap.bit_um > widest
                ],
            )
        )
    if slip.most_depth_mm:
        deepest = slip.most_depth_mm
        found.append(
            Condition(
                words=_("No hole deeper than %(depth)s") % {"depth": length_words(deepest, units)},
                broken=[
                    f"{tap.tree.code}: {length_words(tap.depth_mm, units)}" for tap in taps if tap.depth_mm > deepest
                ],
            )
        )
    if slip.date_from and slip.date_to:
        first, last = slip.date_from, slip.date_to
        days = {"first": date_format(first, "j F Y"), "last": date_format(last, "j F Y")}
        early = [
            _("%(tree)s: drilled on %(day)s") % {"tree": tap.tree.code, "day": _day(tap.placed_at)}
            for tap in taps
            if not first <= timezone.localdate(tap.placed_at) <= last
        ]
        found.append(Condition(words=_("Drilled from %(first)s to %(last)s only") % days, broken=early))
        late = []
        for tap in taps:
            if tap.out_at is not None and timezone.localdate(tap.out_at) > last:
                late.append(_("%(tree)s: pulled on %(day)s") % {"tree": tap.tree.code, "day": _day(tap.out_at)})
            elif tap.out_at is None and on > last:
                late.append(_("%(tree)s: still in") % {"tree": tap.tree.code})
        ahead = on <= last and any(tap.out_at is None for tap in taps)
        found.append(Condition(words=_("Every spout out by %(last)s") % days, broken=late, ahead=ahead))
    settle = [tap.tree.code for tap in taps if tap.state == TapState.TO_SETTLE]
    lost = [f"{tap.tree.code}: {tap.out_reason}" for tap in taps if tap.state == TapState.LOST]
    if settle:
        found.append(Condition(words=_("Every hole settled by a second person"), broken=settle))
    if lost:
        found.append(Condition(words=_("No spout lost"), broken=lost))
    return found


def _part(asked: Asked, slip: Permission, season: Season) -> Part:
    units = asked.units
    trees = list(Tree.objects.filter(permission_lines__permission=slip).select_related("species").order_by("code"))
    taps = list(
        Tap.objects.filter(tree__in=trees, season=season).select_related("tree").order_by("tree__code", "position")
    )
    rows = Collection.objects.filter(tree__in=trees, season=season, state=CollectionState.COUNTED)
    sap = dict(rows.order_by().values_list("tree_id").annotate(ml=Sum("volume_ml")))
    conditions = conditions_of(slip, taps, units, asked.on)
    broken = [one for one in conditions if one.broken]
    still_in = [tap for tap in taps if tap.out_at is None]
    made = [
        b.title(_("Return for permit %(number)s") % {"number": slip.label}, size=19),
        b.pairs(
            [
                (_("To"), slip.owner.name),
                (_("Season"), str(season.year)),
                (_("Days allowed"), _span(slip)),
                (_("Our number"), slip.number if slip.public_number else ""),
                (_("Insurance proof until"), date_format(slip.insurance_to, "j F Y") if slip.insurance_to else ""),
                (
                    _("Trees and taps"),
                    _("%(trees)d trees allowed, %(tapped)d tapped, %(taps)d taps")
                    % {"trees": len(trees), "tapped": len({tap.tree_id for tap in taps}), "taps": len(taps)},
                ),
                (_("Spouts still in"), _("none") if not still_in else str(len(still_in))),
                (_("Sap taken"), volume_words(sum(sap.values()), units, exact=True)),
            ]
        ),
        b.heading(_("What was not kept")),
    ]
    if broken:
        made += [b.boxed(one.words, ", ".join(one.broken), size=10.5) for one in broken]
    else:
        made.append(
            b.para(_("Nothing: what could be kept so far was kept at every tap.") if taps else _("No tree was tapped."))
        )
    kept = [(True, one.words + ".") for one in conditions if not one.broken and not one.ahead]
    to_come = [(False, one.words + ".") for one in conditions if one.ahead and not one.broken]
    if kept and taps:
        made += [b.heading(_("What was kept")), b.ticks(kept)]
    if to_come:
        made += [b.heading(_("Still to come")), b.ticks(to_come)]
    if slip.conditions.strip():
        made += [b.heading(_("Other conditions, as written")), b.para(slip.conditions.strip())]
    made.append(b.heading(_("Tree by tree")))
    by_tree: dict[int, list[Tap]] = {}
    for tap in taps:
        by_tree.setdefault(tap.tree_id, []).append(tap)
    table = [
        [
            tree.code,
            tree.place or _("no address"),
            tree.species.common if tree.species else _("not known"),
            str(len(by_tree.get(tree.pk, []))),
            ", ".join(_day(tap.placed_at) for tap in by_tree.get(tree.pk, [])) or _("not tapped"),
            ", ".join(_day(tap.out_at) if tap.out_at else _("still in") for tap in by_tree.get(tree.pk, [])),
            volume_words(sap[tree.pk], units) if tree.pk in sap else "",
        ]
        for tree in trees
    ]
    total = [_("Together"), "", "", str(len(taps)), "", "", volume_words(sum(sap.values()), units)]
    made.append(
        b.table(
            [_("Tag"), _("Where"), _("Kind"), _("Taps"), _("In"), _("Out"), _("Sap")],
            table,
            widths=[0, 2.2, 1.2, 0, 1.4, 1.4, 0],
            align=["left", "left", "left", "right", "left", "left", "right"],
            code=0,
            size=8.8,
            total=total,
        )
    )
    made += [b.space(4), b.columns([b.blank_lines(_("Name and signature"))], [b.blank_lines(_("Day"))])]
    title = _("Return for permit %(number)s") % {"number": slip.number}
    return Part(subject=f"return:{slip.pk}:{season.year}", title=title, content={"blocks": made})


def _day(at: dt.datetime) -> str:
    return date_format(timezone.localdate(at), "j M Y")


def _span(slip: Permission) -> str:
    if not (slip.date_from and slip.date_to):
        return _("not set")
    return f"{date_format(slip.date_from, 'j F Y')} – {date_format(slip.date_to, 'j F Y')}"


RETURN = register(
    Kind(
        key="permit-return",
        label=gettext_lazy("Return for each permit"),
        layout="report.typ",
        version="1",
        gather=gather,
        may=slips_asked,
        long_above=40,
        size=lambda asked: len(asked.choices.get("numbers", [])),
        form="ReturnForm",
        note=gettext_lazy(
            "For the town or another owner: what was not kept comes first, then what was, then every tree with its "
            "taps, in and out."
        ),
    )
)
