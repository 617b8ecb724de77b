"""The tag that draws a QR code: {% qr address _("The page of this pail") %}."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString

from sugarbush.parts.qr import drawing

register = template.Library()


@register.simple_tag
def qr(text: str, label: str) -> SafeString:
    """The code of `text`; the label is what a screen reader says."""
    return drawing(text, label)
