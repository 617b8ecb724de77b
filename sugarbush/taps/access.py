"""Who may give trees out, place taps and pull them."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import DESK, EVERYONE, Entry, register
from sugarbush.volunteers.models import CredentialKind, Role

MEMBERS = {role: reach for role, reach in EVERYONE.items() if role != Role.REVIEWER}

register(
    Entry(act="assign", label=_("give trees to a group or a person"), reach=DESK),
    Entry(
        act="tap.place",
        label=_("place a tap"),
        reach=MEMBERS,
        credential=CredentialKind.TAPPING,
        adult=True,
        waiver=True,
    ),
    Entry(act="tap.pull", label=_("pull a tap"), reach=MEMBERS),
    Entry(act="tap.settle", label=_("settle a tap that broke a rule"), reach=DESK, note=_("Never one’s own.")),
)
