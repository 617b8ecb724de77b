"""The acts on a person's page, a form each: roles, credentials, the way in, leaving."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST

from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import access, actions, forgetting, outgrowing, people, signing
from sugarbush.volunteers.forms import CredentialForm, EndForm, ForgetForm, RoleForm, StopForm
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in
from sugarbush.volunteers.views_people import person_page


def _refused(request: SignedInRequest, found: Person, refusal: Refused) -> HttpResponse:
    return person_page(request, found, status=409, reasons=refusal.reasons)


@signed_in
@require_POST
def give_role(request: SignedInRequest, person_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    actions.require_manager(request.user, found)
    form = RoleForm(request.POST, giver=request.user)
    if not form.is_valid():
        return person_page(request, found, status=422, role_form=form)
    anew = outgrowing.outgrows(found, form.cleaned_data["group"], request.user)
    membership = actions.give_role(by=request.user, person=found, **form.cleaned_data)
    messages.success(request, _("%(name)s is %(role)s.") % {"name": found, "role": membership.get_role_display()})
    if anew:
        messages.warning(
            request,
            _("%(name)s is signed out everywhere and comes in anew. Look whether the e-mail address is theirs.")
            % {"name": found},
        )
    return redirect("person", found.pk)


@signed_in
@require_POST
def end_role(request: SignedInRequest, person_id: int, membership_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    actions.require_manager(request.user, found)
    membership = found.memberships.filter(pk=membership_id).first()
    if membership is None:
        raise Http404
    form = EndForm(request.POST)
    if not form.is_valid():
        return person_page(request, found, status=422, end_form=form, end_role_id=membership_id)
    try:
        actions.end_role(by=request.user, membership=membership, **form.cleaned_data)
    except Refused as refusal:
        return _refused(request, found, refusal)
    messages.success(request, _("The role ends. What was done under it stays."))
    # A lead whose person left the last shared group no longer sees that page.
    still_seen = people.within_sight(request.user).filter(pk=found.pk).exists()
    return redirect("person", found.pk) if still_seen else redirect("people")


@signed_in
@require_POST
def add_credential(request: SignedInRequest, person_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    actions.first_day_for(by=request.user, person=found, valid_from=timezone.localdate())
    form = CredentialForm(request.POST, prefix="credential")
    if not form.is_valid():
        return person_page(request, found, status=422, credential_form=form)
    try:
        credential = actions.record_credential(by=request.user, person=found, **form.cleaned_data)
    except Refused as refusal:
        return person_page(request, found, status=422, credential_form=form, reasons=refusal.reasons)
    if credential.valid_from > form.cleaned_data["valid_from"]:
        messages.warning(
            request,
            _("Recorded. Nobody else has joined yet, so you vouch for yourself, and it counts from tomorrow."),
        )
    else:
        messages.success(request, _("Recorded: %(what)s.") % {"what": credential.get_kind_display()})
    return redirect("person", found.pk)


@signed_in
@require_POST
def end_credential(request: SignedInRequest, person_id: int, credential_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    credential = found.credentials.filter(pk=credential_id).first()
    if credential is None:
        raise Http404
    access.require(request.user, "credential.grant", anywhere=True)
    form = EndForm(request.POST)
    if not form.is_valid():
        return person_page(request, found, status=422, end_form=form, end_credential_id=credential_id)
    actions.end_credential(by=request.user, credential=credential, **form.cleaned_data)
    messages.success(request, _("It no longer counts after that day."))
    return redirect("person", found.pk)


@sensitive_variables("token", "url")
@signed_in
@never_cache
@require_POST
def make_link(request: SignedInRequest, person_id: int) -> HttpResponse:
    """The link stands on this one answer and nowhere else: only its hash is kept."""
    found = people.find(request.user, person_id)
    try:
        token = actions.make_link(by=request.user, person=found)
    except Refused as refusal:
        return _refused(request, found, refusal)
    url = request.build_absolute_uri(reverse("sign-in-link", args=[token]))
    context = {"person": found, "link": url, "good_until": timezone.now() + signing.GOOD_FOR}
    return render(request, "volunteers/link_made.html", context)


@signed_in
@require_POST
def end_sessions(request: SignedInRequest, person_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    actions.end_sessions(by=request.user, person=found)
    if found.pk == request.user.pk:
        return redirect("sign-in")
    messages.success(request, _("%(name)s is signed out on every device.") % {"name": found})
    return redirect("person", found.pk)


@signed_in
@require_POST
def stop(request: SignedInRequest, person_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    actions.require_manager(request.user, found)
    form = StopForm(request.POST, prefix="stop")
    if not form.is_valid():
        return person_page(request, found, status=422, stop_form=form)
    try:
        actions.stop_person(by=request.user, person=found, **form.cleaned_data)
    except Refused as refusal:
        return _refused(request, found, refusal)
    messages.success(request, _("%(name)s has left. What they recorded stays.") % {"name": found})
    return redirect("person", found.pk)


@signed_in
@require_POST
def forget(request: SignedInRequest, person_id: int) -> HttpResponse:
    """The name of a person who has left goes for good, when they ask for it."""
    found = people.find(request.user, person_id)
    access.require(request.user, "person.data", anywhere=True)
    form = ForgetForm(request.POST, prefix="forget")
    if not form.is_valid():
        return person_page(request, found, status=422, forget_form=form)
    try:
        kept = forgetting.forget(person=found, by=request.user, reason=form.cleaned_data["reason"])
    except Refused as refusal:
        return person_page(request, found, status=409, forget_form=form, reasons=refusal.reasons)
    messages.success(request, _("The name is gone. What was counted stands under “%(name)s”.") % {"name": kept})
    return redirect("person", found.pk)


@signed_in
@require_POST
def take_back(request: SignedInRequest, person_id: int) -> HttpResponse:
    found = people.find(request.user, person_id)
    try:
        actions.take_back(by=request.user, person=found)
    except Refused as refusal:
        return _refused(request, found, refusal)
    messages.success(request, _("%(name)s may come in again.") % {"name": found})
    return redirect("person", found.pk)
