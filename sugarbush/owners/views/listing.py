"""The list of permissions, and the same list as a table to take away. Neither tells how to reach anybody."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlencode

from django.db.models import Count, Max, Prefetch, QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from sugarbush.core.units import from_mm, from_um
from sugarbush.owners.forms import PermissionListForm
from sugarbush.owners.models import Permission, PermissionTree
from sugarbush.owners.queries import permissions_for, permissions_found
from sugarbush.parts.context import units_of
from sugarbush.parts.csvfile import Cell
from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import table_taken
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def permission_list(request: SignedInRequest) -> HttpResponse:
    """The slips this person may see, the newest first, or by their last day when asked which end soon."""
    access.require(request.user, "permission.see", anywhere=True)
    form = PermissionListForm(request.GET, person=request.user)
    slips = permissions_found(permissions_for(request.user), **form.filters)
    order = ("date_to", "pk") if form.chosen("ends") else ("-pk",)
    groups = {"group_count": Count("lines__tree__group", distinct=True), "group_name": Max("lines__tree__group__name")}
    rows = slips.select_related("owner").annotate(tree_count=Count("lines"), **groups).order_by(*order)
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "form": form,
        "page": page_of(rows, request),
        "today": timezone.localdate(),
        "may_write": access.holds(request.user, "permission.draft"),
        "csv_query": urlencode(list(query.lists()), doseq=True),
    }
    return render(request, "owners/permissions.html", context)


@signed_in
@require_safe
def permission_csv(request: SignedInRequest) -> StreamingHttpResponse:
    access.require(request.user, "permission.see", anywhere=True)
    form = PermissionListForm(request.GET, person=request.user)
    slips = permissions_found(permissions_for(request.user), **form.filters)
    us = units_of(request) == "us"
    rows = csv_rows(slips, request.user, us)
    return table_taken(request, f"permissions-{timezone.localdate()}", csv_header(us), rows)


def csv_header(us: bool) -> list[str]:
    size, bit = ("in", "in") if us else ("cm", "mm")
    return [
        _("number"),
        _("number of the public permit"),
        _("state"),
        _("owner"),
        _("kind of owner"),
        _("who signs"),
        _("name of who said it"),
        _("from"),
        _("to"),
        _("most taps a tree"),
        _("trunk at least (%(unit)s)") % {"unit": size},
        _("hole no higher than (%(unit)s)") % {"unit": size},
        _("largest bit (%(unit)s)") % {"unit": bit},
        _("deepest hole (%(unit)s)") % {"unit": size},
        _("fee"),
        _("insurance proof until"),
        _("share"),
        _("trees"),
        _("tags"),
    ]


def csv_rows(slips: QuerySet[Permission], person: Person, us: bool) -> Iterator[list[Cell]]:
    """One row a slip, read in pieces. Tags of trees out of reach are left out; the count has them all."""
    size, bit = ("in", "in") if us else ("cm", "mm")
    near = PermissionTree.objects.filter(access.scope(person, "trees.see").filter("tree__group"))
    rows = (
        slips.select_related("owner")
        .annotate(tree_count=Count("lines"))
        .prefetch_related(Prefetch("lines", near.select_related("tree").order_by("tree__code"), to_attr="near"))
        .order_by("pk")
    )

    def um(value: int | None, unit: str) -> Cell:
        return None if value is None else round(from_um(value, unit), 3)

    def mm(value: int | None) -> Cell:
        return None if value is None else round(from_mm(value, size), 2)

    for slip in rows.iterator(chunk_size=500):
        yield [
            slip.number,
            slip.public_number,
            slip.get_state_display(),
            slip.owner.name,
            slip.owner.get_kind_display(),
            slip.get_capacity_display(),
            slip.signed_by,
            slip.date_from,
            slip.date_to,
            slip.most_taps,
            um(slip.least_diameter_um, size),
            mm(slip.most_height_mm),
            um(slip.largest_bit_um, bit),
            mm(slip.most_depth_mm),
            slip.fee_text,
            slip.insurance_to,
            slip.get_share_wish_display(),
            slip.tree_count,
            " ".join(line.tree.code for line in slip.near),
        ]
