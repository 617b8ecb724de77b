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


def record_container(who: Somebody, code: str, holds: str) -> None:
    """A food-safe pail on the list; only from those does sap go into a tank."""
    who.go("/containers/new/").fill(count="1", first=code, capacity_ml=holds, food_safe="yes")
    who.press("Add to the list")


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
    who.fill(site=site, pan_area_cm2="6")
    who.press("Call the day")


def make_safe(who: Somebody, *crew: str) -> None:
    """Tick the safety lines and put people on a shift that begins now."""
    who.press("Change day and safety")
    lines = ("fire_permission", "extinguisher", "two_adults", "outdoors", "dry_wood", "children_line", "first_aid")
    who.fill(**dict.fromkeys(lines, ""), fire_permit="the fire hall, by telephone", clear_mm="40")
    who.press("Save the change")
    who.press("Add a shift")
    who.page.select_option("main [name=more]", label=[name for name in crew if name != who.name])
    who.page.get_by_label(who.name, exact=True).check()
    who.press("Keep this shift")


def boil(who: Somebody, syrup: str, density: str) -> None:
    """Everything in the tanks goes into the pan, and the syrup is drawn off."""
    who.press("Light the fire").press("To the pan").press("Start a batch")
    who.press("Draw off")
    who.fill(syrup=syrup, syrup_brix=density)
    who.press("It is in the lot")
    who.press("Close the batch").press("Close the batch")
    who.press("The whole day").press("The fire is out")


def pack(who: Somebody, jar_ml: int, jars: str, density: str, filled_at: str) -> None:
    """The only syrup there is goes into jars of one size."""
    who.go("/lots/").press("Pack a lot")
    who.fill(**{f"filled_{jar_ml}": jars}, reading=density, fill=filled_at, colour="Amber")
    who.press("Pack this lot")


def release(who: Somebody, code: str) -> None:
    who.go("/lots/").press(code).press("Release this lot")


def hand_out(who: Somebody, code: str, to: str) -> None:
    who.go("/lots/").press(code).press("Hand out jars")
    who.fill(count="1", to_text=to)
    who.press("Hand them out")
