"""Keeping the list of pails, drums and depots."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.kit.models import Container, Depot
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import change
from sugarbush.volunteers.models import Group, Person

MOST_NAMED = 10


@transaction.atomic
def add_containers(
    *,
    by: Person,
    codes: list[str],
    capacity_ml: int,
    material: str = "",
    food_safe: str = "untested",
    held_by: Person | None = None,
) -> list[Container]:
    """Put one or many alike on the list, all or none.  Raises Refused, naming codes that are taken."""
    access.require(by, "kit.change", anywhere=True)
    taken = list(Container.objects.filter(code__in=codes).values_list("code", flat=True))
    if taken:
        named = ", ".join(taken[:MOST_NAMED]) + (" …" if len(taken) > MOST_NAMED else "")
        raise Refused(
            [
                Reason(
                    code="code-taken",
                    fact=_("On the list already: %(codes)s.") % {"codes": named},
                    detail=_("None was added."),
                    next_text=_("Start from another code"),
                )
            ]
        )
    made = [
        Container(code=code, capacity_ml=capacity_ml, material=material, food_safe=food_safe, held_by=held_by)
        for code in codes
    ]
    for container in made:
        container.save()  # one by one: each has its own history
    new = {"codes": codes, "capacity_ml": capacity_ml, "food_safe": food_safe}
    record(by=by, act="add containers", subject=made[0], new=new)
    return made


def change_container(*, by: Person, container: Container, values: Mapping[str, Any], seen: str) -> Container:
    """Change what is known of a container. Raises MovedOn when somebody else just did."""
    access.require(by, "kit.change", anywhere=True)
    return change(row=container, by=by, values=values, seen=seen, act="change container")


@transaction.atomic
def add_depot(*, by: Person, groups: Iterable[Group] = (), **details: Any) -> Depot:
    """A new place where sap is brought."""
    access.require(by, "depot.change", anywhere=True)
    depot = Depot.objects.create(**details)
    depot.groups.set(groups)
    record(by=by, act="add depot", subject=depot)
    return depot


@transaction.atomic
def change_depot(*, by: Person, depot: Depot, values: Mapping[str, Any], seen: str, groups: Iterable[Group]) -> Depot:
    """Change a depot and which groups bring their sap there. Raises MovedOn when somebody else just did."""
    access.require(by, "depot.change", anywhere=True)
    done = change(row=depot, by=by, values=values, seen=seen, act="change depot")
    old, new = sorted(done.groups.values_list("pk", flat=True)), sorted(group.pk for group in groups)
    if old != new:
        done.groups.set(groups)
        record(by=by, act="change depot groups", subject=done, old={"groups": old}, new={"groups": new})
    return done
