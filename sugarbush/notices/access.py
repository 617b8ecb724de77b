"""Who may write messages, send them, and read who got what."""

from django.utils.translation import gettext_lazy as _

from sugarbush.volunteers.access import DESK, Entry, Reach, register
from sugarbush.volunteers.models import Role

WRITERS: dict[str, Reach] = {**DESK, Role.BOIL_LEAD: "all"}
OWN_READERS = _("A lead: of the own group. A boil lead: to the crew of a boiling day.")

register(
    Entry(act="notices.see", label=_("see messages and who got them"), reach={**WRITERS, Role.REVIEWER: "all"}),
    Entry(act="notices.write", label=_("write a message as a draft"), reach=WRITERS, note=OWN_READERS),
    Entry(
        act="notices.send",
        label=_("send a message, say that it was handed over"),
        reach=WRITERS,
        note=_("To people and owners the sender sees; never to who asked for none."),
    ),
)
