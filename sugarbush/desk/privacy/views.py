"""The page that says what is kept, and a person's own data as a file."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from sugarbush.audit.models import record
from sugarbush.desk.privacy import kept, own_data
from sugarbush.volunteers import access, people
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    """What is kept, why, for how long, who sees it. Open to everybody."""
    return render(request, "desk/privacy.html", {"rows": kept.table()})


@signed_in
@never_cache
@require_POST
def my_data(request: SignedInRequest) -> HttpResponse:
    """What is kept about the person who asks. Everybody may, whatever their role."""
    person = Person.objects.get(pk=request.user.pk)
    record(by=request.user, act="take own data", subject=person)
    return _sent(person)


@signed_in
@never_cache
@require_POST
def person_data(request: SignedInRequest, person_id: int) -> HttpResponse:
    """The same about somebody else who asked for it, or has left. Coordinators of the whole programme only."""
    person = people.find(request.user, person_id)
    access.require(request.user, "person.data", anywhere=True)
    record(by=request.user, act="take a person’s data", subject=person)
    return _sent(person)


def _sent(person: Person) -> HttpResponse:
    answer = HttpResponse(own_data.as_zip(person), content_type="application/zip")
    name = f"data-of-person-{person.pk}-{timezone.localdate()}.zip"
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or "attachment"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
