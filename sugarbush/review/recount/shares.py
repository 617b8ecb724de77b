"""Final shares: they add up to the pool in millilitres and in jars, and the jars handed out are those of the share."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.lots.models import JarIssue
from sugarbush.review.recount.rows import Book, Finding, ml_words
from sugarbush.seasons.models import Season
from sugarbush.shares.models import Share, ShareRun


def shares(season: Season, book: Book) -> Iterator[Finding]:
    """Run by run. A draft is still in work and says nothing yet."""
    for run in ShareRun.objects.filter(season=season, state__in=("final", "superseded")).order_by("number"):
        rows = list(run.shares.order_by("pk"))
        yield from _sums(run, rows)
        if run.state == "final":
            yield from _handed_out(run, rows)


def _sums(run: ShareRun, rows: list[Share]) -> Iterator[Finding]:
    name = _("Working-out %(n)d") % {"n": run.number}
    written = json.dumps(run.inputs, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    if hashlib.sha256(written.encode()).hexdigest() != run.inputs_hash:
        yield Finding("inputs", _("%(run)s: what it went by is not what its hash says.") % {"run": name})
    pool = _pool(run.inputs)
    given: dict[int, int] = defaultdict(int)
    for row in rows:
        own_ml = 0
        for size, count in row.jars.items():
            given[int(size)] += count
            own_ml += int(size) * count
        if own_ml != row.given_ml:
            yield Finding(
                "share",
                _("%(run)s: the jars of %(who)s hold %(jars)s, not %(said)s.")
                % {"run": name, "who": row.name, "jars": ml_words(own_ml), "said": ml_words(row.given_ml)},
            )
    for size in sorted({*pool, *given}):
        if pool.get(size, 0) != given.get(size, 0):
            yield Finding(
                "share-jars",
                _("%(run)s: the pool has %(pool)d jars of %(size)s; the shares have %(given)d.")
                % {"run": name, "pool": pool.get(size, 0), "size": ml_words(size), "given": given.get(size, 0)},
            )
    for what, ml in (
        (_("jars of the pool"), sum(size * count for size, count in pool.items())),
        (_("shares as worked out"), sum(row.entitled_ml for row in rows)),
        (_("jars of the shares"), sum(row.given_ml for row in rows)),
    ):
        if ml != run.pool_ml:
            yield Finding(
                "share-sum",
                _("%(run)s: the %(what)s come to %(ml)s; the pool is %(pool)s.")
                % {"run": name, "what": what, "ml": ml_words(ml), "pool": ml_words(run.pool_ml)},
            )


def _pool(inputs: Mapping[str, Any]) -> dict[int, int]:
    found: dict[int, int] = defaultdict(int)
    for sizes in (*inputs.get("lots", {}).values(), *inputs.get("handed", {}).values()):
        for size, count in sizes.items():
            found[int(size)] += count
    return {size: count for size, count in found.items() if count}


def _handed_out(run: ShareRun, rows: list[Share]) -> Iterator[Finding]:
    """Who has collected has exactly the jars of the share; who waits or declined has none of its own yet."""
    links: dict[int, set[Any]] = defaultdict(set)
    for share_id, issue_id in Share.issues.through.objects.filter(share__run=run).values_list(
        "share_id", "jarissue_id"
    ):
        links[share_id].add(issue_id)
    wanted = {pk for found in links.values() for pk in found}
    out: dict[Any, tuple[int, int]] = {
        pk: (size, count)
        for pk, size, count in JarIssue.objects.filter(pk__in=wanted).values_list("pk", "size_ml", "count")
    }
    for pk, count in JarIssue.objects.filter(returns__in=wanted).values_list("returns_id", "count"):
        out[pk] = (out[pk][0], out[pk][1] - count)
    for row in rows:
        has: dict[int, int] = defaultdict(int)
        for pk in links[row.pk]:
            size, count = out[pk]
            has[size] += count
        has = {size: count for size, count in has.items() if count}
        due = {int(size): count for size, count in row.jars.items() if count}
        over = {size: count for size, count in has.items() if count > due.get(size, 0)}
        if (row.taken in {"collected", "donated"} and has != due) or over:
            yield Finding(
                "handed-out",
                _("%(who)s is “%(state)s” with %(has)s in jars; the share is %(due)s.")
                % {
                    "who": row.name,
                    "state": row.get_taken_display(),
                    "has": ml_words(sum(size * count for size, count in has.items())),
                    "due": ml_words(row.given_ml),
                },
            )
