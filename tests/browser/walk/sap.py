"""The depot and the pan."""

from __future__ import annotations

from tests.browser.walk.somebody import Somebody


def set_up_depot(who: Somebody, name: str) -> None:
    who.go("/").press("Set up a depot and a tank").press("Add a depot")
    who.fill(name=name)
    who.press("Add this depot")


def set_up_tank(who: Somebody, code: str, depot: str, holds: str) -> None:
    who.go("/").press("Sap", within="header").press("Set up a tank")
    who.fill(code=code, depot=depot, capacity=holds)
    who.press("Set up the tank")


def accept(who: Somebody, person: str, depot: str, *cans: dict[str, str], all_of_it: bool = True) -> None:
    """A delivery, can by can."""
    who.go("/tanks/").press("Accept a delivery")
    who.fill(person=person, depot=depot)
    for n, can in enumerate(cans):
        who.fill(**{f"form-{n}-{name}": value for name, value in can.items()})
    if all_of_it:
        who.page.check("main [name=all_of_it]")
    who.press("Accept the delivery")


def call_boiling_day(who: Somebody, site: str) -> None:
    who.go("/boil-days/").press("Call a boiling day")
    who.fill(site=site)
    who.press("Call the day")


def make_safe(who: Somebody, *crew: str) -> None:
    """Tick the safety lines and name who stays at the pan."""
    who.press("Change crew and safety")
    for name in crew:
        who.page.get_by_label(name, exact=True).check()
    who.fill(fire_permission="", extinguisher="", two_adults="", outdoors="")
    who.press("Save the change")


def boil(who: Somebody, syrup: str, density: str) -> None:
    """Everything in the tanks goes into the pan, and the syrup is drawn off."""
    who.press("Light the fire").press("Start a batch")
    who.fill(syrup=syrup, syrup_brix=density)
    who.press("Close the batch")
    who.press("The whole day").press("The fire is out")
