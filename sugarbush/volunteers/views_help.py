"""What every view needs: a signed-in person, and their name in the right type."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest

from sugarbush.volunteers.models import Person

if TYPE_CHECKING:

    class SignedInRequest(HttpRequest):
        """A request whose person is known; `signed_in` lets no other through."""

        user: Person

else:
    SignedInRequest = HttpRequest

signed_in = login_required
