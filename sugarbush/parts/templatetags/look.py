"""Tags that draw the house's parts: quantities with units, state marks, tree tags, fields, paging, the gate."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms, template
from django.core.paginator import Page
from django.forms import BoundField
from django.http import QueryDict
from django.templatetags.static import static
from django.urls import NoReverseMatch, get_script_prefix, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.paging import PAGE_KEY
from sugarbush.parts.places import geo_address
from sugarbush.parts.sheets.answer import AS, MARK, SHEETS
from sugarbush.parts.shown import in_words, quantity_html
from sugarbush.parts.worked import Working

register = template.Library()

STATE_WORDS = {
    "considered": gettext_lazy("Considered"),
    "asked": gettext_lazy("Asked"),
    "allowed": gettext_lazy("Allowed"),
    "ready": gettext_lazy("Ready"),
    "tapped": gettext_lazy("Tapped"),
    "pull": gettext_lazy("To pull"),
    "resting": gettext_lazy("Resting"),
    "not": gettext_lazy("Not for tapping"),
    "felled": gettext_lazy("Felled"),
    "listed": gettext_lazy("Listed"),
    "attention": gettext_lazy("Needs a look"),
}
NO_MARK = {"felled"}
ASKS_AT_MOST_ONCE = gettext_lazy("Please look:")


def _units(context: template.Context) -> str:
    return str(context.get("units") or "metric")


# Quantities ---------------------------------------------------------------------


@register.simple_tag(takes_context=True)
def quantity(context: template.Context, kind: str, value: Any, exact: bool = False) -> SafeString | str:
    """Any stored number with the reader's unit: {% quantity "volume" tap.volume_ml %}."""
    return quantity_html(kind, value, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def quantity_words(context: template.Context, kind: str, value: Any, exact: bool = False) -> str:
    """The same as plain text, for labels and sentences: {% quantity_words "volume" ml as amount %}."""
    return in_words(kind, value, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def volume(context: template.Context, volume_ml: int | None, exact: bool = False) -> SafeString | str:
    """Millilitres as L or gal. exact: every millilitre shows."""
    return quantity_html("volume", volume_ml, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def length_mm(context: template.Context, length: int | None, exact: bool = False) -> SafeString | str:
    """Millimetres as cm or in: heights, depths, distances on the trunk."""
    return quantity_html("length", length, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def diameter_um(context: template.Context, diameter: int | None, exact: bool = False) -> SafeString | str:
    """Micrometres across the trunk as cm or in."""
    return quantity_html("diameter", diameter, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def girth(context: template.Context, diameter: int | None, exact: bool = False) -> SafeString | str:
    """The girth that goes with a judged diameter in micrometres, as cm or in."""
    return quantity_html("girth", diameter, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def bit_um(context: template.Context, bit: int | None) -> SafeString | str:
    """A drill bit as mm, or as the inch fraction printed on it."""
    return quantity_html("bit", bit, _units(context))


@register.simple_tag(takes_context=True)
def temperature(context: template.Context, temperature_c: Any) -> SafeString | str:
    """Degrees Celsius as °C or °F."""
    return quantity_html("temperature", temperature_c, _units(context))


@register.simple_tag(takes_context=True)
def brix(context: template.Context, sugar_brix: Any, exact: bool = False) -> SafeString | str:
    """Sugar in °Brix, which is the same everywhere."""
    return quantity_html("brix", sugar_brix, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def mass_g(context: template.Context, mass: int | None, exact: bool = False) -> SafeString | str:
    """Grams as kg or lb."""
    return quantity_html("mass", mass, _units(context), exact=exact)


@register.simple_tag(takes_context=True)
def per_cent(context: template.Context, value: Any) -> SafeString | str:
    """A share of a hundred, with its sign."""
    return quantity_html("per_cent", value, _units(context))


# Marks and tags -----------------------------------------------------------------


@register.simple_tag
def mark(state: str) -> SafeString:
    """The shape alone, where the word stands beside it anyway."""
    if state in NO_MARK or state not in STATE_WORDS:
        return mark_safe("")
    return format_html(
        '<svg class="mark m-{0}" viewBox="0 0 14 14" aria-hidden="true"><use href="{1}#k-{0}"/></svg>',
        state,
        static("img/marks.svg"),
    )


@register.simple_tag
def state_mark(state: str) -> SafeString:
    """Shape and word of a tree's state, or of the flag "attention"."""
    return format_html('<span class="state">{}{}</span>', mark(state), state_word(state))


@register.filter
def state_word(state: str) -> str:
    """The word of a state."""
    return str(STATE_WORDS.get(state, state))


@register.simple_tag
def tree_tag(tree: Any, url: str = "", big: bool = False) -> SafeString:
    """The nailed tag with a tree's code. `tree` may be the code itself; with `url` it is a link."""
    code = getattr(tree, "code", tree)
    classes = "tag big" if big else "tag"
    if url:
        return format_html('<a class="{}" href="{}">{}</a>', classes, url, code)
    return format_html('<span class="{}">{}</span>', classes, code)


# Forms --------------------------------------------------------------------------


def _field_kind(bound: BoundField) -> str:
    widget = bound.field.widget
    if bound.is_hidden:
        return "hidden"
    if isinstance(widget, forms.RadioSelect | forms.CheckboxSelectMultiple):
        return "choices"
    if isinstance(widget, forms.CheckboxInput):
        return "tick"
    return "line"


@register.inclusion_tag("parts/field.html")
def field(bound: BoundField) -> dict[str, Any]:
    """One question of a form: label, hint, what is wrong, the tile or the line."""
    return {
        "bound": bound,
        "kind": _field_kind(bound),
        "unit": getattr(bound.field, "unit_sign", ""),
        "described_by": bound.aria_describedby,
    }


@register.inclusion_tag("parts/form.html")
def form_fields(form: forms.BaseForm) -> dict[str, Any]:
    """A whole form: what needs a look, the questions to confirm, then every field."""
    wrong = [bound for bound in form if bound.errors]
    return {
        "form": form,
        # Not as form.units in the template: there a field called "units" would come first.
        "units_shown": getattr(form, "units", ""),
        "wrong_fields": wrong,
        "wrong_count": len(wrong) + len(form.non_field_errors()),
    }


@register.inclusion_tag("parts/form_top.html")
def form_top(form: forms.BaseForm) -> dict[str, Any]:
    """All but the fields in sight, for a page that lays those out itself: {% form_top form %}{% field form.x %}."""
    return form_fields(form)


@register.filter
def please_look(sentence: object) -> str:
    """A sentence of refusal with "Please look:" in front, once."""
    text = str(sentence)
    return text if text.startswith(str(ASKS_AT_MOST_ONCE)) else f"{ASKS_AT_MOST_ONCE} {text}"


@register.filter
def without_please(sentence: object) -> str:
    """The sentence alone, its first letter large."""
    text = str(sentence).removeprefix(str(ASKS_AT_MOST_ONCE)).strip()
    return text[:1].upper() + text[1:]


# Lists, gate, ways --------------------------------------------------------------


@register.inclusion_tag("parts/paging.html", takes_context=True)
def paging(context: template.Context, page: Page[Any], label: str = "", key: str = PAGE_KEY) -> dict[str, Any]:
    """Ways to the other pages of a list; the rest of the address stays as it is."""
    asked = context["request"].GET if "request" in context else None

    def url(number: int) -> str:
        if asked is None:
            return f"?{key}={number}"
        query = asked.copy()
        query[key] = str(number)
        return f"?{query.urlencode()}"

    last = page.paginator.num_pages
    return {
        "page": page,
        "label": label or _("Pages of this list"),
        "first_url": url(1),
        "previous_url": url(max(1, page.number - 1)),
        "next_url": url(min(last, page.number + 1)),
        "last_url": url(last),
        "before_last": last - 1,
    }


MORE = {
    "geojson": gettext_lazy("For a map program (GeoJSON)"),
    "gpx": gettext_lazy("For a handheld (GPX)"),
    "vcf": gettext_lazy("Address cards for a telephone (vCard)"),
}


@register.simple_tag
def geo(tree: Any) -> str:
    """The address that opens a tree's place in the phone's own map: <a href="{% geo tree %}">."""
    return geo_address(tree.longitude, tree.latitude)


@register.inclusion_tag("parts/take_file.html", takes_context=True)
def take_file(context: template.Context, to: str = "", more: str = "", words: str = "") -> dict[str, Any]:
    """The list of this page as a file, folded away: {% take_file %} after the list. to: another address that has it.

    more: further kinds the list has, such as "geojson gpx". words: the summary, where it is not this list.
    """
    request = context.get("request")
    base, _mark, given = to.partition("?")
    query = QueryDict(given, mutable=True) if to or request is None else request.GET.copy()
    for name in (PAGE_KEY, AS, MARK):
        query.pop(name, None)

    def url(kind: str, **besides: str) -> str:
        asked = query.copy()
        asked[AS] = kind
        asked.update(besides)
        return f"{base}?{asked.urlencode()}"

    kinds = {**SHEETS, **{kind: MORE[kind] for kind in more.split()}}
    return {
        "ways": [(url(kind), label) for kind, label in kinds.items()],
        "bare": url("csv", **{MARK: "no"}),
        "words": words,
    }


@register.inclusion_tag("parts/gate.html")
def gate(reasons: Iterable[Any], title: str, open_text: str = "", level: int = 2) -> dict[str, Any]:
    """Posts and rails, one rail a reason (`fact`, `detail`, `next_text`, `next_url`); open without reasons."""
    return {"reasons": list(reasons), "title": title, "open_text": open_text, "level": level}


@register.inclusion_tag("parts/worked.html")
def worked(panel: Working | None, open: bool = False) -> dict[str, Any]:  # noqa: A002 - the attribute's own name
    """How a number was worked out, below it: {% worked panel %}. panel: of parts.worked.working(), or None."""
    return {"panel": panel, "open": open}


@register.simple_tag
def way(name: str, path: str | None = None) -> str:
    """Where a page is, also while nothing serves it yet: its own name, else `path` below the app's root."""
    return has_way(name) or get_script_prefix() + (f"{name}/" if path is None else path)


@register.simple_tag
def has_way(name: str) -> str:
    """Where a page is, or nothing."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
