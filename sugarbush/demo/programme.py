"""Which of the town's trees are in the programme, and what has been asked, answered, checked and found about each.

Plain data: a later step writes it into the books through the same acts a person uses. ``state`` is what the tree
shows on the demo's day (``DEMO_DAY_INDEX`` days after the first day of the weather), once all of it is written in.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from sugarbush.demo.ground import Point, inside, to_metres
from sugarbush.demo.inventory import SEED, Row, inventory
from sugarbush.demo.people import GROUPS, PRIVATE_OWNERS, owners
from sugarbush.demo.streets import plan
from sugarbush.demo.weather import YEAR, first_day_of

CONSIDERED, ASKED, ALLOWED, READY, TAPPED = "considered", "asked", "allowed", "ready", "tapped"
TO_PULL, RESTING, NOT_FOR_TAPPING, FELLED = "to_pull", "resting", "not_for_tapping", "felled"
STATES = (CONSIDERED, ASKED, ALLOWED, READY, TAPPED, TO_PULL, RESTING, NOT_FOR_TAPPING, FELLED)

DEMO_DAY_INDEX = 39
"""The demo is looked at on this day of the weather, 27 March in 2026: still tapped, the end in sight."""
CHECK_GOOD_DAYS = 60
_DAY_OF_STOP = {"North Bank": 31, "Mill Race": 34, "Lantern Green": 36}
HEARTS: dict[str, Point] = {"North Bank": (800, 330), "Mill Race": (-180, -960), "Lantern Green": (-230, 120)}
_REACH_M = 430.0
_CHECKERS = {"North Bank": "rafe", "Mill Race": "aldous", "Lantern Green": "perpetua"}

# One group's trees: how many show each state, and what brought them there.
_PARTS: dict[str, tuple[tuple[str, str], ...]] = {
    "North Bank": (
        *[(TAPPED, "")] * 9, (TO_PULL, "revoked"), (READY, ""), (READY, ""), (ALLOWED, "check missing"),
        (ALLOWED, "check old"), (ASKED, "asked"), (ASKED, "no_answer"), (CONSIDERED, "too thin"),
        (CONSIDERED, "not measured"), (RESTING, "two holes still open"), (NOT_FOR_TAPPING, "treated"),
    ),
    "Mill Race": (
        *[(TAPPED, "")] * 8, (TO_PULL, "treated"), (READY, ""), (READY, ""), (ALLOWED, "check missing"),
        (ALLOWED, "starts later"), (ASKED, "asked"), (ASKED, "asked"), (CONSIDERED, "too thin"),
        (CONSIDERED, "species not sure"), (RESTING, "dry summer"), (NOT_FOR_TAPPING, "failed check"),
        (FELLED, "came down in a storm"),
    ),
    "Lantern Green": (
        *[(TAPPED, "")] * 8, (TO_PULL, "ended"), (READY, ""), (READY, ""), (ALLOWED, "check missing"),
        (ALLOWED, "check old"), (ASKED, "asked"), (ASKED, "no_answer"), (CONSIDERED, "too thin"),
        (CONSIDERED, "not measured"), (RESTING, "tapped four years running"), (NOT_FOR_TAPPING, "London plane"),
        (NOT_FOR_TAPPING, "refused"), (FELLED, "taken out for the new gas main"),
    ),
}  # fmt: skip


@dataclass(frozen=True)
class DemoCheck:
    """One health check. verdict: pass, watch (one tap at most) or fail."""

    on: date
    checker: str
    verdict: str
    crown_dieback_pct: int
    cavity: bool = False
    note: str = ""


@dataclass(frozen=True)
class DemoTreatment:
    """What was said about insecticide inside the tree: no, yes or unknown."""

    answer: str
    on: date
    said_by: str


@dataclass(frozen=True)
class DemoTree:
    """One tree of the programme."""

    row: Row
    group: str
    state: str
    why: str
    """What brought it to its state, in a few fixed words; empty where the state says all."""
    land: str
    """public or private."""
    owner: str
    species_sure: str
    life: str
    life_reason: str
    taps: int
    check: DemoCheck | None
    treatment: DemoTreatment
    later_treatment: DemoTreatment | None = None

    @property
    def tree_no(self) -> str:
        """The town's own number."""
        return self.row["TREE_NO"]

    @property
    def trunk_in(self) -> float | None:
        """Diameter in inches as the list gives it."""
        return float(self.row["TRUNK_IN"]) if self.row["TRUNK_IN"] else None


@dataclass(frozen=True)
class DemoPermission:
    """One slip and the trees on it, named by the town's number. state: asked, no_answer, refused, granted, revoked."""

    number: str
    owner: str
    group: str
    capacity: str
    signed_by: str
    tree_nos: tuple[str, ...]
    state: str
    asked_on: date
    date_from: date | None
    date_to: date | None
    most_taps: int
    least_diameter_um: int
    most_height_mm: int
    largest_bit_um: int
    share_wish: str
    conditions: str = ""
    ended_on: date | None = None
    end_reason: str = ""


def programme_trees(
    rows: Iterable[Row] | None = None, *, seed: int = SEED, year: int = YEAR, first_day: date | None = None
) -> list[DemoTree]:
    """The 61 trees, group by group, tapped ones first, chosen from the sound rows of the list (or those given)."""
    rng = random.Random(f"programme {seed}")  # noqa: S311
    start = first_day or first_day_of(year)
    town = inventory(seed)
    sound = list(rows) if rows is not None else town.sound_rows()
    no_size = set(town.messy["blank_diameter"])
    blank = [row for row in town.rows if row["TREE_NO"] in no_size and row["BOTANICAL"].startswith("Acer ")]
    trees: list[DemoTree] = []
    for group in GROUPS:
        area = _area_trees(sound, group)
        near = _near_trees(area, group)
        unmeasured = _area_trees(blank, group)
        taken: set[str] = set()
        for state, why in _PARTS[group]:
            row = _choose(near, area, unmeasured, state, why, taken, rng)
            taken.add(row["TREE_NO"])
            trees.append(_tree(len(trees) + 1, row, group, state, why, start, rng))
    return trees


def _area_trees(rows: list[Row], group: str) -> list[Row]:
    """Trees of the group's area, those nearest its middle first."""
    area, heart = plan().group_areas[group], HEARTS[group]
    points = [(row, _point(row)) for row in rows if row["LON"] and row["LAT"]]
    return [row for row, point in sorted(points, key=lambda pair: math.dist(pair[1], heart)) if inside(point, area)]


def _point(row: Row) -> Point:
    return to_metres(float(row["LON"]), float(row["LAT"]))


def _near_trees(area: list[Row], group: str) -> list[Row]:
    """Of the area's trees those around its middle, and of those the ones in its most maple-lined streets."""
    near = [row for row in area if math.dist(_point(row), HEARTS[group]) < _REACH_M]
    maples = Counter(_street(row) for row in near if _is_sound_maple(row) and row["SITE"] != "Yard")
    best = {street for street, _ in sorted(maples.items(), key=lambda item: (-item[1], item[0]))[:7]}
    return [row for row in near if _street(row) in best or row["SITE"] == "Yard"]


def _street(row: Row) -> str:
    return row["ADDRESS"].lstrip("0123456789 ")


def _is_sound_maple(row: Row) -> bool:
    wide = bool(row["TRUNK_IN"]) and row["TRUNK_IN"].replace(".", "").isdigit() and float(row["TRUNK_IN"]) >= 12
    return row["BOTANICAL"].startswith("Acer ") and wide and row["CONDITION"] in ("Good", "Fair")


def _choose(
    near: list[Row], area: list[Row], unmeasured: list[Row], state: str, why: str, taken: set[str], rng: random.Random
) -> Row:
    """A row that fits what the tree is to show: one near the middle, or failing that the next nearest of the area."""
    if why == "not measured":
        return unmeasured[0]
    private = (state == TO_PULL and why in ("revoked", "ended")) or why in ("refused", "no_answer")
    if state == TAPPED:
        # Two of each group's tapped trees stand in somebody's yard.
        private = len(taken) in (2, 5)

    def fits(row: Row) -> bool:
        if row["TREE_NO"] in taken:
            return False
        if why == "London plane":
            return row["BOTANICAL"] == "Platanus x acerifolia"
        if why == "too thin":
            return row["BOTANICAL"].startswith("Acer ") and 7 <= float(row["TRUNK_IN"]) < 12
        return _is_sound_maple(row) and (row["SITE"] == "Yard") == private

    pool = [row for row in near if fits(row)]
    if not pool:
        return next(row for row in area if fits(row))
    if state == TAPPED and not private:
        # A walker's mixture: no kind of maple more often than the round already needs.
        so_far = Counter(row["BOTANICAL"].split(" '")[0] for row in near if row["TREE_NO"] in taken)
        fewest = min(so_far[row["BOTANICAL"].split(" '")[0]] for row in pool)
        pool = [row for row in pool if so_far[row["BOTANICAL"].split(" '")[0]] <= fewest + 1]
    return rng.choice(pool)


def _tree(number: int, row: Row, group: str, state: str, why: str, start: date, rng: random.Random) -> DemoTree:
    private = row["SITE"] == "Yard"
    checked_on = start - timedelta(days=rng.randint(4, 16))
    verdict = "watch" if state == TAPPED and number % 7 == 3 else "pass"
    # From 10 % dead crown on, a check says watch (core.health).
    check: DemoCheck | None = DemoCheck(
        checked_on, _CHECKERS[group], verdict, 15 if verdict == "watch" else rng.choice((0, 5, 5, 0)),
        note="dead twigs on the south side" if verdict == "watch" else "",
    )  # fmt: skip
    if why == "two holes still open":
        check = DemoCheck(checked_on, _CHECKERS[group], "watch", 5, note="two holes of last year still open")
    if why == "check old":
        check = DemoCheck(start - timedelta(days=110), _CHECKERS[group], "pass", 5)
    elif why == "failed check":
        check = DemoCheck(checked_on, _CHECKERS[group], "fail", 35, cavity=True, note="hollow at the fork")
    elif state in (CONSIDERED, ASKED, FELLED) or (why in ("check missing", "treated") and state != TO_PULL):
        check = None
    inches = float(row["TRUNK_IN"] or 0)
    allowed = 2 if inches >= 18 and verdict == "pass" else 1
    has_taps = state in (TAPPED, TO_PULL)
    asked_on = start - timedelta(days=38)
    answered = state in (ALLOWED, READY, TAPPED, TO_PULL, RESTING) or why == "failed check"
    treated = state == NOT_FOR_TAPPING and why == "treated"
    life, life_reason = {
        RESTING: ("resting", why), NOT_FOR_TAPPING: ("excluded", _EXCLUDED.get(why, why)), FELLED: ("felled", why),
    }.get(state, ("candidate", ""))  # fmt: skip
    owner = PRIVATE_OWNERS[number % len(PRIVATE_OWNERS)] if private else "town"
    if row["ADDRESS"] == "Quill School Yard":
        owner = "school"
    return DemoTree(
        row=dict(row),
        group=group,
        state=state,
        why=why,
        # The school is no public body: its own yes counts for its yard, not the town's.
        land="private" if private or owner == "school" else "public",
        owner=owner,
        species_sure={"species not sure": "unconfirmed", "London plane": "disputed"}.get(why, "confirmed"),
        life=life,
        life_reason=life_reason,
        taps=allowed if has_taps else 0,
        check=check,
        treatment=DemoTreatment("yes" if treated else "no" if answered else "unknown", asked_on, owner),
        later_treatment=_found_treated(group, start) if state == TO_PULL and why == "treated" else None,
    )


_EXCLUDED = {
    "treated": "insecticide inside the tree in 2024",
    "failed check": "hollow at the fork",
    "London plane": "not a maple: flaking bark, leaves one by one along the twig",
    "refused": "the owner said no for good",
}


def _found_treated(group: str, start: date) -> DemoTreatment:
    return DemoTreatment("yes", start + timedelta(days=_DAY_OF_STOP[group]), "town")


def stop_day(tree: DemoTree, start: date) -> date | None:
    """The day on which work on a tree had to stop, for those to pull."""
    return start + timedelta(days=_DAY_OF_STOP[tree.group]) if tree.state == TO_PULL else None


def permissions(
    trees: list[DemoTree] | None = None, *, seed: int = SEED, year: int = YEAR, first_day: date | None = None
) -> list[DemoPermission]:
    """The slips behind the trees: one town permit a group, one slip a private owner's tree, and what was only asked."""
    start = first_day or first_day_of(year)
    trees = programme_trees(seed=seed, first_day=start) if trees is None else trees
    slips: list[DemoPermission] = []
    for group in GROUPS:
        mine = [tree for tree in trees if tree.group == group]
        granted = [t for t in mine if t.owner == "town" and t.state in (ALLOWED, READY, TAPPED, TO_PULL, RESTING)]
        later = [t for t in granted if t.why == "starts later"]
        slips.append(_slip(len(slips), [t for t in granted if t not in later], "granted", start))
        slips += [_slip(len(slips), later, "granted", start, begins=start + timedelta(days=330))] if later else []
        asked = [t for t in mine if t.owner == "town" and t.state == ASKED]
        slips += [_slip(len(slips), asked, "asked", start)] if asked else []
        for tree in mine:
            if tree.owner != "town" and tree.state not in (CONSIDERED, FELLED):
                state = {"no_answer": "no_answer", "asked": "asked", "refused": "refused", "revoked": "revoked"}
                slips.append(_slip(len(slips), [tree], state.get(tree.why, "granted"), start))
    return slips


def _slip(so_far: int, trees: list[DemoTree], state: str, start: date, *, begins: date | None = None) -> DemoPermission:
    first = trees[0]
    town = first.owner == "town"
    signed = state in ("granted", "revoked")
    stops = stop_day(first, start) if not town else None
    ends = start + timedelta(days=58)
    if first.why == "ended" and stops:
        ends = stops - timedelta(days=1)
    if begins:
        # A yes for next season: a slip that is live on any day of this one would make the tree ready now.
        ends = begins + timedelta(days=64)
    return DemoPermission(
        number=f"{'QPS' if town else 'QS'}-{start.year}-{so_far + 11:03d}",
        owner=first.owner,
        group=first.group,
        capacity="agency" if town else "owner",
        signed_by=_signer(first.owner) if signed else "",
        tree_nos=tuple(tree.tree_no for tree in trees),
        state=state,
        asked_on=start - timedelta(days=38),
        date_from=(begins or start - timedelta(days=6)) if signed else None,
        date_to=ends if signed else None,
        most_taps=2,
        least_diameter_um=304_800,
        most_height_mm=1200,
        largest_bit_um=8000,
        share_wish="none" if town else ("jar", "donate", "jar")[so_far % 3],
        conditions="Keep pails off the walk. Leave each hole open." if town else "",
        ended_on=stops if state == "revoked" else None,
        end_reason="the owner asked us to stop" if state == "revoked" else "",
    )


def _signer(owner_key: str) -> str:
    return next(owner.contact_name for owner in owners() if owner.key == owner_key)
