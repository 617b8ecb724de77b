"""The owner's private link, on the side of those who hand it over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST

from sugarbush.owners import links
from sugarbush.owners.forms import LinkForm
from sugarbush.owners.queries import find_owner
from sugarbush.owners.views.owners import owner_page
from sugarbush.parts.qr import opens_only_here, printed_address
from sugarbush.seasons.models import Programme
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@sensitive_variables("token", "address", "context")
@signed_in
@never_cache
@require_POST
def owner_link_make(request: SignedInRequest, owner_id: int) -> HttpResponse:
    """A new link. It stands on this one answer and nowhere else: only its hash is kept."""
    found = find_owner(request.user, owner_id, "owner.link")
    links.require_link(request.user, found)
    form = LinkForm(request.POST)
    if not form.is_valid():
        return owner_page(request, found, status=422, link_form=form)
    good_to = form.cleaned_data["good_to"]
    token = links.make_link(owner=found, by=request.user, good_to=good_to)
    address = printed_address(request, reverse("owner-link", args=[token]))
    programme = Programme.current()
    values = {
        "owner": found.name,
        "programme": programme.name if programme else _("the tapping programme"),
        "address": address,
        "day": date_format(good_to, "j F Y"),
        "phone": programme.phone if programme else "",
    }
    context = {
        "owner": found,
        "address": address,
        "good_to": good_to,
        "only_here": opens_only_here(address),
        "short": _("%(programme)s: your tree, what hangs on it, and how to stop it: %(address)s") % values,
        "letter": _letter(values),
    }
    return render(request, "owners/link_made.html", context)


def _letter(values: dict[str, str]) -> str:
    """A mail to copy; whoever sends it may change every word."""
    about = _(
        "here is your own page about your trees with %(programme)s: what hangs on them and since when, when it comes "
        "out, what your trees gave, and how to stop it with one press. If we asked you for permission, you can answer "
        "there too."
    )
    key = _(
        "It needs no password and opens until %(day)s. Whoever has it can answer for you, so please pass it on to "
        "nobody."
    )
    parts = [_("Dear %(owner)s,"), about, "%(address)s", key]
    if values["phone"]:
        parts.append(_("Rather by telephone? %(phone)s"))
    return "\n\n".join(part % values for part in parts)


@signed_in
@require_POST
def owner_link_withdraw(request: SignedInRequest, owner_id: int) -> HttpResponse:
    """The link opens nothing any more, and whoever has its page open is out."""
    found = find_owner(request.user, owner_id, "owner.link")
    if links.withdraw_link(owner=found, by=request.user):
        messages.success(request, _("The link is withdrawn. It opens nothing any more."))
    else:
        messages.info(request, _("There was no link to withdraw."))
    return redirect("owner", found.pk)
