"""A look at a tree, its photo, and the page where a species is settled."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.parts.uploads import send
from sugarbush.trees.actions_looks import record_look
from sugarbush.trees.actions_species import is_alone, settle_species
from sugarbush.trees.forms import LookForm, SettleForm
from sugarbush.trees.keeping import ChangedMeanwhile
from sugarbush.trees.models import SpeciesSure, Tree
from sugarbush.trees.queries import looks_at
from sugarbush.trees.views.edit import with_edition
from sugarbush.trees.views.finding import to_tree, tree_page
from sugarbush.trees.views.new import size_words
from sugarbush.volunteers.access import require, why_not
from sugarbush.volunteers.views_help import SignedInRequest


def _species_words(tree: Tree, named: bool) -> str:
    if not named:
        return ""
    words = {
        SpeciesSure.CONFIRMED: _("The species is sure."),
        SpeciesSure.DISPUTED: _("The species is in dispute now: somebody who knows the species has to settle it."),
        SpeciesSure.UNCONFIRMED: _("The species waits for a second look by somebody who knows the species."),
    }
    return words[SpeciesSure(tree.species_sure)]


@tree_page("tree.scout")
@require_http_methods(["GET", "HEAD", "POST"])
def tree_look(request: SignedInRequest, tree: Tree) -> HttpResponse:
    units = units_of(request)
    if request.method == "POST":
        form = LookForm(request.POST, request.FILES, person=request.user, units=units)
        if form.is_valid():
            seen = form.seen
            look = record_look(by=request.user, tree=tree, seen=seen)
            form.photo_saved()
            tree.refresh_from_db()
            said = [_("Your look is kept."), size_words(seen, units), _species_words(tree, look.species_id is not None)]
            return to_tree(tree, request, " ".join(filter(None, said)))
    else:
        form = LookForm(person=request.user, units=units)
    context = {"tree": tree, "form": form, "looks": looks_at(tree)}
    return render(request, "trees/look.html", context, status=422 if request.method == "POST" else 200)


@tree_page("trees.see")
@require_GET
def look_photo(request: SignedInRequest, tree: Tree, look_id: int) -> HttpResponseBase:
    look = tree.observations.filter(pk=look_id).first()
    if look is None:
        raise Http404
    return send(look.photo, name=f"{tree.code}-{look.date}")


@tree_page()
@require_http_methods(["GET", "HEAD", "POST"])
def tree_species(request: SignedInRequest, tree: Tree) -> HttpResponse:
    # Everybody who sees the tree may read what was said; settling asks for the credential.
    initial = {"edition": tree.edition, "species": tree.species_id}
    posted = request.POST if request.method == "POST" else None
    form = SettleForm(posted, units=units_of(request), initial=initial)
    context: dict[str, Any] = {
        "tree": tree,
        "form": form,
        "claims": [look for look in looks_at(tree) if look.species_id],
        "why_not": why_not(request.user, "species.confirm", group_id=tree.group_id),
        "alone": is_alone(request.user),
    }
    status = 200
    if posted is not None:
        require(request.user, "species.confirm", group_id=tree.group_id)
        status = 422
        if form.is_valid():
            try:
                kept = settle_species(
                    by=request.user,
                    tree=tree,
                    species=form.cleaned_data["species"],
                    evidence=form.cleaned_data["evidence"],
                    reason=form.cleaned_data["reason"],
                    edition=form.cleaned_data["edition"],
                )
                return to_tree(tree, request, _("Settled.") + " " + _species_words(kept, True))
            except ChangedMeanwhile as meanwhile:
                now = meanwhile.now
                species = f"{now.species or _('nothing')}, {now.get_species_sure_display()}"
                context["now"] = [(_("Species"), species)]
                with_edition(form, now.edition)
                status = 409
            except Refused as refused:
                context["reasons"] = refused.reasons
    return render(request, "trees/species.html", context, status=status)
