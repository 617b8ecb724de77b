"""What every view needs: a signed-in person, and their name in the right type."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.translation import gettext as _

from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

if TYPE_CHECKING:

    class SignedInRequest(HttpRequest):
        """A request whose person is known; `signed_in` lets no other through."""

        user: Person

else:
    SignedInRequest = HttpRequest

signed_in = login_required


def member(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """A signed-in person with a role today; anybody else is refused before the page asks anything."""

    @signed_in
    @wraps(view)
    def guarded(request: SignedInRequest, *args: object, **named: object) -> HttpResponseBase:
        if not access.roles_of(request.user):
            raise PermissionDenied(_("You have no role in the programme today. Ask a coordinator to add you."))
        return view(request, *args, **named)

    return guarded
