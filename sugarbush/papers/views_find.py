"""The papers of the week, and the way back from a paper to its record."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from sugarbush.owners.models import Permission
from sugarbush.owners.queries import find_permission
from sugarbush.papers import week
from sugarbush.papers.keying import sheets_for
from sugarbush.papers.models import Document
from sugarbush.papers.numbers import seq_of
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, member


@member
@require_safe
def paper(request: SignedInRequest) -> HttpResponse:
    """Everything that is due on paper this week, and the way to everything else that is printed."""
    context = {
        "due": week.due(request.user, timezone.localdate()),
        "others": week.others(request.user),
        "waiting": week.waiting(request.user),
        "may_settings": access.holds(request.user, "programme.change"),
    }
    return render(request, "papers/week.html", context)


@never_cache
@member
@require_safe
def paper_find(request: SignedInRequest) -> HttpResponse:
    """A number from a paper, typed: a slip's own, or the document's. It lands on the record, or says what is wrong."""
    typed = " ".join(request.GET.get("number", "").split())[:40]
    context = {"typed": typed, "wrong": ""}
    if not typed:
        return render(request, "papers/find.html", context)
    try:
        return redirect(place_of(request, typed))
    except Http404 as why:
        context["wrong"] = str(why) or _("No paper of yours has this number. Look at it once more.")
        return render(request, "papers/find.html", context, status=404)


def place_of(request: SignedInRequest, typed: str) -> str:
    """The address of the record a number on paper stands for. Http404, with a sentence, where there is none."""
    slip = Permission.objects.filter(number__iexact=typed.replace(" ", "")).first() if "\x00" not in typed else None
    if slip is not None:
        return reverse("permission", args=[find_permission(request.user, slip.number).number])
    seq = seq_of(typed)
    if seq is None:
        raise Http404(_("This is no number of a paper of ours: one figure may be wrong."))
    document = Document.objects.filter(seq=seq).first()
    if document is None:
        raise Http404
    return record_of(request, document)


def record_of(request: SignedInRequest, document: Document) -> str:
    """Where the record of a document is kept, for somebody who may see it."""
    what, _colon, key = document.subject.partition(":")
    if what == "permission":
        slip = Permission.objects.filter(pk=key).first()
        if slip is not None:
            return reverse("permission", args=[find_permission(request.user, slip.number).number])
    if what == "run":
        sheet = sheets_for(request.user).filter(document=document).first()
        if sheet is not None:
            return reverse("paper-sheet", args=[document.number])
        raise Http404
    raise Http404(_("This paper is about nothing that has a page of its own."))


@never_cache
@require_safe
def paper_slip(request: HttpRequest, number: str) -> HttpResponse:
    """What the square on a slip opens: the slip for those who may see it, else a word about what it is.

    Strangers read the same for every number, so that nobody learns by it which slips there are.
    """
    if request.user.is_authenticated:
        try:
            return redirect("permission", find_permission(request.user, number).number)
        except Http404:
            pass
    return render(request, "papers/slip.html", {})
