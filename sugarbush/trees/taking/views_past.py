"""A sheet of past years before it is taken in: which column says what, and the first rows as they would be taken."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.context import units_of
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportProblem, ImportRun
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.taking import acts, past
from sugarbush.trees.taking.words import reason_words, sentence_of
from sugarbush.volunteers.views_help import SignedInRequest

ROWS_LOOKED_AT = 500
ROWS_SHOWN = 20
_LABELS = {
    "year": gettext_lazy("Year"),
    "tree": gettext_lazy("Tree: our code or the town’s number"),
    "address": gettext_lazy("Address, where there is no number"),
    "nth": gettext_lazy("Which tree at that address"),
    "taps": gettext_lazy("Taps"),
    "volume": gettext_lazy("Sap"),
    "brix": gettext_lazy("Sugar (°Brix)"),
    "note": gettext_lazy("Note"),
}
_UNITS = (
    ("L", gettext_lazy("litres (L)")),
    ("mL", gettext_lazy("millilitres (mL)")),
    ("gal", gettext_lazy("US gallons (gal)")),
)


class PastForm(forms.Form):
    """Which column says what."""

    def __init__(self, *args: Any, columns: list[str], **kw: Any) -> None:
        super().__init__(*args, **kw)
        choices = [("", _("not in this file")), *((name, name) for name in columns)]
        for name in past.COLUMNS:
            self.fields[name] = forms.ChoiceField(label=_LABELS[name], choices=choices, required=False)
        self.fields["unit"] = forms.ChoiceField(
            label=gettext_lazy("Unit of the sap where the cell has none"), choices=_UNITS
        )


def choose_past(request: SignedInRequest, run: ImportRun, *, take: bool) -> HttpResponse:
    """Keep the columns sent; take the file in if the page showed what comes of these very columns."""
    try:
        columns = past.open_past(run.path).columns
    except CannotRead:
        return choosing_past(request, run, status=422)
    form = PastForm(request.POST, columns=columns)
    if not form.is_valid():
        return choosing_past(request, run, form=form, status=422)
    changed = form.cleaned_data != run.mapping
    run = acts.choose_past(run=run, chosen=form.cleaned_data)
    if take and not changed:
        acts.start(by=request.user, run=run)
        return redirect("file", run.pk)
    if take:
        messages.warning(request, _("You changed something. Look at what would come of it, then take it in."))
    return redirect(f"{request.path}#preview")


def choosing_past(
    request: SignedInRequest, run: ImportRun, *, form: PastForm | None = None, status: int = 200
) -> HttpResponse:
    """The page of a sheet that is not taken in yet."""
    context: dict[str, Any] = {"run": run}
    try:
        table = past.open_past(run.path)
        context["form"] = form or PastForm(initial=run.mapping, columns=table.columns)
        context["problems"] = past.problems(run.mapping, table.columns)
        if not context["problems"]:
            context |= _preview(run, table, units_of(request))
    except CannotRead as why:
        gone = _("The file is no longer on this machine. Bring it again.")
        context["problems"] = [gone if why.code == "missing" else why.sentence]
    return render(request, "trees/files/choose_past.html", context, status=status)


def _preview(run: ImportRun, table: Any, units: str) -> dict[str, Any]:
    programme = Programme.current()
    with timezone.override(programme.zone if programme else None):
        reader = past.Reader(table.columns, run.mapping)
        read = [reader.read(raw) for raw in islice(table.rows(), ROWS_LOOKED_AT + 1)]
        whole, read = len(read) <= ROWS_LOOKED_AT, read[:ROWS_LOOKED_AT]
        judged = past.judge(run, read)
    refused = [(one, sentence_of(ImportProblem(reason=one.code, values=one.values), units)) for one in judged.refused]
    counts = Counter(one.code for one in judged.refused)
    return {
        "read": len(read),
        "whole": whole,
        "new": len(judged.new),
        "same": judged.same,
        "refused_count": len(judged.refused),
        "counts": [(reason_words(code), count) for code, count in counts.most_common()],
        "shown": judged.new[:ROWS_SHOWN],
        "refused": refused[:ROWS_SHOWN],
        "ready": bool(judged.new or not whole) and programme is not None,
        "programme_open": programme is not None,
    }
