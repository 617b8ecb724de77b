"""Words and ways that the gate, its pages and its command share."""

from __future__ import annotations

import datetime as dt

from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext


def url(name: str, *args: object) -> str:
    """The address of a next step; empty where that page is not part of this run."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def day(value: dt.date) -> str:
    return date_format(value, "j F Y")


def moment(at: dt.datetime, on: dt.date) -> str:
    """When it was, as people say it on the day `on`: "at 10:42", or with its day."""
    local = timezone.localtime(at)
    if local.date() == on:
        return _("at %(time)s") % {"time": date_format(local, "H:i")}
    return _("on %(day)s at %(time)s") % {"day": date_format(local, "j F"), "time": date_format(local, "H:i")}


def closed_title(code: str, act: str, count: int) -> str:
    """The heading of a gate that is shut, with the number of reasons."""
    if act == "assign":
        return ngettext(
            "%(code)s can’t be given out yet: %(n)d thing.", "%(code)s can’t be given out yet: %(n)d things.", count
        ) % {"code": code, "n": count}
    return ngettext(
        "%(code)s can’t be tapped yet: %(n)d thing.", "%(code)s can’t be tapped yet: %(n)d things.", count
    ) % {"code": code, "n": count}


def open_title(act: str, left: int) -> str:
    """The heading of an open gate."""
    if act == "assign":
        return _("May be given out for the season")
    return ngettext("May be tapped today: %(n)d tap", "May be tapped today: %(n)d taps", left) % {"n": left}
