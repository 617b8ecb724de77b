"""Printing: what to choose, the document itself, and what to do when something cannot be shown or set."""

from __future__ import annotations

import logging
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from sugarbush.papers import documents, forms, forms_labels, jobs
from sugarbush.papers.kinds import Asked, Kind, kind_of
from sugarbush.papers.models import PaperSettings
from sugarbush.papers.press import CannotShow, PressFailed
from sugarbush.papers.printing import make
from sugarbush.parts.context import units_of
from sugarbush.parts.qr import opens_only_here, printed_address
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Programme
from sugarbush.volunteers.views_help import SignedInRequest, member

log = logging.getLogger(__name__)
documents.load()


def asked_by(request: SignedInRequest, *, paper: str = "", choices: dict[str, Any] | None = None) -> Asked:
    """Who prints here, with the programme's own settings. Http404 before there is a programme."""
    programme = Programme.current()
    if programme is None:
        raise Http404
    settings = PaperSettings.current()
    return Asked(
        person=request.user,
        programme=programme,
        settings=settings,
        paper=paper or settings.paper,
        units=units_of(request),
        base=base_of(request),
        choices=choices or {},
    )


def base_of(request: HttpRequest) -> str:
    """The address in front of every path, for squares."""
    whole = printed_address(request, "/x")
    return whole[: whole.index("/", whole.index("//") + 2)]


def find_kind(key: str) -> Kind:
    try:
        return kind_of(key)
    except KeyError:
        raise Http404 from None


@never_cache
@member
@require_http_methods(["GET", "HEAD", "POST"])
def paper_print(request: SignedInRequest, kind: str) -> HttpResponse:
    """What to choose; the press makes the document, or leaves a long one to the background worker."""
    found = find_kind(kind)
    form_class = form_of(found)
    units = units_of(request)
    if request.method != "POST":
        start = {name: values[-1] for name, values in request.GET.lists()}
        initial = {"paper": PaperSettings.current().paper, **start}
        return print_page(request, found, form_class(initial=initial, units=units, person=request.user))
    form = form_class(request.POST, units=units, person=request.user)
    if not form.is_valid():
        return print_page(request, found, form, status=422)
    asked = asked_by(request, paper=form.cleaned_data["paper"], choices=form.choices())
    anyway = request.POST.get("anyway") == "yes"
    try:
        if found.size(asked) > found.long_above:
            return redirect("paper-job", jobs.start(found, asked, anyway=anyway).pk)
        return document_answer(found, make(found, asked, anyway=anyway))
    except CannotShow as why:
        return cannot_show_page(request, found, form, why.characters)
    except Refused as why:
        return print_page(request, found, form, status=422, reasons=why.reasons)
    except PressFailed as why:
        log.error("A %s could not be set: %s", found.key, why)
        return print_page(request, found, form, status=503, failed=True)


def form_of(kind: Kind) -> type[forms.PrintForm]:
    """The form that asks for a kind's choices."""
    for module in (forms, forms_labels):
        if hasattr(module, kind.form):
            found: type[forms.PrintForm] = getattr(module, kind.form)
            return found
    raise LookupError(kind.form)


def print_page(
    request: SignedInRequest, kind: Kind, form: forms.PrintForm, *, status: int = 200, **given: Any
) -> HttpResponse:
    context = {"kind": kind, "form": form, "only_here": opens_only_here(base_of(request)), **given}
    return render(request, "papers/print.html", context, status=status)


def cannot_show_page(request: SignedInRequest, kind: Kind, form: forms.PrintForm, characters: str) -> HttpResponse:
    """Nothing is printed yet: these characters would come out as empty boxes."""
    context = {"kind": kind, "form": form, "characters": list(characters)[:60], "again": request.POST.lists()}
    return render(request, "papers/cannot_show.html", context, status=409)


def document_answer(kind: Kind, made: bytes) -> HttpResponse:
    """The PDF, opened where the browser can; nobody keeps it on the way."""
    response = HttpResponse(made, content_type="application/pdf")
    name = f"{kind.file_name or kind.key}.pdf"
    response["Content-Disposition"] = content_disposition_header(False, name) or "inline"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    # The browser's own viewer is a page with styles and scripts; the policy of our pages would shut it.
    response._csp_exempt = True  # type: ignore[attr-defined]
    return response


def title_of(kind: Kind) -> str:
    return _("Print: %(what)s") % {"what": kind.label}
