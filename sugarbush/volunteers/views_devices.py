"""Signing one's own devices out, one by one."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from sugarbush.volunteers import devices
from sugarbush.volunteers.models import Device
from sugarbush.volunteers.signing import hash_of
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_POST
def end_device(request: SignedInRequest, device_id: uuid.UUID) -> HttpResponse:
    """Sign out one device of one's own; this one too, which leads to the way in."""
    device = Device.objects.filter(pk=device_id, person=request.user).first()
    if device is None:
        raise Http404
    here = device.key_hash == hash_of(request.session.session_key or "")
    devices.end_one(device=device, by=request.user)
    if here:
        request.session.flush()
        return redirect("sign-in")
    messages.success(request, _("Signed out: %(device)s.") % {"device": device.words})
    return redirect("me")


@signed_in
@require_POST
def end_others(request: SignedInRequest) -> HttpResponse:
    """Sign out every device of one's own but this one."""
    count = devices.end_others(person=request.user, here=request.session.session_key or "")
    messages.success(
        request,
        ngettext("%(n)d other device is signed out.", "%(n)d other devices are signed out.", count) % {"n": count},
    )
    return redirect("me")
