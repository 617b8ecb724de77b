"""What the small map in a tree's form needs to know."""

from __future__ import annotations

from django import template
from django.conf import settings
from django.urls import reverse
from django.utils.html import json_script
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from sugarbush.desk.map.rows import whole_town
from sugarbush.desk.map.words import moved_words

register = template.Library()


@register.simple_tag
def place_about() -> SafeString:
    """The town's box, where the streets come from, and the words; as data for static/js/map/place.js."""
    box = whole_town()
    return json_script(
        {
            "whole": [box.west, box.south, box.east, box.north] if box else None,
            "tiles": settings.TILE_URL,
            "credit": settings.TILE_ATTRIBUTION,
            "urls": {"streets": reverse("map-streets")},
            "words": {
                **moved_words(),
                "label": _("Map for the tree’s place. Press where it stands, or use the buttons."),
            },
        }
    )
