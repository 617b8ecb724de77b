"""The house rules: read and say yes; and, for a coordinator, publish a version and see whose yes is missing."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Prefetch, QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access, people, rules, waivers
from sugarbush.volunteers.forms_rules import RulesForm, YesForm
from sugarbush.volunteers.models import AgeBand, Credential, CredentialKind, HouseRules, Membership, Person
from sugarbush.volunteers.models_rules import paragraphs
from sugarbush.volunteers.views_help import SignedInRequest, member, signed_in

SHOWN_VERSIONS = 50
A_PAGE = 100


@member
@require_http_methods(["GET", "HEAD", "POST"])
def house_rules(request: SignedInRequest) -> HttpResponse:
    """The text that stands now, and a yes to it."""
    shown = rules.latest()
    if shown is None:
        if access.holds(request.user, "rules.keep"):
            return redirect("rules-keep")
        raise Http404
    form = YesForm(request.POST or None, age_band=request.user.age_band, number=shown.number)
    status = 422 if form.is_bound else 200
    reasons: tuple[Reason, ...] = ()
    if form.is_bound and form.is_valid():
        given = form.cleaned_data
        try:
            rules.say_yes(person=request.user, number=given["rules"], guardian=given.get("guardian", ""))
        except Refused as refusal:
            form = YesForm(age_band=request.user.age_band, number=shown.number)
            status, reasons = 409, refusal.reasons
        else:
            messages.success(request, _("Thank you. Your yes to version %(n)d is kept.") % {"n": given["rules"]})
            return redirect("me")
    said = waivers.yes_of(request.user)
    wanted = waivers.asked()
    context = {
        "rules": shown,
        "form": form,
        "reasons": reasons,
        "said": said,
        "enough": bool(wanted and said >= wanted.wanted),
        "asked": wanted,
    }
    return render(request, "volunteers/rules/read.html", context, status=status)


@member
@require_safe
def version(request: SignedInRequest, number: int) -> HttpResponse:
    """One version as it was published."""
    found = get_object_or_404(HouseRules.objects.select_related("published_by"), number=number)
    return render(request, "volunteers/rules/version.html", {"rules": found, "latest": rules.latest()})


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def keep(request: SignedInRequest) -> HttpResponse:
    """Write the next version, look at it as people will see it, publish it."""
    access.require(request.user, "rules.keep", anywhere=True)
    latest = rules.latest()
    form = RulesForm(request.POST or None, latest=latest)
    status, looked_at = (422 if form.is_bound else 200), list[str]()
    reasons: tuple[Reason, ...] = ()
    if form.is_bound and form.is_valid():
        given = {"asks_anew": True, **form.cleaned_data}
        if request.POST.get("step") == "publish":
            try:
                made = rules.publish(by=request.user, **given)
            except Refused as refusal:
                status, reasons = 409, refusal.reasons
            else:
                said = _("Version %(n)d is published. People are asked from now on.") % {"n": made.number}
                messages.success(request, said)
                return redirect("rules-keep")
        else:
            status, looked_at = 200, paragraphs(given["words"])
    context = {
        "form": form,
        "reasons": reasons,
        "looked_at": looked_at,
        "latest": latest,
        "versions": HouseRules.objects.select_related("published_by")[:SHOWN_VERSIONS],
        "missing": missing_people().count() if latest else 0,
    }
    return render(request, "volunteers/rules/keep.html", context, status=status)


def missing_people() -> QuerySet[Person]:
    """People of the programme, today, whose yes to the text that asks is missing."""
    wanted = waivers.asked()
    held = Membership.objects.live(access.today()).values("person")
    everybody = Person.objects.filter(is_active=True, pk__in=held)
    return waivers.without_yes(everybody, wanted.wanted) if wanted else everybody.none()


@signed_in
@require_safe
def missing(request: SignedInRequest) -> HttpResponse:
    """Whose yes is missing, to read and to copy; and the guardians who are still to be asked."""
    access.require(request.user, "rules.keep", anywhere=True)
    yeses = Credential.objects.filter(kind=CredentialKind.WAIVER).live(access.today())
    rows = people.with_roles(missing_people()).order_by("display_name", "pk")
    rows = rows.prefetch_related(Prefetch("credentials", yeses, to_attr="yeses"))
    page = page_of(rows, request, A_PAGE)
    context = {
        "page": page,
        "rows": [(one, max((waivers.number_of(row.version) for row in one.yeses), default=0)) for one in page],
        "asked": waivers.asked(),
        "names": "\n".join(one.display_name for one in page),
        "guardians": to_ring()[:A_PAGE],
    }
    return render(request, "volunteers/rules/missing.html", context)


def to_ring() -> QuerySet[Credential]:
    """Guardians named on a phone, of people under 18, for whom nobody has recorded a consent yet."""
    today = access.today()
    held = Credential.objects.filter(kind=CredentialKind.GUARDIAN).live(today)
    said = held.filter(by_self=True, person__is_active=True).exclude(person__age_band=AgeBand.ADULT)
    return said.exclude(person__in=held.filter(by_self=False).values("person")).select_related("person")
