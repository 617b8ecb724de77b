"""A slip is brought: for one tree at the door, or for as many as 500 chosen on the map."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.owners.actions_slips import Brought, bring_slip
from sugarbush.owners.forms_slip import NewSlipForm, split_tags
from sugarbush.owners.models import Permission, PermissionState
from sugarbush.owners.queries import MOST_TREES, trees_asked
from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

LONGEST_TAG = 40
THEN = {"draft": PermissionState.DRAFT, "asked": PermissionState.ASKED, "granted": PermissionState.GRANTED}


def asked_codes(query: QueryDict) -> list[str]:
    """The tags of an address or a form: `tree` once for each, `codes` as the map sends them, `tags` as typed."""
    codes = [*query.getlist("tree"), *query.getlist("codes"), *split_tags(query.get("tags", ""))]
    plain = (code.replace("\x00", "").strip().upper()[:LONGEST_TAG] for code in codes)
    return list(dict.fromkeys(code for code in plain if code))


def may_decide_all(person: Person, trees: list[Tree]) -> bool:
    reach = access.scope(person, "permission.decide")
    return bool(trees) and all(reach.covers(tree.group_id) for tree in trees)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def permission_new(request: SignedInRequest) -> HttpResponse:
    """The slip's page. Trees come by GET or POST; saving is the POST that says what to do (`do`)."""
    access.require(request.user, "permission.draft", anywhere=True)
    asked = request.POST if request.method == "POST" else request.GET
    codes = asked_codes(asked)
    if len(codes) > MOST_TREES:
        return _too_many(request, len(codes))
    trees, not_taken = trees_asked(request.user, codes)
    context: dict[str, Any] = {"trees": trees, "not_taken": not_taken, "most": MOST_TREES}
    saves = "do" in request.POST
    if not trees:
        status = 422 if saves or not_taken else 200
        return render(request, "owners/permission_trees.html", context, status=status)
    decides = may_decide_all(request.user, trees)
    given: dict[str, Any] = {"trees": trees, "person": request.user, "decides": decides, "units": units_of(request)}
    if not saves:
        owner_id = asked.get("owner", "")
        known = owner_id.isdecimal() and len(owner_id) < 18
        form = NewSlipForm(initial={"owner": int(owner_id)} if known else {}, **given)
        return _page(request, form, context)
    before = kept_before(request.user, request.POST.get("uuid", ""))
    if before is not None:
        messages.info(request, _("%(number)s was kept already. It is kept once.") % {"number": before.number})
        return redirect("permission", before.number)
    form = NewSlipForm(request.POST, request.FILES, **given)
    then = THEN.get(request.POST["do"], PermissionState.DRAFT)
    if then != PermissionState.DRAFT:
        # Each tree's group has to be the person's to decide: asked here, so that the page can say so.
        for tree in trees:
            access.require(request.user, "permission.decide", group_id=tree.group_id)
    if form.is_valid():
        try:
            return _kept(request, form, _save(request.user, form, trees, then), not_taken)
        except Refused as refused:
            context["reasons"] = on_this_page(refused.reasons)
    return _page(request, form, context, status=422)


def kept_before(person: Person, sent_uuid: str) -> Permission | None:
    """The slip this person sent under the same form before, from a bad line perhaps."""
    try:
        return Permission.objects.filter(uuid=uuid.UUID(sent_uuid), written_by=person).first()
    except ValueError:
        return None


def _save(person: Person, form: NewSlipForm, trees: list[Tree], then: str) -> Permission:
    data = form.cleaned_data
    brought = Brought(
        new_owner=form.new_owner,
        answers=form.answers,
        said_on=data.get("said_on"),
        land=data.get("land", ""),
        land_said_by=data.get("land_said_by", ""),
        then=then,
    )
    return bring_slip(slip=form.slip, trees=trees, by=person, brought=brought)


def on_this_page(reasons: tuple[Reason, ...]) -> list[Reason]:
    """The same reasons where the next step is on the page itself: the slip that was not kept has no page."""
    return [Reason(code=r.code, fact=r.fact, detail=r.detail, next_text=r.next_text) for r in reasons]


def _kept(request: SignedInRequest, form: NewSlipForm, slip: Permission, not_taken: list[str]) -> HttpResponse:
    form.scan_saved()
    words = {
        PermissionState.DRAFT: _("%(number)s is kept as a draft."),
        PermissionState.ASKED: _("%(number)s is kept: asked."),
        PermissionState.GRANTED: _("%(number)s is kept: the answer was yes."),
    }
    said = words.get(PermissionState(slip.state), _("%(number)s is kept."))
    messages.success(request, said % {"number": slip.number})
    if not_taken:
        messages.warning(request, not_taken_words(not_taken))
    return redirect("permission", slip.number)


def not_taken_words(codes: list[str]) -> str:
    """Which tags were left out; the same words whether there is no such tree or it is another group's."""
    return _("Not taken: %(tags)s. No tree with this tag is in your reach.") % {"tags": ", ".join(codes)}


def _too_many(request: SignedInRequest, count: int) -> HttpResponse:
    why = _(
        "One slip takes %(most)d trees at once; %(count)d were chosen. Nothing is kept. Choose fewer, owner by owner."
    ) % {"most": MOST_TREES, "count": count}
    return render(request, "owners/permission_trees.html", {"why": why, "most": MOST_TREES}, status=422)


def _page(request: SignedInRequest, form: NewSlipForm, context: dict[str, Any], status: int = 200) -> HttpResponse:
    context |= {"form": form, "rows": list(form.tree_rows()), "decides": form.decides}
    return render(request, "owners/permission_new.html", context, status=status)
