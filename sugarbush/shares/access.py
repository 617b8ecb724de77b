"""Who may write the rule, work out the shares, hand out the jars, and see whose share is what."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import EVERYONE, Entry, Reach, register
from sugarbush.volunteers.models import Role

STEWARD: dict[str, Reach] = {Role.COORDINATOR: "all", Role.STEWARD: "all"}

register(
    Entry(act="share.rule", label=_("write and publish the share rule"), reach=STEWARD),
    Entry(act="share.run", label=_("work out the shares, answer questions, make them final"), reach=STEWARD),
    Entry(act="share.handout", label=_("hand out the jars of the shares"), reach=STEWARD),
    Entry(
        act="share.see",
        label=_("see everybody’s share"),
        reach={**STEWARD, Role.REVIEWER: "all"},
        note=_("Owners’ names are among them."),
    ),
    Entry(
        act="share.own",
        label=_("see the rule, the own share, and ask about it"),
        reach=EVERYONE,
        note=_("Nobody else’s share."),
    ),
)
