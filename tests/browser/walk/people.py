"""The programme, its groups and its people."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from tests.browser.walk.somebody import DESK, Somebody

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ZONES = {
    "Chicago, America": "America/Chicago",
    "London, Europe": "Europe/London",
    "Auckland, Pacific": "Pacific/Auckland",
}


def daylight() -> tuple[str, dt.date]:
    """A time zone where it is day now, as its list calls it, and the date there: no walk crosses midnight."""
    now = {choice: dt.datetime.now(ZoneInfo(zone)) for choice, zone in ZONES.items()}
    choice = min(now, key=lambda one: abs(now[one].hour - 13))
    return choice, now[choice].date()


def open_the_programme(who: Somebody, zone: str, today: dt.date) -> None:
    """From the page that the first link leads to."""
    who.fill(name="Quillhaven sugarbush", place="Quillhaven", default_units="us", tag_prefix="QH", time_zone=zone)
    who.fill(
        **{
            "season-year": str(today.year),
            "season-tapping_from": str(today - dt.timedelta(days=7)),
            "season-tapping_to": str(today + dt.timedelta(days=30)),
        }
    )
    who.press("Open the programme")


def add_group(who: Somebody, name: str) -> None:
    who.go("/groups/").press("Add a group")
    who.fill(name=name)
    who.press("Add this group")


def add_person(who: Somebody, name: str, *, role: str, group: str, shown: tuple[str, ...] = ()) -> None:
    """Somebody new with a role, and with what they have shown; their page is open then."""
    who.go("/people/new/")
    who.fill(display_name=name, role=role, group=group, age_band="adult")
    who.press("Add this person")
    for kind in shown:
        who.unfold("Record one")
        who.fill(**{"credential-kind": kind})
        who.press("Record this")


def comes_in(who: Somebody, browser: Browser, name: str, size: tuple[int, int] = DESK) -> Somebody:
    """A link is made on the person's page, which is open, and opened on a device of their own."""
    who.press("Make a sign-in link")
    link = who.page.input_value("#link")
    guest = Somebody(browser, who.address, name, size)
    guest.go(link).press(f"Come in as {name}")
    return guest
