"""Who may log collections and settle those to review."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import DESK, EVERYONE, Entry, register
from sugarbush.volunteers.models import Role

MEMBERS = {role: reach for role, reach in EVERYONE.items() if role != Role.REVIEWER}

register(
    Entry(act="collection.log", label=_("log a collection"), reach=MEMBERS),
    Entry(act="collection.see", label=_("see collections of a group"), reach=EVERYONE),
    Entry(
        act="collection.settle",
        label=_("settle a collection to review"),
        reach=DESK,
        note=_("Never one’s own."),
    ),
)
register(
    Entry(act="round.see", label=_("see the rounds of a group"), reach=EVERYONE),
    Entry(act="round.board", label=_("see the board of the day"), reach={**DESK, Role.REVIEWER: "all"}),
    Entry(act="round.plan", label=_("make rounds, give runs to people"), reach=DESK),
)
