"""What stands against a person's name going: sap that is still in their hands."""

from __future__ import annotations

from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason
from sugarbush.parts.shown import in_words
from sugarbush.sap.ledger import balances_ml
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.volunteers.models import Person


def sap_in_hands(person: Person) -> list[Reason]:
    """One reason when the books say that the person still carries sap, whatever the season."""
    held_ml = sum(balances_ml(Vessel.objects.filter(kind=VesselKind.HANDS, person=person)).values())
    if not held_ml:
        return []
    return [
        Reason(
            code="sap-in-hands",
            fact=_("%(name)s still has %(held)s of sap in hands.")
            % {"name": person, "held": in_words("volume", held_ml, person.units)},
            next_text=_("Have it delivered, handed over or tipped out first"),
        )
    ]
