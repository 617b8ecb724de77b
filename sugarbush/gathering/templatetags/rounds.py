"""How rounds are said and drawn: the state of a run, a way on foot, how long sap has hung."""

from __future__ import annotations

from django import template
from django.templatetags.static import static
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.gathering.board import Waiting
from sugarbush.gathering.run_state import Standing
from sugarbush.gathering.way import walk_words

register = template.Library()


@register.simple_tag
def run_mark(standing: Standing) -> SafeString:
    """Shape and word of how a run stands."""
    return format_html(
        '<span class="state run-{0}"><svg class="mark" viewBox="0 0 14 14" aria-hidden="true">'
        '<use href="{1}#r-{0}"/></svg>{2}</span>',
        standing.value,
        static("img/rounds.svg"),
        standing.label,
    )


@register.simple_tag(takes_context=True)
def walk(context: template.Context, walked_m: float) -> str:
    """A way on foot in the reader's units."""
    return walk_words(walked_m, str(context.get("units")))


@register.filter
def hung(waiting: Waiting) -> str:
    """How long a pail has hung: "2 days 5 h"; under a day only the hours."""
    hours = _("%(n)d\u00a0h") % {"n": waiting.rest_h}
    if not waiting.days:
        return hours
    return ngettext("%(n)d\u00a0day", "%(n)d\u00a0days", waiting.days) % {"n": waiting.days} + f" {hours}"
