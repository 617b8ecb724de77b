"""Groups, and the table of who may do what."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count, Prefetch, Q
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access, actions, tables, waivers
from sugarbush.volunteers.changing import MovedOn, change
from sugarbush.volunteers.forms import GroupForm
from sugarbush.volunteers.models import Credential, CredentialKind, Group, Membership, Person, Role
from sugarbush.volunteers.taking_home import cards_taken, list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, member, signed_in


@member
@require_safe
def groups(request: SignedInRequest) -> HttpResponseBase:
    """Every group with its leads and how many people it has."""
    today = access.today()
    live = Q(memberships__date_from__lte=today) & (Q(memberships__date_to=None) | Q(memberships__date_to__gte=today))
    leads = Membership.objects.live(today).filter(role=Role.LEAD).select_related("person")
    counted = Group.objects.annotate(people=Count("memberships__person", filter=live, distinct=True))
    rows = counted.order_by("name").prefetch_related(Prefetch("memberships", leads, to_attr="leads"))
    if wants_file(request):
        return list_taken(request, "groups", tables.groups(), rows)
    context = {
        "page": page_of(rows, request),
        "may_change": access.holds(request.user, "groups.change"),
        "sees_people": access.holds(request.user, "people.see"),
    }
    return render(request, "volunteers/groups.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def group_new(request: SignedInRequest) -> HttpResponse:
    access.require(request.user, "groups.change", anywhere=True)
    form = GroupForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = actions.add_group(by=request.user, **form.cleaned_data)
        messages.success(request, _("%(name)s is there. Now add its lead.") % {"name": made})
        return redirect("groups")
    status = 422 if request.method == "POST" else 200
    return render(request, "volunteers/group_new.html", {"form": form}, status=status)


@member
@require_http_methods(["GET", "HEAD", "POST"])
def group(request: SignedInRequest, group_id: int) -> HttpResponseBase:
    """One group: its name, which coordinators change, and its people with their roles."""
    found = get_object_or_404(Group, pk=group_id)
    may_change = access.holds(request.user, "groups.change")
    form = GroupForm(request.POST or None, instance=Group.objects.get(pk=found.pk))
    status = 200
    if request.method == "POST":
        access.require(request.user, "groups.change", anywhere=True)
        status = 422
        if form.is_valid():
            try:
                change(
                    row=found, by=request.user, values=form.values, seen=form.seen, act="change group",
                    group_id=found.pk,
                )  # fmt: skip
                messages.success(request, _("Saved."))
                return redirect("group", found.pk)
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    reach = access.scope(request.user, "people.see")
    sees = reach.everything or found.pk in reach.group_ids
    consents = Credential.objects.filter(kind=CredentialKind.GUARDIAN, by_self=False).live(access.today())
    held = (
        found.memberships.live(access.today())
        .select_related("person__joined_by__card__sheet")
        .prefetch_related(Prefetch("person__credentials", consents, to_attr="consents"))
        .order_by("person__display_name", "pk")
    )
    if sees and wants_file(request, "vcf"):
        if request.GET["as"] == "vcf":
            return cards_taken(request, f"group-{found.pk}", tables.member_cards(found, held))
        return list_taken(request, f"group-{found.pk}", tables.members(), held)
    page, wanted = (page_of(held, request) if sees else None), waivers.asked()
    lacking = set[int]()
    if page is not None and wanted is not None:
        there = Person.objects.filter(pk__in=[one.person_id for one in page])
        lacking = set(waivers.without_yes(there, wanted.wanted).values_list("pk", flat=True))
    context = {
        "group": found,
        "lacking": lacking,
        "may_make_cards": access.scope(request.user, "cards.make").covers(found.pk),
        "form": form if may_change else None,
        "held": page,
    }
    return render(request, "volunteers/group.html", context, status=status)


@signed_in
@require_safe
def access_table(request: SignedInRequest) -> HttpResponse:
    """Who may do what: the very table the programme asks, role by role."""
    kinds = dict(CredentialKind.choices)
    rows = [
        {
            "label": entry.label,
            "cells": [entry.reach.get(role, "") for role in Role.values],
            "credential": kinds.get(entry.credential, ""),
            "adult": entry.adult,
            "waiver": entry.waiver,
            "note": entry.note,
        }
        for entry in access.table()
    ]
    roles = [str(role.label) for role in Role]
    return render(request, "volunteers/access_table.html", {"rows": rows, "roles": roles})
