"""The list of owners, one owner's page, and how to reach them, which is an act of its own."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Count, QuerySet
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.owners import actions_owners, links, tables
from sugarbush.owners.forms import ContactForm, LinkForm, OwnerForm, OwnerListForm, OwnerNewForm
from sugarbush.owners.models import Owner, OwnerContact, TreeOwner
from sugarbush.owners.queries import find_owner, owners_for, owners_found, permissions_for
from sugarbush.parts.context import units_of
from sugarbush.parts.paging import page_of
from sugarbush.parts.sheets.answer import asked_kind
from sugarbush.trees.queries import trees_for
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import cards_taken, list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

SLIPS_IN_SIGHT = 50
ASKED_AT_ONCE = 100


@signed_in
@require_safe
def owner_list(request: SignedInRequest) -> HttpResponseBase:
    """The owners this person may see."""
    access.require(request.user, "owners.see", anywhere=True)
    form = OwnerListForm(request.GET, person=request.user)
    group = form.chosen("group")
    owners = owners_found(
        owners_for(request.user),
        q=form.cleaned_data.get("q", ""),
        kind=form.cleaned_data.get("kind", ""),
        group=group.pk if group else None,
    )
    rows = owners.select_related("group").annotate(tree_count=Count("owns", distinct=True)).order_by("name", "pk")
    if wants_file(request, "vcf"):
        if request.GET["as"] == "vcf":
            access.require(request.user, "contact.see", anywhere=True)
            near = rows.filter(pk__in=owners_for(request.user, "contact.see").values("pk"))
            cards = actions_owners.cards_of(list(near), by=request.user)
            return never_kept(cards_taken(request, "owners", cards))
        return list_taken(request, "owners", tables.owners(), rows)
    context = {
        "form": form,
        "page": page_of(rows, request),
        "may_reach": access.holds(request.user, "contact.see"),
        "may_add": access.holds(request.user, "owners.change"),
    }
    return render(request, "owners/owners.html", context)


def never_kept(response: HttpResponseBase) -> HttpResponseBase:
    """How to reach somebody stays in no cache."""
    add_never_cache_headers(response)
    return response


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def owner_new(request: SignedInRequest) -> HttpResponse:
    """An owner is written down."""
    access.require(request.user, "owners.change", anywhere=True)
    form = OwnerNewForm(request.POST or None, person=request.user, units=units_of(request))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        same = owners_for(request.user).filter(name__iexact=data["name"]).first()
        if same is None or request.POST.get("another") == "yes":
            owner = actions_owners.add_owner(
                by=request.user,
                name=data["name"],
                kind=data["kind"],
                group=data["group"],
                note=data["note"],
                reach=form.reach,
            )
            messages.success(request, _("%(name)s is written down.") % {"name": owner})
            return redirect("owner", owner.pk)
        return render(request, "owners/owner_new.html", {"form": form, "same": same}, status=422)
    return render(request, "owners/owner_new.html", {"form": form}, status=422 if request.method == "POST" else 200)


@signed_in
@require_safe
def owner(request: SignedInRequest, owner_id: int) -> HttpResponseBase:
    """One owner: what they own and what they said. Not how to reach them."""
    if asked_kind(request, "vcf") == "vcf":
        found = find_owner(request.user, owner_id, "contact.see")
        cards = actions_owners.cards_of([found], by=request.user)
        return never_kept(cards_taken(request, f"owner-{found.pk}", cards))
    found = find_owner(request.user, owner_id)
    if wants_file(request):
        return list_taken(request, f"owner-{found.pk}-trees", tables.owned(), owned_by(found, request.user))
    return owner_page(request, found)


def owned_by(found: Owner, person: Person) -> QuerySet[TreeOwner]:
    """The owner's trees within this person's sight."""
    owned = TreeOwner.objects.filter(owner=found, tree__in=trees_for(person)).select_related("tree", "recorded_by")
    return owned.order_by("tree__code")


def owner_page(request: SignedInRequest, found: Owner, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of an owner; `given` replaces its forms by those that need a look."""
    page = page_of(owned_by(found, request.user), request)
    slips = permissions_for(request.user).filter(owner=found)
    asked = [row.tree.code for row in page][:ASKED_AT_ONCE]
    context = {
        "owner": found,
        "page": page,
        "elsewhere": TreeOwner.objects.filter(owner=found).count() - page.paginator.count,
        "slips": slips.annotate(tree_count=Count("lines")).order_by("-pk")[:SLIPS_IN_SIGHT],
        "may_reach": owners_for(request.user, "contact.see").filter(pk=found.pk).exists(),
        "may_change": _may_change(request, found),
        "may_ask": access.holds(request.user, "permission.decide"),
        "asked": asked,
        **_link_part(request, found),
        **given,
    }
    return render(request, "owners/owner.html", context, status=status)


def _link_part(request: SignedInRequest, found: Owner) -> dict[str, Any]:
    """The owner's private link, for those who may see how to reach an owner."""
    if not access.holds(request.user, "owner.link"):
        return {}
    newest, today = links.newest_of(found), access.today()
    return {
        "link": newest,
        "link_opens": newest is not None and newest.opens_on(today),
        "maker_left": newest is not None and bool(links.why_not_link(newest.made_by, found)),
        "why_not_link": links.why_not_link(request.user, found),
        "link_form": LinkForm(initial={"good_to": links.usual_last_day(today)}),
        "sees_link": True,
    }


def _may_change(request: SignedInRequest, found: Owner) -> bool:
    return owners_for(request.user, "owners.change").filter(pk=found.pk).exists()


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def owner_edit(request: SignedInRequest, owner_id: int) -> HttpResponse:
    """Name, kind, group and note of an owner."""
    found = find_owner(request.user, owner_id, "owners.change")
    instance = Owner.objects.get(pk=found.pk)
    form = OwnerForm(request.POST or None, instance=instance, person=request.user, units=units_of(request))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                actions_owners.change_owner(owner=found, by=request.user, values=form.values, seen=form.seen)
                messages.success(request, _("Saved."))
                return redirect("owner", found.pk)
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    return render(request, "owners/owner_edit.html", {"owner": found, "form": form}, status=status)


@signed_in
@never_cache
@require_POST
def owner_reach(request: SignedInRequest, owner_id: int) -> HttpResponse:
    """How to reach an owner. Each time it is shown, that is written down with the name of who looked."""
    found = find_owner(request.user, owner_id, "contact.see")
    context: dict[str, Any] = {"owner": found}
    if request.POST.get("act") != "save":
        contact = actions_owners.see_contact(owner=found, by=request.user)
        context |= {"contact": contact, "form": ContactForm(instance=contact, units=units_of(request))}
        return render(request, "owners/reach.html", context)
    contact = OwnerContact.objects.get_or_create(owner=found)[0]
    form = ContactForm(request.POST, instance=contact, units=units_of(request))
    context["form"] = form
    status = 422
    if form.is_valid():
        try:
            actions_owners.change_contact(owner=found, by=request.user, values=form.values, seen=form.seen)
            messages.success(request, _("Saved."))
            return redirect("owner", found.pk)
        except MovedOn as moved:
            # What is there now is shown beside what was typed: one more look.
            actions_owners.see_contact(owner=found, by=request.user)
            form.show_meanwhile(moved.row)
            status = 409
    return render(request, "owners/reach.html", context, status=status)
