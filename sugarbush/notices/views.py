"""The list of messages, writing one, looking at it as it will arrive, and the press that sends it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.notices import actions, audiences, kinds, listing, mailing, queries
from sugarbush.notices.forms import ListForm, NoticeForm, initial_of
from sugarbush.notices.models import Notice, NoticeState, To, Way
from sugarbush.notices.shown import sent_context
from sugarbush.parts.context import units_of
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.people import groups_within
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def notice_list(request: SignedInRequest) -> HttpResponse:
    """The messages this person may see, those worked on last first."""
    access.require(request.user, "notices.see", anywhere=True)
    form = ListForm(request.GET, groups=groups_within(request.user, "notices.see"))
    rows = queries.with_counts(queries.notices_for(request.user)).select_related("group", "written_by", "sent_by")
    if state := form.cleaned_data.get("state"):
        rows = rows.filter(state=state)
    if group := form.cleaned_data.get("group"):
        rows = rows.filter(group=group)
    page = page_of(rows.order_by("-changed_at", "-pk"), request)
    for one in page:
        one.about = kinds.words_of(one.kind)
    context = {
        "page": page,
        "form": form,
        "narrowed": bool(state or group),
        "may_write": access.holds(request.user, "notices.write"),
    }
    return render(request, "notices/notices.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def notice_new(request: SignedInRequest) -> HttpResponse:
    """What it is about first, then the text. `kind`, `audience`, `group` and `on` may come with the address."""
    person = request.user
    access.require(person, "notices.write", anywhere=True)
    given = request.POST if request.method == "POST" else request.GET
    open_ones = {one.code: one for one in audiences.open_to(person)}
    kind = kinds.BY_CODE.get(given.get("kind", ""))
    if kind is None:
        return _choose(request, open_ones)
    same = [one for one in open_ones.values() if one.to == kind.to]
    asked = given.get("audience", "")
    audience = open_ones.get(asked or kind.audience) or (same[0] if same and not asked else None)
    if audience is None or audience.to != kind.to:
        raise PermissionDenied(_("Your role writes to no such people. Ask a coordinator."))
    if request.method == "POST":
        form = NoticeForm(request.POST, person=person, audience=audience, units=units_of(request))
        if form.is_valid():
            values = form.values
            token = form.cleaned_data["token"]
            kept = actions.draft(
                by=person, token=token, kind=kind.code, audience=audience, group=values["group"], values=values
            )
            return redirect("notice", kept.pk)
    else:
        initial = {
            **kinds.starting_text(kind),
            "reply_to": person.email or "",
            "on": access.today(),
            "days": 60 if audience.code == "owners-ending" else 14,
            **{name: request.GET[name] for name in ("group", "on", "role", "days") if request.GET.get(name)},
        }
        form = NoticeForm(initial=initial, person=person, audience=audience, units=units_of(request))
    context = {
        "form": form,
        "kind": kind,
        "audience": audience,
        "others": [one for one in same if one != audience],
        "kept": {name: given[name] for name in ("group", "on") if given.get(name)},
    }
    return render(request, "notices/write.html", context, status=422 if request.method == "POST" else 200)


def _choose(request: SignedInRequest, open_ones: dict[str, audiences.Audience]) -> HttpResponse:
    """What the message is about, to people and to owners."""
    kept = {name: request.GET[name] for name in ("group", "on") if request.GET.get(name)}
    only = request.GET.get("to", "")
    blocks = []
    for to in To:
        if only in To.values and to != only:
            continue
        there = [one for one in open_ones.values() if one.to == to]
        codes = {one.code for one in there}
        fitting = [kind for kind in kinds.KINDS if kind.to == to and (kind.audience in codes or "role" in codes)]
        if there and fitting:
            blocks.append((to.label, fitting))
    return render(request, "notices/choose.html", {"blocks": blocks, "kept": kept})


@signed_in
@never_cache
@require_safe
def notice(request: SignedInRequest, notice_id: int) -> HttpResponse:
    """A draft as it will arrive, with who gets it; or what became of it."""
    return notice_page(request, queries.find(request.user, notice_id))


def notice_page(request: SignedInRequest, found: Notice, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of a message. No address of anybody stands on it: names and ways only."""
    person = request.user
    context: dict[str, Any] = {
        "notice": found,
        "about": kinds.words_of(found.kind),
        "to_words": listing.in_words(found),
        "may_write": audiences.may(person, found.audience, found.group_id, "notices.write"),
        "may_send": audiences.may(person, found.audience, found.group_id, "notices.send"),
        "no_mail": mailing.why_not_ready(),
        **given,
    }
    if found.state == NoticeState.SENT:
        context |= sent_context(request, found)
        return render(request, "notices/sent.html", context, status=status)
    there = listing.lines(found)
    gets = [one for one in there if not one.why]
    out = [one for one in there if one.why]
    context |= {
        "page": page_of(gets, request),
        "out_page": page_of(out, request, key="out"),
        "mail_count": sum(one.way == Way.EMAIL for one in gets),
        "hand_count": sum(one.way == Way.HAND for one in gets),
        "ways": dict(Way.choices),
        "seen": listing.mark(found, there),
        "example": kinds.text_for(found.body, gets[0].name if gets else _("(name)")),
        "sender": mailing.sender_name(),
    }
    return render(request, "notices/draft.html", context, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def notice_edit(request: SignedInRequest, notice_id: int) -> HttpResponse:
    """A draft's words and whom it goes to."""
    found = queries.find(request.user, notice_id, "notices.write")
    audience = audiences.named(found.audience)
    if audience is None:
        raise Http404
    if found.state != NoticeState.DRAFT:
        return redirect("notice", found.pk)
    form = NoticeForm(
        request.POST or None,
        initial=initial_of(found),
        person=request.user,
        audience=audience,
        units=units_of(request),
    )
    context: dict[str, Any] = {
        "form": form,
        "notice": found,
        "audience": audience,
        "kind": kinds.BY_CODE.get(found.kind),
    }
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                edition = form.cleaned_data["edition"] or 0
                actions.change(notice=found, by=request.user, values=form.values, edition=edition)
                return redirect("notice", found.pk)
            except actions.DraftMoved:
                found.refresh_from_db()
                # What was typed stays; saving again is then on top of what the other wrote.
                typed = request.POST.copy()
                typed["edition"] = str(found.edition)
                context["form"] = NoticeForm(
                    typed, initial=initial_of(found), person=request.user, audience=audience, units=form.units
                )
                context["meanwhile"], status = found, 409
            except Refused as refused:
                context["reasons"] = refused.reasons
    return render(request, "notices/write.html", context, status=status)


@signed_in
@require_POST
def notice_send(request: SignedInRequest, notice_id: int) -> HttpResponse:
    """The one press. What was not looked at is not sent: another text or list by now is shown first."""
    found = queries.find(request.user, notice_id, "notices.send")
    try:
        sent = actions.send(notice=found, by=request.user, seen=request.POST.get("seen", ""))
    except actions.DraftMoved:
        return notice_page(request, queries.find(request.user, notice_id), status=409, moved_on=True)
    except Refused as refused:
        return notice_page(request, queries.find(request.user, notice_id), status=422, reasons=refused.reasons)
    messages.success(request, _("Sent. What became of it for each one stands below."))
    return redirect("notice", sent.pk)


@signed_in
@require_POST
def notice_drop(request: SignedInRequest, notice_id: int) -> HttpResponse:
    found = queries.find(request.user, notice_id, "notices.write")
    try:
        actions.drop(notice=found, by=request.user)
    except Refused as refused:
        return notice_page(request, queries.find(request.user, notice_id), status=422, reasons=refused.reasons)
    messages.success(request, _("Thrown away. Nothing was sent."))
    return redirect("notices")
