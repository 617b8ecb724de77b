"""One working-out: its figures, its questions, its steps, its file and its printed statements."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.db.models import Q, QuerySet, Sum
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.shares import queries, rules, runs, working
from sugarbush.shares.forms import AnswerForm, FinalForm, OpenForm, ReasonForm
from sugarbush.shares.models import RunState, Share, ShareQuery, ShareRun
from sugarbush.shares.views_rules import said
from sugarbush.shares.views_shares import statement
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import table_taken
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

STATEMENTS_A_PAGE = 50
ORDER = ("-entitled_ml", "party", "name", "pk")


def run_for(request: SignedInRequest, pk: uuid.UUID) -> ShareRun:
    """A working-out, for whoever sees everybody's share. For others it is not there."""
    access.require(request.user, "share.own", anywhere=True)
    if not access.holds(request.user, "share.see"):
        raise Http404
    return get_object_or_404(ShareRun.objects.select_related("season", "rule", "made_by", "final_by", "left_by"), pk=pk)


def rows_of(run: ShareRun) -> QuerySet[Share]:
    """Its shares, the largest first."""
    return run.shares.order_by(*ORDER)


@signed_in
@require_safe
def share_run(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """What everybody gets, and what the working-out still needs."""
    return run_page(request, run_for(request, pk))


def run_page(
    request: SignedInRequest, run: ShareRun, *, status: int = 200, refused: tuple[Reason, ...] = (), **forms: Any
) -> HttpResponse:
    rows = rows_of(run)
    sums = rows.aggregate(entitled=Sum("entitled_ml"), given=Sum("given_ml"))
    asked = ShareQuery.objects.filter(share__run=run).select_related("share", "asked_by", "answered_by")
    may_run = access.holds(request.user, "share.run") and not run.season.is_closed
    jars = working.all_jars(run.inputs)
    today = timezone.localdate()
    context = {
        "run": run,
        "season": run.season,
        "sentences": said(run.rule, request.user.units),
        "changes": rules.changes(run.season, run.rule.version),
        "page": page_of(rows, request),
        "sums": sums,
        "jars": jars,
        "jar_count": sum(jars.values()),
        "lots": [(code, working.sizes(some)) for code, some in sorted(run.inputs["lots"].items())],
        "handed": bool(run.inputs.get("handed")),
        "season_ml": sum(row["sap_ml"] for row in run.inputs["people"]),
        "people": len(run.inputs["people"]),
        "owners": len(run.inputs["owners"]),
        "queries": list(asked.order_by("answered_at", "asked_at")[:100]),
        "answer_form": AnswerForm(),
        "may_run": may_run,
        "is_draft": run.state == RunState.DRAFT,
        "is_open": run.state == RunState.QUERIES,
        "is_final": run.state == RunState.FINAL,
        "against": runs.why_not_final(run) if run.state == RunState.QUERIES else [],
        "open_form": OpenForm(initial={"until": today + dt.timedelta(days=runs.QUESTION_DAYS)}, prefix="open"),
        "final_form": FinalForm(initial={"collect_by": today + dt.timedelta(days=runs.COLLECT_DAYS)}, prefix="final"),
        "reason_form": ReasonForm(prefix="why"),
        "refused": refused,
        "compared": None,
        **forms,
    }
    if request.GET.get("compare"):
        context["compared"] = runs.differs(run)
    return render(request, "shares/run.html", context, status=status)


@signed_in
@require_POST
def share_run_step(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Open it for questions, make it final, drop it, work it out again, or say why jars stay."""
    run = run_for(request, pk)
    access.require(request.user, "share.run", anywhere=True)
    step = request.POST.get("step", "")
    try:
        if step == "open":
            opening = OpenForm(request.POST, prefix="open")
            if not opening.is_valid():
                return run_page(request, run, status=422, open_form=opening)
            runs.open_questions(run=run, by=request.user, until=opening.cleaned_data["until"])
            messages.success(request, _("Everyone sees their share now and can ask about it."))
        elif step == "final":
            ending = FinalForm(request.POST, prefix="final")
            if not ending.is_valid():
                return run_page(request, run, status=422, final_form=ending)
            runs.make_final(run=run, by=request.user, collect_by=ending.cleaned_data["collect_by"])
            messages.success(request, _("Final. The hand-out list is ready."))
        elif step in {"drop", "again", "leave"}:
            why = ReasonForm(request.POST, prefix="why")
            if not why.is_valid():
                return run_page(request, run, status=422, reason_form=why)
            return _with_reason(request, run, step, why.cleaned_data["reason"])
        else:
            raise Http404
    except Refused as refused:
        run.refresh_from_db()
        return run_page(request, run, status=409, refused=refused.reasons)
    return redirect("share-run", run.pk)


def _with_reason(request: SignedInRequest, run: ShareRun, step: str, reason: str) -> HttpResponse:
    if step == "drop":
        runs.drop(run=run, by=request.user, reason=reason)
        messages.success(request, _("Dropped."))
        return redirect("shares")
    if step == "leave":
        runs.leave(run=run, by=request.user, reason=reason)
        messages.success(request, _("Kept. The season can close with these jars."))
        return redirect("share-run", run.pk)
    new = runs.again(run=run, by=request.user, reason=reason)
    messages.success(request, _("Worked out again, from what the books say now."))
    return redirect("share-run", new.pk)


@signed_in
@require_POST
def share_answer(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Answer a question."""
    access.require(request.user, "share.own", anywhere=True)
    if not access.holds(request.user, "share.see"):
        raise Http404
    query = get_object_or_404(ShareQuery.objects.select_related("share__run"), pk=pk)
    access.require(request.user, "share.run", anywhere=True)
    run = run_for(request, query.share.run_id)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return run_page(request, run, status=422, answer_form=form, answering=query.pk)
    data = form.cleaned_data
    try:
        queries.answer(query=query, by=request.user, text=data["text"], changed_something=data["changed"])
    except Refused as refused:
        return run_page(request, run, status=409, refused=refused.reasons, answer_form=form, answering=query.pk)
    messages.success(request, _("Answered. They see it on their page."))
    return redirect("share-run", run.pk)


@signed_in
@require_safe
def share_csv(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """All shares of a working-out as a table; the millilitres add up to the pool, the jars to the jars."""
    run = run_for(request, pk)
    sizes = list(working.all_jars(run.inputs))
    head = ["kind", "name", "sap_ml", "sugar_l_brix", "hours_min", "taps", "entitled_ml"]
    head += [f"jars_{size}_ml" for size in sizes] + ["given_ml", "over_ml", "state"]

    def lines() -> Iterator[list[object]]:
        for share in rows_of(run).iterator(chunk_size=200):
            about = share.working
            yield [
                share.party,
                share.name,
                about.get("sap_ml"),
                about.get("sugar"),
                about.get("min"),
                about.get("taps"),
                share.entitled_ml,
                *(share.jars.get(str(size), 0) for size in sizes),
                share.given_ml,
                share.over_ml,
                share.taken if run.state == RunState.FINAL else "",
            ]

    return table_taken(request, f"shares-{run.season.year}-{run.number}", head, lines())


@signed_in
@require_safe
def share_statements(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Statements to print, a sheet of paper each."""
    run = run_for(request, pk)
    # Who brought nothing and gets nothing needs no sheet of paper; their page says so.
    rows = run.shares.filter(Q(entitled_ml__gt=0) | Q(given_ml__gt=0) | Q(working__n__gt=0)).exclude(party="aside")
    rows = rows.order_by("party", "name", "pk")
    page = page_of(rows, request, per_page=STATEMENTS_A_PAGE)
    context = {
        "run": run,
        "page": page,
        "changes": rules.changes(run.season, run.rule.version),
        "statements": [statement(request, share, run) for share in page.object_list],
    }
    return render(request, "shares/statements.html", context)
