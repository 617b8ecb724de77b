"""One slip: all of it in words, its next acts, its history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.audit.models import record_once_a_day
from sugarbush.owners import tables
from sugarbush.owners.actions import STEPS, SlipMovedOn, decide, why_not_granted
from sugarbush.owners.actions_slips import add_trees, change_slip, keep_scan
from sugarbush.owners.forms import ReasonForm
from sugarbush.owners.forms_change import AddTreesForm, ChangeSlipForm, OnlyScanForm
from sugarbush.owners.history import history_of, way_to
from sugarbush.owners.minding import minds
from sugarbush.owners.models import Permission, PermissionState
from sugarbush.owners.queries import (
    MOST_TREES,
    find_permission,
    require_decide,
    trees_asked,
    why_not_change,
    why_not_decide,
    why_not_open_scan,
)
from sugarbush.owners.views.new import not_taken_words
from sugarbush.parts.context import units_of
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.uploads import send
from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.queries import trees_for
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

WAITING = {PermissionState.DRAFT, PermissionState.ASKED, PermissionState.NO_ANSWER}


@dataclass(frozen=True)
class Step:
    """A next act of a slip: the state it leads to, its words, and how it looks."""

    state: str
    words: str
    main: bool = False


def steps_of(slip: Permission) -> list[Step]:
    """The plain next acts; those that stop work are laid out apart, with their reason."""
    lifts = slip.state == PermissionState.SUSPENDED
    words = {
        PermissionState.ASKED: _("Asked today"),
        PermissionState.NO_ANSWER: _("No answer"),
        PermissionState.GRANTED: _("Lift the suspension") if lifts else _("Said yes"),
        PermissionState.REFUSED: _("Said no"),
    }
    main = PermissionState.ASKED if slip.state == PermissionState.DRAFT else PermissionState.GRANTED
    return [Step(state, words[PermissionState(state)], state == main) for state in STEPS[slip.state] if state in words]


@signed_in
@require_safe
def permission(request: SignedInRequest, number: str) -> HttpResponseBase:
    slip = find_permission(request.user, number)
    if wants_file(request):
        return list_taken(request, f"{slip.number}-trees", tables.on_slip(), _near(slip, request.user))
    return slip_page(request, slip)


def _near(slip: Permission, person: Person) -> QuerySet[Tree]:
    """The trees on the slip within this person's sight."""
    near = Tree.objects.filter(permission_lines__permission=slip, pk__in=trees_for(person).values("pk"))
    return near.select_related("species", "group").order_by("code")


def slip_page(request: SignedInRequest, slip: Permission, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of a slip; `given` replaces its forms by those that need a look."""
    person, units = request.user, units_of(request)
    on_it = Tree.objects.filter(permission_lines__permission=slip)
    near = _near(slip, person)
    page = page_of(near, request)
    decides = not why_not_decide(person, slip)
    lacking = why_not_granted(slip) if slip.state in WAITING else []
    reads = decides or access.scope(person, "permission.see").everything
    spouts = on_it.filter(shown_state__in=[Shown.TAPPED, Shown.PULL])
    context: dict[str, Any] = {
        "slip": slip,
        "today": timezone.localdate(),
        "live": slip.live_on(timezone.localdate()),
        "page": page,
        "elsewhere": on_it.count() - page.paginator.count,
        "to_pull": list(near.filter(shown_state=Shown.PULL).order_by("code")[:MOST_TREES]),
        "spouts": spouts.count(),
        "minds": minds(
            trees=list(on_it),
            capacity=slip.capacity,
            owner_kind=slip.owner.kind,
            owner=slip.owner,
            on=timezone.localdate(),
            slip=slip,
            names=reads,
        )
        if slip.state not in {PermissionState.REFUSED, PermissionState.REVOKED}
        else [],
        "lacking": lacking,
        "decides": decides,
        "why_not_decide": "" if decides else why_not_decide(person, slip),
        "may_change": not why_not_change(person, slip),
        "may_open_scan": not why_not_open_scan(person, slip),
        "may_add": decides and slip.state in {*WAITING, PermissionState.GRANTED},
        "names_seen": access.holds(person, "owners.see"),
        "steps": steps_of(slip) if decides else [],
        "may_suspend": decides and PermissionState.SUSPENDED in STEPS[slip.state],
        "may_take_back": decides and PermissionState.REVOKED in STEPS[slip.state],
        "suspend_form": ReasonForm(prefix="suspended"),
        "revoke_form": ReasonForm(prefix="revoked"),
        "add_form": AddTreesForm(units=units),
        "history": history_of(slip, units) if access.holds(person, "permission.see") else [],
        "pull_list": way_to("taps-in"),
        **given,
    }
    return render(request, "owners/permission.html", context, status=status)


@signed_in
@require_POST
def permission_act(request: SignedInRequest, number: str) -> HttpResponse:
    """The slip's next state. Suspending and taking back need a reason and work at once."""
    slip = find_permission(request.user, number)
    require_decide(request.user, slip)
    state = request.POST.get("state", "")
    given: dict[str, Any] = {}
    reason = ""
    if state in {PermissionState.SUSPENDED, PermissionState.REVOKED}:
        form = ReasonForm(request.POST, prefix=state)
        given = {"suspend_form" if state == PermissionState.SUSPENDED else "revoke_form": form}
        if not form.is_valid():
            return slip_page(request, slip, status=422, **given)
        reason = form.cleaned_data["reason"]
    edition = request.POST.get("edition", "")
    if state not in PermissionState.values:
        return slip_page(request, slip, status=422, reasons=[Reason(code="step", fact=_("Choose one of the acts."))])
    try:
        decide(
            permission=slip,
            state=state,
            by=request.user,
            reason=reason,
            edition=int(edition) if edition.isdecimal() and len(edition) < 10 else None,
        )
    except Refused as refused:
        fresh = find_permission(request.user, number)
        return slip_page(request, fresh, status=422, reasons=refused.reasons, **given)
    except SlipMovedOn:
        return slip_page(request, find_permission(request.user, number), status=409, moved_on=True)
    messages.success(request, _told(slip))
    return redirect("permission", slip.number)


def _told(slip: Permission) -> str:
    """What came of an act."""
    words = {
        PermissionState.ASKED: _("Asked. The trees show “asked”."),
        PermissionState.NO_ANSWER: _("Kept: no answer yet."),
        PermissionState.GRANTED: _("Kept: the answer is yes."),
        PermissionState.REFUSED: _("Kept: the answer was no. The trees are left alone."),
        PermissionState.SUSPENDED: _("Suspended. No new tap goes in."),
        PermissionState.REVOKED: _("Taken back. No new tap goes in."),
    }
    said = words[PermissionState(slip.state)]
    if slip.state in {PermissionState.SUSPENDED, PermissionState.REVOKED}:
        count = Tree.objects.filter(permission_lines__permission=slip, shown_state=Shown.PULL).count()
        if count:
            said += " " + ngettext("%(n)d tree shows “to pull”.", "%(n)d trees show “to pull”.", count) % {"n": count}
    return said


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def permission_change(request: SignedInRequest, number: str) -> HttpResponse:
    """What the slip says. Once asked or granted a change needs a reason; the old words stay in the history."""
    slip = find_permission(request.user, number)
    why = why_not_change(request.user, slip)
    if why:
        raise PermissionDenied(why)
    instance = Permission.objects.get(pk=slip.pk)
    form = ChangeSlipForm(request.POST or None, instance=instance, person=request.user, units=units_of(request))
    context: dict[str, Any] = {"slip": slip, "form": form, "scan_form": OnlyScanForm(person=request.user)}
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                reason = form.cleaned_data.get("reason", "")
                change_slip(permission=slip, by=request.user, values=form.values, seen=form.seen, reason=reason)
                messages.success(request, _("Saved. The old words stay in the history."))
                return redirect("permission", slip.number)
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
            except Refused as refused:
                context["reasons"] = [
                    Reason(code=r.code, fact=r.fact, detail=r.detail, next_text=r.next_text) for r in refused.reasons
                ]
    return render(request, "owners/permission_change.html", context, status=status)


@signed_in
@require_POST
def permission_trees(request: SignedInRequest, number: str) -> HttpResponse:
    """More trees for the slip: all of those in reach, or none."""
    slip = find_permission(request.user, number)
    require_decide(request.user, slip)
    form = AddTreesForm(request.POST, units=units_of(request))
    if not form.is_valid():
        return slip_page(request, slip, status=422, add_form=form)
    codes = form.cleaned_data["tags"]
    if len(codes) > MOST_TREES:
        form.add_error("tags", _("At most %(most)d trees at once.") % {"most": MOST_TREES})
        return slip_page(request, slip, status=422, add_form=form)
    trees, not_taken = trees_asked(request.user, codes, "permission.decide")
    if not trees:
        form.add_error("tags", not_taken_words(not_taken))
        return slip_page(request, slip, status=422, add_form=form)
    data = form.cleaned_data
    answers = {tree.pk: data["treated"] for tree in trees if data["treated"]}
    try:
        new = add_trees(
            permission=slip,
            trees=trees,
            by=request.user,
            answers=answers,
            evidence=data["evidence"],
            reason=data["reason"],
        )
    except Refused as refused:
        return slip_page(request, slip, status=422, add_form=form, reasons=refused.reasons)
    count = {"n": len(new)}
    messages.success(request, ngettext("%(n)d tree is added.", "%(n)d trees are added.", len(new)) % count)
    if not_taken:
        messages.warning(request, not_taken_words(not_taken))
    return redirect("permission", slip.number)


@signed_in
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def permission_scan(request: SignedInRequest, number: str) -> HttpResponseBase:
    """The scan: something to save, never something the browser runs. Opening it is written down."""
    slip = find_permission(request.user, number)
    if request.method == "POST":
        why = why_not_change(request.user, slip)
        if why:
            raise PermissionDenied(why)
        scan_form = OnlyScanForm(request.POST, request.FILES, person=request.user)
        if not scan_form.is_valid():
            form = ChangeSlipForm(
                instance=Permission.objects.get(pk=slip.pk), person=request.user, units=units_of(request)
            )
            context = {"slip": slip, "form": form, "scan_form": scan_form}
            return render(request, "owners/permission_change.html", context, status=422)
        keep_scan(permission=slip, scan=scan_form.cleaned_data["scan"], by=request.user)
        scan_form.scan_saved()
        messages.success(request, _("The scan is kept with %(number)s.") % {"number": slip.number})
        return redirect("permission", slip.number)
    why = why_not_open_scan(request.user, slip)
    if why:
        raise PermissionDenied(why)
    response = send(slip.evidence, name=slip.number)
    ending = str(slip.evidence.name).rsplit(".", 1)[-1]
    response["Content-Disposition"] = content_disposition_header(True, f"{slip.number}.{ending}") or "attachment"
    response["Cache-Control"] = "private, no-store"
    record_once_a_day(by=request.user, act="see scan", subject=slip)
    return response
