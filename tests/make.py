"""People, trees and slips for tests: a sane default for everything but what the test is about.

The standing cast: Alice coordinates, Lena leads North Bank, Bob volunteers there, Mira volunteers at Mill Race,
Dora keeps the depot, Kai leads the boil, Rhea reviews, Charlie is a stranger.
"""

from __future__ import annotations

import datetime as dt
import functools
import itertools
import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any, ParamSpec, TypeVar

from django.conf import settings
from django.utils import timezone

from sugarbush.gathering.actions import Visit, log_visit
from sugarbush.gathering.models import Collection
from sugarbush.kit.models import Container, Depot
from sugarbush.owners.models import Owner, Permission, PermissionState, PermissionTree, TreeOwner
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.models import Programme, Season, SeasonState
from sugarbush.taps.actions import NewHole
from sugarbush.taps.models import Assignment, Tap
from sugarbush.trees import shown
from sugarbush.trees.models import HealthCheck, Life, Species, SpeciesSure, Treatment, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.cards import make_cards
from sugarbush.volunteers.models import CardSheet, Credential, CredentialKind, Group, Membership, Person, Role

P = ParamSpec("P")
R = TypeVar("R")
_count = itertools.count(1)
CENTRE = (-87.35, 47.05)
INCH_UM = 25_400
HOLE = NewHole(height_mm=900, aspect_deg=180, bit_um=7_938, depth_mm=45)


def today() -> dt.date:
    return timezone.localdate()


def days(n: int) -> dt.timedelta:
    return dt.timedelta(days=n)


def told_by_nobody(make_one: Callable[P, R]) -> Callable[P, R]:
    """What a test begins with has no history yet: that begins with the test's own acts."""

    @functools.wraps(make_one)
    def made(*args: P.args, **kwargs: P.kwargs) -> R:
        kept = getattr(settings, "SIMPLE_HISTORY_ENABLED", True)
        settings.SIMPLE_HISTORY_ENABLED = False
        try:
            return make_one(*args, **kwargs)
        finally:
            settings.SIMPLE_HISTORY_ENABLED = kept

    return made


@told_by_nobody
def programme(**fields: Any) -> Programme:
    found = Programme.objects.first()
    if found is None:
        defaults = {"name": "Quillhaven sugarbush", "place": "Quillhaven", "time_zone": "UTC", "tag_prefix": "QH"}
        return Programme.objects.create(**{**defaults, **fields})
    for name, value in fields.items():
        setattr(found, name, value)
    found.save()
    return found


@told_by_nobody
def season(**fields: Any) -> Season:
    """A running season around today."""
    if not fields and (again := Season.objects.filter(pk=_made.get(("season",), 0)).first()):
        return again
    programme()
    year = fields.pop("year", today().year)
    defaults: dict[str, Any] = {
        "state": SeasonState.RUNNING,
        "tapping_from": today() - days(20),
        "tapping_to": today() + days(40),
    }
    found, made = Season.objects.get_or_create(year=year, defaults={**defaults, **fields})
    if not made:
        for name, value in fields.items():
            setattr(found, name, value)
        found.save()
    if year == today().year:
        _made[("season",)] = found.pk
    return found


@told_by_nobody
def group(name: str = "North Bank") -> Group:
    return Group.objects.get_or_create(name=name)[0]


@told_by_nobody
def person(
    name: str = "Bob",
    role: str | None = Role.VOLUNTEER,
    group: Group | str | None = "North Bank",
    credentials: tuple[str, ...] | list[str] = (),
    **fields: Any,
) -> Person:
    """Somebody with one role. group=None is the whole programme; role=None gives no role at all."""
    asked = (name, role, group if isinstance(group, str) or group is None else group.pk, tuple(credentials))
    if asked in _made and not fields and (again := Person.objects.filter(pk=_made[asked], display_name=name).first()):
        return again
    found = Person.objects.filter(display_name=name).first() or Person.objects.create(display_name=name, **fields)
    if role is not None:
        where = Group.objects.get_or_create(name=group)[0] if isinstance(group, str) else group
        Membership.objects.get_or_create(
            person=found, role=role, group=where, defaults={"date_from": today() - days(400)}
        )
    held = set(Credential.objects.filter(person=found).values_list("kind", flat=True)) if credentials else set()
    Credential.objects.bulk_create(
        Credential(person=found, kind=kind, valid_from=today() - days(400)) for kind in credentials if kind not in held
    )
    access.forget_roles(found)
    _made[asked] = found.pk
    return found


# Whom and what this test has asked for, so that asking again costs one query; conftest empties it.
_made: dict[tuple[Any, ...], int] = {}


def forget() -> None:
    _made.clear()


ALL_CREDENTIALS = tuple(CredentialKind.values)


def alice() -> Person:
    return person("Alice", Role.COORDINATOR, None, ALL_CREDENTIALS)


def lena() -> Person:
    return person("Lena", Role.LEAD, "North Bank", ALL_CREDENTIALS)


def bob() -> Person:
    return person("Bob", Role.VOLUNTEER, "North Bank", [CredentialKind.TAPPING])


def mira() -> Person:
    return person("Mira", Role.VOLUNTEER, "Mill Race", [CredentialKind.TAPPING])


def dora() -> Person:
    return person("Dora", Role.DEPOT_KEEPER, None)


def kai() -> Person:
    return person("Kai", Role.BOIL_LEAD, None, [CredentialKind.FIRE, CredentialKind.FOOD])


def rhea() -> Person:
    return person("Rhea", Role.REVIEWER, None)


def charlie() -> Person:
    return person("Charlie", None)


@told_by_nobody
def species(botanical: str = "Acer saccharum", common: str = "sugar maple", tappable: bool = True) -> Species:
    found, _made = Species.objects.get_or_create(botanical=botanical, defaults={"common": common, "tappable": tappable})
    return found


@told_by_nobody
def tree(**fields: Any) -> Tree:
    """A sugar maple in the programme's sights, 16 in across, on public land of North Bank; nothing else is known."""
    n = next(_count)
    defaults: dict[str, Any] = {
        "code": f"QH-{n:04d}",
        "longitude": CENTRE[0] + n * 0.0002,
        "latitude": CENTRE[1],
        "address": f"{n} Larkspur Street",
        "species": fields["species"] if "species" in fields else species(),
        "species_sure": SpeciesSure.CONFIRMED,
        "diameter_um": 16 * INCH_UM,
        "size_as_given": "16 in across",
        "land": "public",
        "life": Life.CANDIDATE,
        "group": fields["group"] if "group" in fields else group(),
    }
    return Tree.objects.create(**{**defaults, **fields})


@told_by_nobody
def owner(name: str = "Quillhaven Parks and Streets Office", kind: str = "public") -> Owner:
    return Owner.objects.get_or_create(name=name, defaults={"kind": kind})[0]


def owns(tree: Tree, owner: Owner) -> TreeOwner:
    return TreeOwner.objects.get_or_create(
        tree=tree, owner=owner, defaults={"evidence": "town map", "recorded_by": alice()}
    )[0]


def permission(
    *trees: Tree, owner: Owner | None = None, state: str = PermissionState.GRANTED, **fields: Any
) -> Permission:
    """A slip of the town's for these trees, live from a month ago to two months on."""
    n = next(_count)
    defaults: dict[str, Any] = {
        "number": f"P{n:05d}",
        "owner": owner or globals()["owner"](),
        "state": state,
        "capacity": "agency",
        "signed_by": "Marguerite Osei-Flint",
        "evidence_note": "letter of the town",
        "date_from": today() - days(30),
        "date_to": today() + days(60),
        "written_by": alice(),
    }
    slip = Permission.objects.create(**{**defaults, **fields})
    PermissionTree.objects.bulk_create(PermissionTree(permission=slip, tree=tree) for tree in trees)
    return slip


@told_by_nobody
def treatment(tree: Tree, answer: str = "no", **fields: Any) -> Treatment:
    defaults: dict[str, Any] = {"said_by": "the town", "date": today() - days(30), "recorded_by": alice()}
    return Treatment.objects.create(tree=tree, answer=answer, **{**defaults, **fields})


@told_by_nobody
def check(tree: Tree, verdict: str = "pass", **fields: Any) -> HealthCheck:
    defaults: dict[str, Any] = {"date": today() - days(5), "checker": lena(), "crown_dieback_pct": 0}
    return HealthCheck.objects.create(tree=tree, verdict=verdict, **{**defaults, **fields})


def ready_tree(**fields: Any) -> Tree:
    """A tree that nothing keeps from being given out."""
    made = _with_papers(**fields)
    shown.refresh([made.pk])
    made.refresh_from_db()
    return made


def _with_papers(**fields: Any) -> Tree:
    season()
    made = tree(**fields)
    permission(made)
    treatment(made)
    check(made)
    return made


def assignment(tree: Tree, group: Group | None = None, person: Person | None = None) -> Assignment:
    return Assignment.objects.create(
        tree=tree, season=season(), group=group or tree.group or globals()["group"](), person=person, given_by=alice()
    )


def given_tree(**fields: Any) -> Tree:
    """A ready tree given to its group."""
    made = ready_tree(**fields)
    assignment(made)
    return made


def tap(tree: Tree | None = None, **fields: Any) -> Tap:
    """A spout in a given tree since ten days, placed by Bob."""
    tree = tree or given_tree()
    defaults: dict[str, Any] = {
        "season": season(),
        "position": 1,
        "placed_at": timezone.now() - days(10),
        "by": bob(),
        "height_mm": HOLE.height_mm,
        "aspect_deg": HOLE.aspect_deg,
        "bit_um": HOLE.bit_um,
        "depth_mm": HOLE.depth_mm,
        "shavings": "white",
    }
    made = Tap.objects.create(tree=tree, **{**defaults, **fields})
    shown.refresh([tree.pk])
    tree.refresh_from_db()
    return made


def tapped_tree(**fields: Any) -> Tree:
    made = _with_papers(**fields)
    assignment(made)
    tap(made)  # works out what the tree shows, once for all of this
    return made


def collection(
    tree: Tree | None = None,
    *,
    by: Person | None = None,
    litres: Decimal | str | float = "6.5",
    brix: str | None = None,
    **fields: Any,
) -> Collection:
    """A visit logged through the real action."""
    visit_names = set(Visit.__dataclass_fields__)
    visit = Visit(
        outcome=fields.pop("outcome", "sap"),
        volume_ml=int(Decimal(str(litres)) * 1000),
        sugar_brix=Decimal(brix) if brix else None,
        look=fields.pop("look", "clear"),
        **{name: fields.pop(name) for name in list(fields) if name in visit_names},
    )
    return log_visit(tree=tree or tapped_tree(), by=by or bob(), visit=visit, **fields)


def depot(name: str = "Mill Race yard") -> Depot:
    return Depot.objects.get_or_create(name=name)[0]


def tank(code: str = "A", capacity_ml: int | None = 200_000) -> Vessel:
    return Vessel.objects.get_or_create(
        kind=VesselKind.TANK, season=season(), code=code, defaults={"depot": depot(), "capacity_ml": capacity_ml}
    )[0]


def container(code: str = "P-01", capacity_ml: int = 20_000, food_safe: str = "yes") -> Container:
    return Container.objects.get_or_create(code=code, defaults={"capacity_ml": capacity_ml, "food_safe": food_safe})[0]


def cards_of(count: int = 1, most: int = 1, **days: dt.date) -> CardSheet:
    """A sheet of cards to join North Bank by, made by Lena: they open for 30 days, and make members for 90."""
    given = {"good_from": today(), "good_to": today() + globals()["days"](30)} | days
    given.setdefault("member_to", given["good_to"] + globals()["days"](60))
    return make_cards(by=lena(), group=group(), count=count, most=most, sheet_id=uuid.uuid4(), **given)
