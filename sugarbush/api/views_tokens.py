"""A person's own tokens: made by a press, shown once, listed with their last use, taken away."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods

from sugarbush.api import tokens
from sugarbush.api.operations import SCOPES
from sugarbush.parts.forms import UnitsForm
from sugarbush.parts.qr import printed_address
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers.views_help import SignedInRequest, member

MOST_DIGITS = 18  # more than any number of a row has; int() itself refuses some thousands of digits


class TokenForm(UnitsForm):
    name = forms.CharField(
        label=gettext_lazy("What is it for?"),
        help_text=gettext_lazy("So that you know later which to take away: “the town’s map”, “my spreadsheet”."),
        max_length=60,
    )
    scopes = forms.MultipleChoiceField(
        label=gettext_lazy("It may read"), choices=list(SCOPES.items()), widget=forms.CheckboxSelectMultiple
    )


@sensitive_variables("secret", "context")
@never_cache
@member
@require_http_methods(["GET", "HEAD", "POST"])
def my_tokens(request: SignedInRequest) -> HttpResponse:
    """The list, and a new one. The answer to the press is the only page that ever shows the token."""
    if request.method == "POST" and request.POST.get("act") == "withdraw":
        said = request.POST.get("token", "")
        if said.isascii() and said.isdigit() and len(said) <= MOST_DIGITS:
            tokens.withdraw(person=request.user, pk=int(said))
        messages.success(request, _("The token opens nothing any more."))
        return redirect("my-tokens")
    form = TokenForm(request.POST or None, units=request.user.units)
    secret, reasons = "", []
    if request.method == "POST" and form.is_valid():
        try:
            _token, secret = tokens.make(person=request.user, **form.cleaned_data)
        except Refused as refused:
            reasons = list(refused.reasons)
        else:
            form = TokenForm(units=request.user.units)
    context: dict[str, Any] = {
        "form": form,
        "secret": secret,
        "reasons": reasons,
        "tokens": [
            (token, [SCOPES[one] for one in token.scopes if one in SCOPES]) for token in tokens.live(request.user)
        ],
        "address": printed_address(request, reverse("api")),
    }
    status = 409 if reasons else 422 if form.errors else 200
    return render(request, "api/tokens.html", context, status=status)
