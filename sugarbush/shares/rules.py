"""Writing and publishing a season's share rule. Versions are only added; the latest published one is in force."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max, Min
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.shares import terms as rule_terms
from sugarbush.shares.models import ShareRule
from sugarbush.shares.terms import Terms
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


def first_collection(season: Season) -> dt.datetime | None:
    """When the season's first sap was collected; entries taken back do not count."""
    rows = Collection.objects.filter(season=season, volume_ml__gt=0).exclude(state=CollectionState.VOID)
    found: dt.datetime | None = rows.aggregate(first=Min("happened_at"))["first"]
    return found


def in_force(season: Season) -> ShareRule | None:
    """The latest published version."""
    rows = ShareRule.objects.filter(season=season, published_at__isnull=False).select_related("published_by")
    return rows.order_by("-version").first()


def draft_of(season: Season) -> ShareRule | None:
    """The version that is being written."""
    return ShareRule.objects.filter(season=season, published_at=None).order_by("-version").first()


@dataclass(frozen=True, kw_only=True)
class Change:
    """A version published after the season's first sap, as every statement shows it."""

    version: int
    on: dt.datetime
    reason: str
    first: bool


def changes(season: Season, up_to: int | None = None) -> list[Change]:
    """Versions that came later than the first one, or later than the season's first sap; each with its reason."""
    began = first_collection(season)
    rows = ShareRule.objects.filter(season=season, published_at__isnull=False).order_by("version")
    found = []
    for n, rule in enumerate(rows):
        late = began is not None and rule.published_at is not None and rule.published_at >= began
        if (n or late) and rule.published_at and (up_to is None or rule.version <= up_to):
            found.append(Change(version=rule.version, on=rule.published_at, reason=rule.reason, first=n == 0))
    return found


def _open(season: Season) -> None:
    if season.is_closed:
        raise Refused([Reason(code="closed", fact=_("Season %(year)d is closed.") % {"year": season.year})])


@transaction.atomic
def save_draft(*, season: Season, by: Person, terms: Terms, words: str = "") -> ShareRule:
    """Keep the version that is being written; where none is, the next one is begun."""
    access.require(by, "share.rule", anywhere=True)
    _open(season)
    rule_terms.check(terms)
    Season.objects.select_for_update().get(pk=season.pk)
    rule = draft_of(season)
    if rule is None:
        last = ShareRule.objects.filter(season=season).aggregate(last=Max("version"))["last"] or 0
        rule = ShareRule(season=season, version=last + 1, made_by=by)
    rule.terms, rule.words = terms.kept(), words.strip()
    rule.save()
    record(by=by, act="write share rule", subject=rule, new=rule.terms)
    return rule


@transaction.atomic
def publish(*, rule: ShareRule, by: Person, reason: str = "") -> ShareRule:
    """Publish a version. The first one, before the season's first sap, needs no reason; every other one does.

    Publishing the same version twice is publishing it once.
    """
    access.require(by, "share.rule", anywhere=True)
    held = ShareRule.objects.select_for_update(of=("self",)).select_related("season").get(pk=rule.pk)
    if held.published_at is not None:
        return held
    _open(held.season)
    rule_terms.read(held.terms)
    before = in_force(held.season)
    began = first_collection(held.season)
    if not reason.strip() and (before is not None or began is not None):
        fact = (
            _("A rule is published already.")
            if before is not None
            else _("The first sap of the season came on %(day)s.")
            % {"day": timezone.localtime(began).strftime("%Y-%m-%d") if began else ""}
        )
        raise Refused(
            [
                Reason(
                    code="reason",
                    fact=fact,
                    detail=_("A later version shows on every statement with its date and its reason."),
                    next_text=_("Write why, in a sentence"),
                    next_url=reverse("share-rule", args=[held.pk]),
                )
            ]
        )
    held.reason = reason.strip()
    held.published_at, held.published_by = timezone.now(), by
    held.save()
    record(
        by=by,
        act="publish share rule",
        subject=held,
        reason=held.reason,
        old={"version": before.version} if before else {},
        new={"version": held.version, "terms": held.terms},
    )
    return held
