"""Trees: chosen on the map, told apart, asked about, checked, given out."""

from __future__ import annotations

import datetime as dt

from tests.browser.walk.somebody import Somebody

WELL = {
    "crown_dieback_pct": "5", "large_dead_limbs": "no", "topped_or_defoliated": "no", "cavity": "no", "conks": "no",
    "cracks": "no", "construction": "no", "herbicide": "no", "salt": "none", "old_holes": "none",
    "no_safe_place": "no", "treatment": "no", "said_by": "the town’s tree office",
}  # fmt: skip


def open_map(who: Somebody) -> None:
    who.page.goto("/map/")
    who.page.wait_for_selector("#map-acts:not([hidden])")
    who.page.wait_for_load_state("networkidle")
    who.look()


def _chosen(who: Somebody, many: int) -> None:
    words = f"{many} tree{'' if many == 1 else 's'} chosen"
    who.page.wait_for_function("(w) => document.getElementById('chosen-count').textContent === w", arg=words)


def choose(who: Somebody, *codes: str) -> None:
    """In the list beside the map."""
    open_map(who)
    for code in codes:
        who.page.locator(f"#list input[value='{code}']").check()
    _chosen(who, len(codes))


def draw_round_all(who: Somebody, many: int) -> None:
    """Draw a line along the edges of the map sheet."""
    open_map(who)
    who.page.click("[data-map=lasso]")
    box = who.page.locator("#map").bounding_box()
    assert box is not None
    left, top, right, low = box["x"] + 8, box["y"] + 8, box["x"] + box["width"] - 8, box["y"] + box["height"] - 80
    who.page.mouse.move(left, top)
    who.page.mouse.down()
    for x, y in ((right, top), (right, low), (left, low), (left, top + 4)):
        who.page.mouse.move(x, y, steps=6)
    who.page.mouse.up()
    _chosen(who, many)


def put_into_group(who: Somebody, group: str) -> None:
    who.page.select_option("#chosen-group", label=group)
    who.unfold("Other acts")
    who.press("Put into the group")


def ask_for_permission(who: Somebody, today: dt.date) -> None:
    """For the chosen trees, of the town; the answer is a yes on paper."""
    who.unfold("Other acts")
    who.press("Ask for permission")
    who.fill(
        treated="no",
        new_name="Quillhaven Parks and Streets Office",
        new_kind="public",
        belongs_because="the town’s map of streets",
        capacity="agency",
        signed_by="Marguerite Osei-Flint",
        said_on=str(today),
        date_from=str(today),
        date_to=str(today + dt.timedelta(days=40)),
        evidence_note="letter of the town",
    )
    who.press("Keep: they said yes")


def tell_species(who: Somebody, code: str, species: str, evidence: str) -> None:
    who.go(f"/trees/{code}/").press("Look")
    who.fill(species=species, evidence=evidence)
    who.press("Keep this look")


def look_again(who: Somebody, code: str, species: str, evidence: str) -> None:
    """The second look, from the next step that the tree's gate names."""
    who.go(f"/trees/{code}/").press("Look again, with leaf, fruit or twig")
    who.fill(species=species, evidence=evidence)
    who.press("Keep this look")


def check(who: Somebody, code: str, **seen: str) -> None:
    who.go(f"/trees/{code}/").press("Check", within="main > .across .acts")
    who.fill(**{**WELL, **seen})
    who.press("Work out the verdict")


def give(who: Somebody, group: str) -> None:
    """Give the chosen trees to a group."""
    who.page.select_option("#chosen-group", label=group)
    who.press(who.page.inner_text("#give"))
