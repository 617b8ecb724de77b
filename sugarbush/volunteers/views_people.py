"""The list of people, somebody new, and one person's page."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.forms import BaseForm
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access, actions, devices, forgetting, passkeys, people, rules, tables
from sugarbush.volunteers.changing import MovedOn, change
from sugarbush.volunteers.forms import (
    CredentialForm,
    ForgetForm,
    MeForm,
    PersonForm,
    PersonNewForm,
    RoleForm,
    SearchForm,
    StopForm,
)
from sugarbush.volunteers.forms_ways import PasskeyForm
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def people_list(request: SignedInRequest) -> HttpResponseBase:
    """The people this person may see, those who left last."""
    access.require(request.user, "people.see", anywhere=True)
    rows = people.with_roles(people.within_sight(request.user)).order_by("-is_active", "display_name", "pk")
    search = SearchForm(request.GET)
    search.is_valid()
    if words := search.cleaned_data.get("q"):
        rows = rows.filter(display_name__icontains=words)
    if group := search.cleaned_data.get("group"):
        rows = rows.filter(pk__in=group.memberships.values("person"))
    if wants_file(request):
        return list_taken(request, "people", tables.people(), rows)
    context = {
        "page": page_of(rows, request),
        "search": search,
        "narrowed": bool(words or group),
        "may_add": access.holds(request.user, "people.change"),
        "keeps_rules": access.holds(request.user, "rules.keep"),
    }
    return render(request, "volunteers/people.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def person_new(request: SignedInRequest) -> HttpResponse:
    """Somebody joins, with a first role."""
    access.require(request.user, "people.change", anywhere=True)
    form = PersonNewForm(
        request.POST or None, giver=request.user, units=request.user.units, initial={"units": request.user.units}
    )
    if request.method == "POST" and form.is_valid():
        person = actions.add_person(by=request.user, **form.cleaned_data)
        messages.success(request, _("%(name)s is in. Make a sign-in link, or do it later.") % {"name": person})
        return redirect("person", person.pk)
    status = 422 if request.method == "POST" else 200
    return render(request, "volunteers/person_new.html", {"form": form}, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def person(request: SignedInRequest, person_id: int) -> HttpResponse:
    """One person: who they are, what they may do, how they come in."""
    found = people.find(request.user, person_id)
    if request.method != "POST":
        return person_page(request, found)
    actions.require_manager(request.user, found)
    if forgetting.is_forgotten(found):
        raise PermissionDenied(_("This name is gone for good: no other is written in its place."))
    form = PersonForm(request.POST, instance=Person.objects.get(pk=found.pk), units=request.user.units)
    if not form.is_valid():
        return person_page(request, found, status=422, form=form)
    try:
        change(row=found, by=request.user, values=form.values, seen=form.seen, act="change person")
    except MovedOn as moved:
        form.show_meanwhile(moved.row)
        return person_page(request, found, status=409, form=form)
    messages.success(request, _("Saved."))
    return redirect("person", found.pk)


def person_page(request: SignedInRequest, found: Person, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of a person; `given` replaces its forms by those that need a look."""
    viewer = request.user
    forgotten = forgetting.is_forgotten(found)
    manages = not forgotten and not people.why_not_manage(viewer, found)
    grants = (
        not forgotten
        and access.holds(viewer, "credential.grant")
        and (viewer.pk != found.pk or people.is_alone(viewer))
    )
    forms: dict[str, BaseForm] = {}
    if manages:
        forms["form"] = PersonForm(instance=found, units=viewer.units)
        forms["role_form"] = RoleForm(giver=viewer)
        forms["stop_form"] = StopForm(prefix="stop")
    if grants:
        forms["credential_form"] = CredentialForm(prefix="credential")
    if access.holds(viewer, "person.data") and not found.is_active and not forgotten:
        forms["forget_form"] = ForgetForm(prefix="forget")
    today = access.today()
    context = {
        "person": found,
        "forgotten": forgotten,
        "manages": manages,
        "grants": grants,
        "is_self": viewer.pk == found.pk,
        "roles": found.memberships.select_related("group").order_by("date_from", "pk"),
        "credentials": found.credentials.select_related("vouched_by"),
        "today": today,
        **forms,
        **given,
    }
    return render(request, "volunteers/person.html", context, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def me(request: SignedInRequest) -> HttpResponse:
    """What everybody sees about themselves and sets for themselves."""
    form = _me_form(request, request.POST or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                change(row=request.user, by=request.user, values=form.values, seen=form.seen, act="change own page")
                messages.success(request, _("Saved."))
                return redirect("me")
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    return me_page(request, status=status, form=form)


def _me_form(request: SignedInRequest, typed: Any = None) -> MeForm:
    return MeForm(typed, instance=Person.objects.get(pk=request.user.pk), units=request.user.units)


def me_page(request: SignedInRequest, *, status: int = 200, **given: Any) -> HttpResponse:
    """One's own page; `given` replaces its forms by those that need a look."""
    held = devices.of_person(request, request.user)
    context = {
        "roles": request.user.memberships.select_related("group").order_by("date_from", "pk"),
        "credentials": request.user.credentials.select_related("vouched_by"),
        "today": access.today(),
        "devices": held,
        "other_devices": [device for device, here in held if not here],
        "passkeys": request.user.passkeys.all(),
        "no_passkeys": passkeys.site_of(request).why_not,
        "passkey_form": PasskeyForm(prefix="passkey"),
        "rules": rules.latest(),
        **given,
    }
    context.setdefault("form", _me_form(request))
    return render(request, "volunteers/me.html", context, status=status)
