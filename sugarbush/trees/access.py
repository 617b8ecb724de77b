"""Who may see, scout, check, change and merge trees."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, DESK, EVERYONE, Entry, Reach, register
from sugarbush.volunteers.models import CredentialKind, Role

# A reviewer reads everything and writes nothing.
MEMBERS: dict[str, Reach] = {role: reach for role, reach in EVERYONE.items() if role != Role.REVIEWER}

ENTRIES = (
    Entry(
        act="trees.see",
        label=_("see trees, their states and holes"),
        reach=EVERYONE,
        note=_("of another group’s tree only tag, place and species, where it may be a double"),
    ),
    Entry(act="tree.scout", label=_("enter a tree, record a look at it"), reach=MEMBERS),
    Entry(act="tree.change", label=_("change a tree’s place, land, group"), reach=DESK),
    Entry(act="tree.check", label=_("record a health check"), reach=MEMBERS, credential=CredentialKind.CHECKING),
    Entry(
        act="species.confirm",
        label=_("give the second look at a species, settle a dispute"),
        reach=MEMBERS,
        credential=CredentialKind.SPECIES,
    ),
    Entry(act="treatment.record", label=_("write down whether a tree was treated"), reach=MEMBERS),
    Entry(
        act="treatment.clear",
        label=_("clear a treated tree"),
        reach=COORDINATOR,
        note=_("in writing, with the reason"),
    ),
    Entry(act="tree.life", label=_("rest, rule out or bring back a tree, say it is felled"), reach=DESK),
    Entry(act="tree.merge", label=_("merge two entries of one tree"), reach=DESK),
    Entry(act="files.take", label=_("bring in the town’s trees and streets from a file"), reach=COORDINATOR),
)


def enter() -> None:
    """Put the trees' acts into the table."""
    register(*ENTRIES)
