"""How many messages a person or an owner was sent, and whether they want any, on their page."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse

from sugarbush.notices import optout, queries
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

register = template.Library()


@register.inclusion_tag("notices/_of.html", takes_context=True)
def messages_of(context: template.Context, whom: optout.Whom) -> dict[str, Any]:
    """A line for those who see messages; nothing for others. Two queries."""
    request = context.get("request")
    if request is None or not access.holds(request.user, "notices.see"):
        return {}
    kind = "person" if isinstance(whom, Person) else "owner"
    return {
        "may_see": True,
        "standing": optout.standing_of(whom),
        "count": queries.got_by(request.user, **{kind: whom.pk}).count(),
        "url": reverse(f"{kind}-messages", args=[whom.pk]),
    }
