"""The page that says what is kept."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from sugarbush.desk.privacy import kept


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    """What is kept, why, for how long, who sees it. Open to everybody."""
    return render(request, "desk/privacy.html", {"rows": kept.table()})
