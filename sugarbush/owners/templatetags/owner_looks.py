"""Who looked how to reach an owner, on the owner's page."""

from __future__ import annotations

from typing import Any

from django import template

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import Owner
from sugarbush.volunteers import access

MOST = 20

register = template.Library()


@register.inclusion_tag("owners/looks.html", takes_context=True)
def who_looked(context: template.Context, owner: Owner) -> dict[str, Any]:
    """The latest looks, for those who read the history; nothing for others. One query."""
    request = context.get("request")
    if request is None or not access.holds(request.user, "audit.see"):
        return {}
    looks = AuditEvent.objects.filter(
        act="see contact", subject_kind=owner._meta.label_lower, subject_id=str(owner.pk)
    ).select_related("by")
    return {"request": request, "may_read": True, "looks": list(looks[:MOST]), "owner": owner, "most": MOST}
