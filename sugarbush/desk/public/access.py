"""Who chooses what anybody may see."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, Entry, register

register(
    Entry(
        act="public.change",
        label=_("choose what the public page shows"),
        reach=COORDINATOR,
        note=_("Never a name, an address or a tree’s place: areas of 250 m and more, from three trees on."),
    ),
)
