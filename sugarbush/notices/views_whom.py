"""What one person or owner was sent, whether they take messages, and the way out of them without signing in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods

from sugarbush.notices import optout, queries, sending
from sugarbush.notices.kinds import text_for
from sugarbush.notices.models import GOT_IT, How, Recipient
from sugarbush.owners.queries import find_owner, owners_for
from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access, people
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

PRESSES = {"stop": optout.opt_out, "again": optout.opt_in}


def _press(request: HttpRequest, whom: optout.Whom, how: str, by: Person | None) -> None:
    act = PRESSES.get(request.POST.get("act", ""))
    if act is None:
        raise Http404
    act(whom=whom, how=how, by=by)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def my_messages(request: SignedInRequest) -> HttpResponse:
    """What the person got, with its words, and whether they want any."""
    person = Person.objects.get(pk=request.user.pk)
    if request.method == "POST":
        _press(request, person, How.OWN_PAGE, person)
        return redirect("my-messages")
    rows = Recipient.objects.filter(person=person, state__in=GOT_IT).select_related("notice", "notice__sent_by")
    page = page_of(rows.order_by("-notice__sent_at", "-pk"), request, per_page=20)
    for one in page:
        one.words = text_for(one.notice.body, one.name)
    context = {"page": page, "standing": optout.standing_of(person), "is_self": True}
    return render(request, "notices/mine.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def person_messages(request: SignedInRequest, person_id: int) -> HttpResponse:
    """What a person was sent, as far as the reader sees messages; and that they told us they want none."""
    found = people.find(request.user, person_id)
    access.require(request.user, "notices.see", anywhere=True)
    may = not people.why_not_manage(request.user, found)
    return _of_whom(request, found, may=may, back=reverse("person", args=[found.pk]), person=found.pk)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def owner_messages(request: SignedInRequest, owner_id: int) -> HttpResponse:
    """The same of an owner."""
    found = find_owner(request.user, owner_id)
    access.require(request.user, "notices.see", anywhere=True)
    may = owners_for(request.user, "owners.change").filter(pk=found.pk).exists()
    return _of_whom(request, found, may=may, back=reverse("owner", args=[found.pk]), owner=found.pk)


def _of_whom(request: SignedInRequest, whom: optout.Whom, *, may: bool, back: str, **key: int) -> HttpResponse:
    if request.method == "POST":
        access.require(request.user, "notices.write", anywhere=True)
        if not may:
            access.require(request.user, "notices.write", group_id=-1)  # nobody's group: only the whole programme
        _press(request, whom, How.TOLD_US, request.user)
        messages.success(request, _("Written down, with your name."))
        return redirect(request.path)
    page = page_of(queries.got_by(request.user, **key), request)
    for one in page:
        one.why_words = sending.why_words(one.why) if one.why else ""
    context: dict[str, Any] = {
        "whom": whom,
        "page": page,
        "standing": optout.standing_of(whom),
        "may_press": may and access.holds(request.user, "notices.write"),
        "back": back,
    }
    return render(request, "notices/of_whom.html", context)


@sensitive_variables("token")
@csrf_exempt  # a mail program posts here without cookies; the signed address itself says who asks
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def no_messages(request: HttpRequest, token: str) -> HttpResponse:
    """The way out of messages. Opening changes nothing, since mail scanners open links; a press does, and undoes."""
    whom = optout.whom_of(token)
    if whom is None:
        return render(request, "notices/no_such_way.html", status=404)
    if request.method == "POST":
        if request.POST.get("List-Unsubscribe") == "One-Click":
            optout.opt_out(whom=whom, how=How.MAIL_PROGRAM)
            return HttpResponse(_("No more messages are sent to you."), content_type="text/plain; charset=utf-8")
        _press(request, whom, How.LINK, None)
        return redirect("no-messages", token)
    # No name: the address may have been passed on with a mail.
    return render(request, "notices/no_messages.html", {"standing": optout.standing_of(whom)})
