"""Where owners live, for their letters: shown where contacts are, and each look written down as there."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.owners.models import Owner, OwnerContact
from sugarbush.owners.queries import owners_for
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


@transaction.atomic
def addresses_seen(person: Person, owner_ids: Sequence[int]) -> dict[int, str]:
    """Where these owners live, by their number, of those this person may reach. Noted once a day, in two queries."""
    access.require(person, "contact.see", anywhere=True)
    within = owners_for(person, "contact.see").filter(pk__in=owner_ids)
    contacts = OwnerContact.objects.filter(owner__in=within.values("pk")).exclude(address="").select_related("owner")
    found = list(contacts)
    kind = Owner._meta.label_lower
    begins = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    noted = set(
        AuditEvent.objects.filter(
            subject_kind=kind,
            subject_id__in=[str(one.owner_id) for one in found],
            by=person,
            act="see contact",
            at__gte=begins,
        ).values_list("subject_id", flat=True)
    )
    AuditEvent.objects.bulk_create(
        AuditEvent(
            by=person,
            act="see contact",
            subject_kind=kind,
            subject_id=str(one.owner_id),
            subject_text=str(one.owner)[:200],
            group_id=one.owner.group_id,
        )
        for one in found
        if str(one.owner_id) not in noted
    )
    return {one.owner_id: one.address for one in found}
