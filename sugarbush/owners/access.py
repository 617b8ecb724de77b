"""Who may do what with owners and their permissions."""

from django.utils.translation import gettext_lazy as _

from sugarbush.trees.access import MEMBERS
from sugarbush.volunteers.access import DESK, Entry, register
from sugarbush.volunteers.models import Role

register(
    Entry(act="owners.see", label=_("see owners’ names"), reach={**DESK, Role.REVIEWER: "all"}),
    Entry(act="owners.change", label=_("add and change owners"), reach=DESK),
    Entry(
        act="contact.see",
        label=_("see how to reach an owner, open the scan of a slip"),
        reach=DESK,
        note=_("Each look is written down."),
    ),
    Entry(
        act="owner.link",
        label=_("make and withdraw an owner’s private link"),
        reach=DESK,
        note=_("A lead only where all of the owner’s trees are the group’s own."),
    ),
    Entry(
        act="permission.draft",
        label=_("bring a signed slip as a draft"),
        reach=MEMBERS,
        note=_("The bringer sees it while it is a draft."),
    ),
    Entry(act="permission.see", label=_("see permissions"), reach={**DESK, Role.REVIEWER: "all"}),
    Entry(
        act="permission.decide",
        label=_("ask for, grant, suspend, take back a permission"),
        reach=DESK,
        note=_("A lead only where every tree on it is the group’s own."),
    ),
)
