"""Working out the shares: inputs frozen, questions, final. A final working-out is never changed, only replaced."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any, NoReturn

from django.db import IntegrityError, transaction
from django.db.models import Max, Sum
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.audit.models import record
from sugarbush.lots.jars import pool
from sugarbush.lots.models import JarIssue
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.shares import figures, rules, working
from sugarbush.shares.models import RunState, Share, ShareQuery, ShareRule, ShareRun, Taken
from sugarbush.shares.terms import jars_words
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

QUESTION_DAYS = 7
COLLECT_DAYS = 28


def final_of(season: Season) -> ShareRun | None:
    return ShareRun.objects.filter(season=season, state=RunState.FINAL).first()


def underway_of(season: Season) -> ShareRun | None:
    return ShareRun.objects.filter(season=season, state__in=(RunState.DRAFT, RunState.QUERIES)).first()


def handed_out(shares: Iterable[Share]) -> dict[int, dict[int, int]]:
    """Jars by size that each share's party has and did not bring back, by share; two queries."""
    ids = [share.pk for share in shares]
    found: dict[int, dict[int, int]] = {pk: {} for pk in ids}
    rows = Share.issues.through.objects.filter(share_id__in=ids).values_list("share_id", "jarissue_id")
    of_issue: dict[Any, list[int]] = defaultdict(list)
    for share_id, issue_id in rows:
        of_issue[issue_id].append(share_id)
    back = JarIssue.objects.filter(returns__in=of_issue).values_list("returns_id").annotate(n=Sum("count")).order_by()
    returned = dict(back)
    for pk, size, count in JarIssue.objects.filter(pk__in=of_issue).values_list("pk", "size_ml", "count"):
        left = count - returned.get(pk, 0)
        for share_id in of_issue[pk]:
            if left:
                found[share_id][size] = found[share_id].get(size, 0) + left
    return found


def still_due(share: Share, handed: Mapping[int, int]) -> dict[int, int]:
    """Jars by size that this share's party has still to get."""
    return {size: more for size, count in share.by_size.items() if (more := count - handed.get(size, 0)) > 0}


def key_of(share: Share) -> str:
    """The party as the working knows it."""
    return f"{share.party}:{share.person_id or share.owner_id or share.name}"


def inputs_for(season: Season, rule: ShareRule) -> tuple[dict[str, Any], figures.Figures]:
    """All that a working-out goes by, now, and the entries behind it."""
    handed: dict[str, dict[str, int]] = {}
    also: list[int] = []
    final = final_of(season)
    if final is not None:
        shares = list(final.shares.defer("working"))
        for share, some in zip(shares, handed_out(shares).values(), strict=True):
            if some:
                handed[key_of(share)] = {str(size): count for size, count in some.items()}
                also += [share.person_id] if share.person_id else []
    found = figures.of_season(season, also=also)
    inputs = {
        "edition": figures.EDITION,
        "season": season.year,
        "rule": {"version": rule.version, "terms": rule.terms},
        "lots": figures.jars_now(season),
        "handed": handed,
        "people": found.people,
        "owners": found.owners,
        "programme_brix": found.programme_brix,
    }
    return inputs, found


@transaction.atomic
def make_run(*, season: Season, by: Person, reason: str = "") -> ShareRun:
    """Work out the shares from what the books say now. The first needs no reason, every later one does.

    Raises Refused: no rule published, one underway already, no jars, or a rule that cannot be kept.
    """
    access.require(by, "share.run", anywhere=True)
    Season.objects.select_for_update().get(pk=season.pk)
    if season.is_closed:
        _refuse("closed", _("Season %(year)d is closed.") % {"year": season.year})
    rule = rules.in_force(season)
    if rule is None:
        _refuse("no-rule", _("No share rule is published."), _("Write and publish it"), reverse("shares"))
    already = underway_of(season)
    if already is not None:
        _refuse(
            "underway",
            _("Working-out %(n)d is not finished.") % {"n": already.number},
            _("Make it final, or drop it"),
            reverse("share-run", args=[already.pk]),
        )
    number = (ShareRun.objects.filter(season=season).aggregate(last=Max("number"))["last"] or 0) + 1
    if number > 1 and not reason.strip():
        _refuse("reason", _("The shares were worked out before."), _("Write why they are worked out again"))
    inputs, found = inputs_for(season, rule)
    out = working.work_out(inputs, by.units)
    try:
        with transaction.atomic():
            run = ShareRun.objects.create(
                season=season,
                number=number,
                rule=rule,
                inputs=inputs,
                inputs_hash=figures.digest(inputs),
                pool_ml=out.pool_ml,
                reason=reason.strip(),
                made_by=by,
            )
    except IntegrityError:
        _refuse("underway", _("Somebody has just worked out the shares."), _("Look at theirs"), reverse("shares"))
    Share.objects.bulk_create((_share(run, one, found) for one in out.outcomes), batch_size=200)
    record(
        by=by,
        act="work out shares",
        subject=run,
        reason=run.reason,
        new={"hash": run.inputs_hash, "pool_ml": run.pool_ml, "jars": {str(k): n for k, n in out.jars.items()}},
    )
    return run


def _share(run: ShareRun, one: working.Outcome, found: figures.Figures) -> Share:
    _party, _colon, name = one.key.partition(":")
    person_id = int(name) if one.party == "person" else None
    entries = found.entries.get(person_id, []) if person_id else []
    return Share(
        run=run,
        party=one.party,
        person_id=person_id,
        owner_id=int(name) if one.party == "owner" else None,
        name=one.name,
        working={**one.working, "entries": entries},
        entitled_ml=one.entitled_ml,
        jars={str(size): count for size, count in one.jars.items()},
        given_ml=one.given_ml,
    )


def _refuse(code: str, fact: str, next_text: str = "", next_url: str = "", detail: str = "") -> NoReturn:
    raise Refused([Reason(code=code, fact=fact, detail=detail, next_text=next_text, next_url=next_url)])


def differs(run: ShareRun) -> list[str]:
    """What does not agree when the frozen inputs are worked out again; nothing, unless somebody was at the books."""
    wrong = []
    if figures.digest(run.inputs) != run.inputs_hash:
        wrong.append(_("The inputs are not those that were frozen."))
    again = {one.key: one for one in working.work_out(run.inputs).outcomes}
    kept = run.shares.values_list("party", "person_id", "owner_id", "name", "entitled_ml", "jars")
    seen = set()
    for party, person_id, owner_id, name, entitled_ml, jars in kept:
        key = f"{party}:{person_id or owner_id or name}"
        seen.add(key)
        one = again.get(key)
        if one is None or one.entitled_ml != entitled_ml or {str(size): n for size, n in one.jars.items()} != jars:
            wrong.append(_("%(name)s comes out otherwise.") % {"name": name})
    if seen != set(again):
        wrong.append(_("Somebody is missing or too many."))
    return wrong


def _held(run: ShareRun, by: Person) -> ShareRun:
    access.require(by, "share.run", anywhere=True)
    held = ShareRun.objects.select_for_update(of=("self",)).select_related("season", "rule").get(pk=run.pk)
    if held.season.is_closed:
        _refuse("closed", _("Season %(year)d is closed.") % {"year": held.season.year})
    return held


@transaction.atomic
def open_questions(*, run: ShareRun, by: Person, until: dt.date) -> ShareRun:
    """Show everyone their share, and take questions until the end of a day."""
    held = _held(run, by)
    if held.state == RunState.QUERIES and held.questions_until == until:
        return held
    if not held.is_underway:
        _refuse("state", _("This working-out is %(state)s.") % {"state": held.get_state_display()})
    if until < timezone.localdate():
        _refuse("past", _("That day is over."), _("Give a day from today on"))
    if held.state == RunState.QUERIES and held.questions_until and until < held.questions_until:
        _refuse("shorter", _("People were told they can ask until then."), _("Give the same day or a later one"))
    held.state, held.questions_until = RunState.QUERIES, until
    held.save(update_fields=["state", "questions_until"])
    record(by=by, act="open shares for questions", subject=held, new={"until": until.isoformat()})
    return held


def why_not_final(run: ShareRun) -> list[Reason]:
    """What keeps this working-out from becoming final; nothing means it may."""
    reasons = []
    if run.state != RunState.QUERIES or run.questions_until is None:
        return [
            Reason(
                code="not-shown",
                fact=_("Nobody has seen their share yet."),
                next_text=_("Open it for questions first"),
            )
        ]
    if timezone.localdate() <= run.questions_until:
        reasons.append(
            Reason(
                code="window",
                fact=_("Questions can be asked until %(day)s.") % {"day": date_format(run.questions_until, "j F Y")},
                next_text=_("Make it final on the day after"),
            )
        )
    asked = ShareQuery.objects.filter(share__run=run)
    count = asked.filter(answered_at=None).count()
    if count:
        fact = ngettext("%(n)d question is not answered.", "%(n)d questions are not answered.", count) % {"n": count}
        reasons.append(Reason(code="query", fact=fact, next_text=_("Answer it"), next_url="#questions"))
    if asked.filter(changed_something=True).exists():
        reasons.append(
            Reason(
                code="changed",
                fact=_("An answer said that something has to change."),
                next_text=_("Work out the shares again"),
            )
        )
    there, needed = pool(run.season).jars, to_hand_out(run)
    short = {size: count - there.get(size, 0) for size, count in needed.items() if count > there.get(size, 0)}
    if short:
        reasons.append(
            Reason(
                code="jars",
                fact=_("%(jars)s of this working-out are no longer free.") % {"jars": jars_words(short, "metric")},
                detail=_("They broke, went elsewhere, or their lot was called back."),
                next_text=_("Work out the shares again"),
            )
        )
    return reasons


def to_hand_out(run: ShareRun) -> dict[int, int]:
    """Jars by size that this working-out needs beyond those handed out under an earlier one."""
    needed: dict[int, int] = {}
    for size, count in working.all_jars(run.inputs).items():
        needed[size] = count - sum(some.get(str(size), 0) for some in run.inputs.get("handed", {}).values())
    return {size: count for size, count in needed.items() if count > 0}


@transaction.atomic
def make_final(*, run: ShareRun, by: Person, collect_by: dt.date | None = None) -> ShareRun:
    """Make it final; the final one before it, if any, is replaced. Twice is once."""
    held = _held(run, by)
    if held.state == RunState.FINAL:
        return held
    reasons = why_not_final(held)
    if reasons:
        raise Refused(reasons)
    before = final_of(held.season)
    if before is not None:
        before.state = RunState.SUPERSEDED
        before.save(update_fields=["state"])
        _carry_over(before, held)
        held.supersedes = before
    held.state, held.final_at, held.final_by = RunState.FINAL, timezone.now(), by
    held.collect_by = collect_by or timezone.localdate() + dt.timedelta(days=COLLECT_DAYS)
    held.save()
    record(
        by=by,
        act="make shares final",
        subject=held,
        reason=held.reason,
        old={"run": before.number} if before else {},
        new={"run": held.number, "hash": held.inputs_hash},
    )
    return held


def _carry_over(before: ShareRun, after: ShareRun) -> None:
    """What was handed out under the one before counts for the new one; who has all of it has nothing to wait for."""
    old = {key_of(share): share for share in before.shares.defer("working").prefetch_related("issues")}
    done = [share for share in old.values() if share.taken != Taken.WAITING]
    if not done:
        return
    shares = {key_of(share): share for share in after.shares.defer("working")}
    handed = handed_out(done)
    for share in done:
        mine = shares.get(key_of(share))
        if mine is None:
            continue
        mine.issues.set(share.issues.all())
        if not still_due(mine, handed[share.pk]) or share.taken == Taken.DECLINED:
            mine.taken, mine.taken_at, mine.taken_by = share.taken, share.taken_at, share.taken_by
            mine.taken_note = share.taken_note
            mine.save(update_fields=["taken", "taken_at", "taken_by", "taken_note"])


@transaction.atomic
def drop(*, run: ShareRun, by: Person, reason: str) -> ShareRun:
    """Drop a working-out that is not final, with a reason."""
    held = _held(run, by)
    if held.state == RunState.DROPPED:
        return held
    if not held.is_underway:
        _refuse("state", _("A final working-out stands."), _("Work out the shares again: the new one replaces it"))
    if not reason.strip():
        _refuse("reason", _("Dropping it needs a reason."), _("Write why, in a sentence"))
    held.state = RunState.DROPPED
    held.reason = "; ".join(part for part in (held.reason, reason.strip()) if part)[:400]
    held.save(update_fields=["state", "reason"])
    record(by=by, act="drop shares", subject=held, reason=reason)
    return held


@transaction.atomic
def again(*, run: ShareRun, by: Person, reason: str) -> ShareRun:
    """Drop this one and work out the shares again from what the books say now, as one act."""
    held = _held(run, by)
    if held.is_underway:
        drop(run=held, by=by, reason=reason)
    return make_run(season=held.season, by=by, reason=reason)


@transaction.atomic
def leave(*, run: ShareRun, by: Person, reason: str) -> ShareRun:
    """Say why jars on the list stay where they are, so that the season can close with them."""
    held = _held(run, by)
    if held.state != RunState.FINAL:
        _refuse("state", _("Only a final working-out has jars to hand out."))
    if not reason.strip():
        _refuse("reason", _("Say why they stay, and where they are kept."))
    held.left_reason, held.left_by = reason.strip(), by
    held.save(update_fields=["left_reason", "left_by"])
    record(by=by, act="leave jars", subject=held, reason=reason)
    return held
