"""An owner's own page, and what they press there. Looking changes nothing; every act is safe to press twice."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.desk.owner_page.door import VISIT, by_link
from sugarbush.desk.owner_page.forms import TREATED, WISHES, AnswerForm, TreatedForm, WishForm
from sugarbush.desk.owner_page.page import own_slip, own_slips, own_trees, share_words
from sugarbush.notices import optout
from sugarbush.notices.models import GOT_IT, Recipient
from sugarbush.owners import actions_by_link as acts
from sugarbush.owners.actions import SlipMovedOn, unanswered
from sugarbush.owners.consent import wording_of
from sugarbush.owners.models import OwnerLink, Permission
from sugarbush.parts.context import units_of
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Programme, Season
from sugarbush.trees.models import Shown, Tree
from sugarbush.volunteers import access

MOST_TOLD = 10


def _slip(link: OwnerLink, number: str) -> Permission:
    """One of the owner's own slips; Http404 otherwise."""
    if "\x00" in number:
        raise Http404
    found = acts.slips_of(link).select_related("owner").filter(number=number).first()
    if found is None:
        raise Http404
    return found


def _tell(request: HttpRequest, words: str, level: int = messages.SUCCESS) -> None:
    """Say something on the next page. The note for it lasts no longer than the visit."""
    if request.session.session_key is None:
        request.session.set_expiry(VISIT)
    messages.add_message(request, level, words)


@require_safe
@by_link
def my_tree(request: HttpRequest, link: OwnerLink) -> HttpResponse:
    """What hangs on my trees, until when, what they gave, what I said."""
    return my_tree_page(request, link)


def my_tree_page(request: HttpRequest, link: OwnerLink, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page; `given` names the tree whose form needs a look."""
    units, on, season = units_of(request), access.today(), Season.current()
    page = page_of(acts.trees_of(link).select_related("species").order_by("code"), request, per_page=20)
    trees = own_trees(page.object_list, season, on)
    context: dict[str, Any] = {
        "owner": link.owner,
        "link": link,
        "page": page,
        "trees": trees,
        "season": season,
        "slips": own_slips(link, units, on),
        "share": share_words(link, season, units),
        "treated_choices": TREATED,
        "wishes": WISHES,
        "told": Recipient.objects.filter(owner=link.owner, state__in=GOT_IT)
        .select_related("notice")
        .order_by("-notice__sent_at")[:MOST_TOLD],
        "none_wanted": optout.standing_of(link.owner),
        "way_out": reverse("no-messages", args=[optout.token_of_owner(link.owner)]),
        **given,
    }
    return render(request, "desk/owner/my_tree.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@by_link
def my_permission(request: HttpRequest, link: OwnerLink, number: str) -> HttpResponse:
    """The words of a permission; while it waits, also the owner's answer to it."""
    slip = _slip(link, number)
    asks = bool(unanswered(slip))
    if request.method != "POST":
        return _permission_page(request, slip, AnswerForm(asks_treated=asks, initial={"share_wish": slip.share_wish}))
    form = AnswerForm(request.POST, asks_treated=asks)
    if not form.is_valid():
        return _permission_page(request, slip, form, status=422)
    typed = form.cleaned_data
    treated = typed.get("treated", "")
    try:
        acts.answer_slip(
            link=link,
            slip=slip,
            yes=form.yes,
            name=typed.get("name", ""),
            programme=_programme(),
            units=units_of(request),
            read=request.POST.get("read", ""),
            share_wish=typed.get("share_wish", ""),
            treated=dict.fromkeys(slip.lines.values_list("tree_id", flat=True), treated) if treated else {},
        )
    except SlipMovedOn:
        return _permission_page(request, _slip(link, number), form, status=409, moved_on=True)
    except Refused as refused:
        return _permission_page(request, _slip(link, number), form, status=409, reasons=refused.reasons)
    _tell(request, _("Thank you. Your yes is kept.") if form.yes else _("Thank you. Your no is kept."))
    return redirect("my-permission", number)


def _permission_page(
    request: HttpRequest, slip: Permission, form: AnswerForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    units = units_of(request)
    trees = Tree.objects.filter(permission_lines__permission=slip).order_by("code")
    context = {
        "one": own_slip(slip, units, access.today()),
        "slip": slip,
        "page": page_of(trees, request, per_page=100),
        "can_answer": acts.can_answer(slip),
        "wording": wording_of(slip, programme=_programme(), units=units),
        "form": form,
        **more,
    }
    return render(request, "desk/owner/permission.html", context, status=status)


def _programme() -> str:
    found = Programme.current()
    return found.name if found else _("The tapping programme")


@require_http_methods(["GET", "HEAD", "POST"])
@by_link
def my_stop(request: HttpRequest, link: OwnerLink, number: str) -> HttpResponse:
    """Please stop: what it does, and the press that does it."""
    slip = _slip(link, number)
    if request.method == "POST":
        try:
            acts.stop(link=link, slip=slip)
        except Refused as refused:
            _tell(request, refused.reasons[0].fact, messages.INFO)
        else:
            _tell(request, _("Stopped. Thank you for saying so."))
        return redirect("my-permission", number)
    if slip.state not in acts.STANDING:
        return redirect("my-permission", number)
    spouts = Tree.objects.filter(permission_lines__permission=slip, shown_state__in=[Shown.TAPPED, Shown.PULL])
    context = {"slip": slip, "one": own_slip(slip, units_of(request), access.today()), "spouts": spouts.count()}
    return render(request, "desk/owner/stop.html", context)


@require_POST
@by_link
def my_jar(request: HttpRequest, link: OwnerLink, number: str) -> HttpResponse:
    """A jar, give it on, or none."""
    slip = _slip(link, number)
    form = WishForm(request.POST)
    if not form.is_valid():
        _tell(request, _("Choose one of the three, then press Save."), messages.WARNING)
        return redirect("my-tree")
    try:
        acts.wish(link=link, slip=slip, share_wish=form.cleaned_data["share_wish"])
    except Refused as refused:
        _tell(request, refused.reasons[0].fact, messages.INFO)
    else:
        _tell(request, _("Kept. Thank you."))
    return redirect("my-tree")


@require_POST
@by_link
def my_treated(request: HttpRequest, link: OwnerLink, code: str) -> HttpResponse:
    """Was this tree given insecticide? A yes stops it."""
    tree = acts.trees_of(link).filter(code=code.upper()).first()
    if tree is None:
        raise Http404
    form = TreatedForm(request.POST)
    if not form.is_valid():
        return my_tree_page(request, link, status=422, asked_tree=tree.pk, asked_form=form)
    acts.say_treated(link=link, tree=tree, answer=form.cleaned_data["treated"])
    _tell(request, _("Kept. Thank you."))
    return redirect("my-tree")
