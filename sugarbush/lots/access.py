"""Who may pack, release, hand out and call back."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, EVERYONE, Entry, Reach, register
from sugarbush.volunteers.models import CredentialKind, Role

PAN: dict[str, Reach] = {Role.COORDINATOR: "all", Role.BOIL_LEAD: "all"}
HAND_OUT: dict[str, Reach] = {**PAN, Role.STEWARD: "all"}

register(
    Entry(act="lot.see", label=_("see lots of syrup and what they measured"), reach=EVERYONE),
    Entry(
        act="lot.trace",
        label=_("trace syrup to trees and days, and sap to jars"),
        reach={**HAND_OUT, Role.REVIEWER: "all", Role.DEPOT_KEEPER: "all", Role.LEAD: "own"},
        note=_("A lead sees the entries of the own groups; the rest as one sum."),
    ),
    Entry(act="lot.holders", label=_("see who has jars of a lot"), reach={**HAND_OUT, Role.REVIEWER: "all"}),
    Entry(act="lot.pack", label=_("pack a lot"), reach=PAN, credential=CredentialKind.FOOD),
    Entry(
        act="lot.release",
        label=_("release a lot"),
        reach=PAN,
        credential=CredentialKind.FOOD,
        note=_("Never who packed or measured it."),
    ),
    Entry(act="lot.issue", label=_("hand out jars, take them back"), reach=HAND_OUT),
    Entry(act="recall.open", label=_("call jars back"), reach=PAN),
    Entry(act="recall.call", label=_("tick off who was told of a recall"), reach=HAND_OUT),
    Entry(act="recall.close", label=_("end a recall"), reach=COORDINATOR),
)
