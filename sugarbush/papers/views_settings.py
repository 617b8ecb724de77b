"""How the programme prints: a page for its paper and words, and one for each sheet of labels."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.audit.models import record
from sugarbush.papers.forms_settings import SettingsForm, SheetForm
from sugarbush.papers.labels import USUAL, layout_of, words_of
from sugarbush.papers.models import LabelSheet, PaperSettings
from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn, change, edition_of
from sugarbush.volunteers.views_help import SignedInRequest, member

ACT = "programme.change"


@member
@require_http_methods(["GET", "HEAD", "POST"])
def paper_settings(request: SignedInRequest) -> HttpResponse:
    """The paper and the words of labels, with the sheets there are."""
    access.require(request.user, ACT, anywhere=True)
    # The one row is made here, so that a form has something to be opened on and the history something to change.
    kept = PaperSettings.objects.get_or_create(pk=1)[0] if request.method == "POST" else PaperSettings.current()
    form = SettingsForm(request.POST or None, instance=kept)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                change(
                    row=PaperSettings.objects.get(pk=1),
                    by=request.user,
                    values=form.values,
                    seen=form.seen or edition_of(PaperSettings(), form.columns),
                    act="change papers",
                )
                messages.success(request, _("Saved."))
                return redirect("paper-settings")
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    page = page_of(LabelSheet.objects.order_by("use", "name", "pk"), request, per_page=30)
    context = {
        "form": form,
        "page": page,
        "sheets": [(one, words_of(layout_of(one))) for one in page.object_list],
        "usual": [words_of(one) for one in USUAL],
    }
    return render(request, "papers/settings.html", context, status=status)


@member
@require_http_methods(["GET", "HEAD", "POST"])
def label_sheet_new(request: SignedInRequest) -> HttpResponse:
    """Write down a sheet of labels as it was bought."""
    access.require(request.user, ACT, anywhere=True)
    form = SheetForm(request.POST or None, initial={"paper": PaperSettings.current().paper})
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            made = form.save()
            record(by=request.user, act="add label sheet", subject=made, new={"size": words_of(layout_of(made))})
        messages.success(request, _("“%(name)s” can be printed on now.") % {"name": made})
        return redirect("paper-settings")
    status = 422 if request.method == "POST" else 200
    return render(request, "papers/label_sheet.html", {"form": form, "sheet": None}, status=status)


@member
@require_http_methods(["GET", "HEAD", "POST"])
def label_sheet(request: SignedInRequest, pk: int) -> HttpResponse:
    """Change a sheet, or take it away."""
    access.require(request.user, ACT, anywhere=True)
    sheet = get_object_or_404(LabelSheet, pk=pk)
    if request.method == "POST" and request.POST.get("act") == "away":
        with transaction.atomic():
            record(by=request.user, act="take away label sheet", subject=sheet)
            sheet.delete()
        messages.success(request, _("“%(name)s” is taken away.") % {"name": sheet})
        return redirect("paper-settings")
    form = SheetForm(request.POST or None, instance=LabelSheet.objects.get(pk=pk))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                change(row=sheet, by=request.user, values=form.values, seen=form.seen, act="change label sheet")
                messages.success(request, _("Saved."))
                return redirect("paper-settings")
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    return render(request, "papers/label_sheet.html", {"form": form, "sheet": sheet}, status=status)
