"""The volunteer's phone: taps, the round, sap."""

from __future__ import annotations

from tests.browser.walk.somebody import Somebody


def record_tap(who: Somebody, code: str, *, side: str = "180", height: str = "34") -> None:
    who.go(f"/trees/{code}/").press("Record a tap")
    who.fill(aspect=side, height=height, depth="2", shavings="white", holds="5")
    who.press("Save this tap")


def log_sap(who: Somebody, mark: str, **more: str) -> None:
    """At the tree that is open: the amount by one of its marks, and what else is written down."""
    who.press("Log sap")
    who.page.locator("[data-ml]", has_text=mark).tap()
    if more:
        who.unfold("Tip some out")
        who.fill(**more)
    assert who.page.inner_text("#save").startswith(f"Save {mark.split()[0]}".replace("½", ".5"))
    who.follow(who.page.locator("#save"))
