"""Who may take the whole programme away."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import COORDINATOR, Entry, register

register(
    Entry(
        act="programme.archive",
        label=_("take the whole programme away as one archive"),
        reach=COORDINATOR,
        note=_("It holds every name and every way in; each one made and taken is noted in the history."),
    )
)
