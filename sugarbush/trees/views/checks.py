"""The health check and the question about insecticide."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from sugarbush.core.health import FAIL_DIEBACK_PCT, WATCH_DIEBACK_PCT
from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.parts.worked import Working, working
from sugarbush.trees.actions_checks import ARBORIST_CODES, record_check
from sugarbush.trees.actions_treatment import clear_treatment, record_treatment
from sugarbush.trees.forms import CheckForm, ClearForm, TreatmentForm
from sugarbush.trees.models import HealthCheck, Tree
from sugarbush.trees.queries import check_stands_until, checks_of, reasons_of, treatments_of, uncleared
from sugarbush.trees.records import TreatmentAnswer
from sugarbush.trees.views.finding import to_tree, tree_page
from sugarbush.volunteers.access import require, why_not
from sugarbush.volunteers.views_help import SignedInRequest

WEIGHT_WORDS = {
    "pass": gettext_lazy("says nothing"),
    "watch": gettext_lazy("one tap at most"),
    "fail": gettext_lazy("no tap"),
}


@tree_page("tree.check")
@require_http_methods(["GET", "HEAD", "POST"])
def tree_check(request: SignedInRequest, tree: Tree) -> HttpResponse:
    form = CheckForm(request.POST if request.method == "POST" else None, units=units_of(request))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        check = record_check(
            by=request.user,
            tree=tree,
            date=data["date"],
            answers=form.answers,
            treatment=data["treatment"],
            said_by=data["said_by"] or request.user.display_name,
            note=data["note"],
            row_uuid=data["uuid"],
        )
        # The verdict and its reasons stand on a page of their own, before anybody goes for the drill.
        return redirect("tree-check-result", code=tree.code, check_id=check.pk)
    context = {"tree": tree, "form": form, "checks": checks_of(tree)[:1]}
    return render(request, "trees/check.html", context, status=422 if request.method == "POST" else 200)


def verdict_working(check: HealthCheck) -> Working:
    """How the verdict came about: each sign with its own weight and standing, and the worst of them."""
    signs = [
        (reason.sentence(_), f"{WEIGHT_WORDS[reason.verdict]}; {_(reason.standing)}") for reason in reasons_of(check)
    ]
    return working(
        "health.health_verdict",
        of=_("the verdict"),
        sums=[_("worst sign = verdict: %(verdict)s") % {"verdict": check.get_verdict_display()}],
        words=_(
            "Each sign fails, or leaves one tap at most, or says nothing. The worst one is the verdict. Dead crown: "
            "from %(watch)d %% one tap at most, above %(fail)d %% no tap."
        )
        % {"watch": WATCH_DIEBACK_PCT, "fail": FAIL_DIEBACK_PCT},
        inputs={"crown_dieback_pct": f"{check.crown_dieback_pct}\u00a0%"},
        rows=signs,
        notes=[_("A doubtful tree belongs to an arborist.")],
    )


@tree_page("trees.see")
@require_GET
def check_result(request: SignedInRequest, tree: Tree, check_id: int) -> HttpResponse:
    check = next((one for one in checks_of(tree) if one.pk == check_id), None)
    if check is None:
        raise Http404
    treated = next(iter(treatments_of(tree)), None)
    context = {
        "tree": tree,
        "check": check,
        "reasons": reasons_of(check),
        "until": check_stands_until(check),
        "treated": treated,
        "worked": verdict_working(check),
        "ask_arborist": any(reason.code in ARBORIST_CODES for reason in reasons_of(check)),
    }
    return render(request, "trees/check_result.html", context)


@tree_page("treatment.record")
@require_http_methods(["GET", "HEAD", "POST"])
def tree_treatment(request: SignedInRequest, tree: Tree) -> HttpResponse:
    clearing = request.method == "POST" and request.POST.get("act") == "clear"
    recording = request.method == "POST" and not clearing
    form = TreatmentForm(request.POST if recording else None, units=units_of(request))
    clear_form = ClearForm(request.POST if clearing else None, units=units_of(request), prefix="clear")
    context: dict[str, Any] = {"tree": tree, "form": form, "clear_form": clear_form}
    if clearing:
        require(request.user, "treatment.clear", group_id=tree.group_id)
        if clear_form.is_valid():
            try:
                clear_treatment(by=request.user, tree=tree, reason=clear_form.cleaned_data["reason"])
                return to_tree(tree, request, _("%(code)s is cleared, with your reason.") % {"code": tree.code})
            except Refused as refused:
                context["reasons"] = refused.reasons
    elif recording and form.is_valid():
        data = form.cleaned_data
        record_treatment(
            by=request.user,
            tree=tree,
            answer=data["treatment"],
            said_by=data["said_by"] or request.user.display_name,
            date=data["date"],
            note=data["note"],
            row_uuid=data["uuid"],
        )
        return to_tree(tree, request, _answer_words(tree, data["treatment"]))
    answers = treatments_of(tree)
    context |= {
        "treatments": answers,
        "stopped_by": uncleared(answers),
        "why_not_clear": why_not(request.user, "treatment.clear", group_id=tree.group_id),
    }
    return render(request, "trees/treatment.html", context, status=422 if request.method == "POST" else 200)


def _answer_words(tree: Tree, answer: str) -> str:
    words = {
        TreatmentAnswer.YES: _("Kept. %(code)s stays untapped until a coordinator clears it in writing."),
        TreatmentAnswer.NO: _("Kept: %(code)s was not treated."),
        TreatmentAnswer.UNKNOWN: _("Kept. As long as nobody knows, %(code)s cannot be tapped."),
    }
    return words[TreatmentAnswer(answer)] % {"code": tree.code}
