"""Acts on people: adding them, giving and ending roles, recording what they have shown, letting them in."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access, forgetting, outgrowing, people, rules, signing
from sugarbush.volunteers.models import Credential, CredentialKind, Group, Membership, Person, Role, Units


def require_manager(by: Person, person: Person) -> None:
    """Refuse (403) unless `by` looks after this person."""
    why = people.why_not_manage(by, person)
    if why:
        raise PermissionDenied(why)


def _require_role(by: Person, role: str, group: Group | None) -> None:
    access.require(by, "people.change", group_id=group.pk if group else None, anywhere=group is None)
    if access.scope(by, "people.change").everything:
        return
    if group is None or role not in people.LEAD_GIVES:
        given = ", ".join(str(Role(one).label) for one in people.LEAD_GIVES)
        raise PermissionDenied(
            _("A group lead gives these roles, in their own group: %(roles)s. Ask a coordinator for others.")
            % {"roles": given}
        )


@transaction.atomic
def make_first_coordinator() -> Person:
    """The person who opens the programme. Only while nobody has joined."""
    if Person.objects.exists():
        raise Refused(
            [
                Reason(
                    code="not-first",
                    fact=_("People have joined already."),
                    next_text=_("Make a link for one of them: manage.py sign_in_link"),
                )
            ]
        )
    person = Person.objects.create(display_name=_("Coordinator"))
    # The programme's time zone is not known yet. West of Greenwich its day may still be yesterday, and a role that
    # starts tomorrow there would lock its only coordinator out for hours.
    day = access.today() - dt.timedelta(days=1)
    Membership.objects.create(person=person, role=Role.COORDINATOR, date_from=day)
    record(by=None, act="make first coordinator", subject=person)
    return person


@transaction.atomic
def add_person(
    *,
    by: Person,
    display_name: str,
    role: str,
    group: Group | None,
    email: str | None = None,
    units: str = Units.METRIC,
    age_band: str = "adult",
    carry_limit_g: int = 20_000,
) -> Person:
    """Somebody joins, with a first role from today on."""
    _require_role(by, role, group)
    person = Person.objects.create(
        display_name=display_name, email=email or None, units=units, age_band=age_band, carry_limit_g=carry_limit_g
    )
    record(by=by, act="add person", subject=person, group_id=group.pk if group else None)
    give_role(by=by, person=person, role=role, group=group, first=True)
    return person


@transaction.atomic
def give_role(
    *,
    by: Person,
    person: Person,
    role: str,
    group: Group | None,
    date_from: dt.date | None = None,
    date_to: dt.date | None = None,
    first: bool = False,
) -> Membership:
    """Give a person a role for a span of days. Giving the same one twice leaves one.

    Whoever is given the whole programme for the first time comes in anew (see outgrowing).
    """
    _require_role(by, role, group)
    if not first:
        require_manager(by, person)
    start = date_from or access.today()
    same = person.memberships.filter(role=role, group=group).exclude(date_to__lt=start).first()
    if same is not None and (date_to is None or same.date_to == date_to) and same.date_from <= start:
        return same
    if not first and outgrowing.outgrows(person, group, by):
        outgrowing.begin_anew(person=person, by=by)
    membership = Membership.objects.create(person=person, role=role, group=group, date_from=start, date_to=date_to)
    access.forget_roles(person)
    record(by=by, act="give role", subject=membership, new={"role": role, "from": str(start), "to": str(date_to or "")})
    return membership


@transaction.atomic
def end_role(*, by: Person, membership: Membership, last_day: dt.date, reason: str = "") -> None:
    """Let a role end on a day, its last. A day before the role began takes it back altogether."""
    membership = (
        Membership.objects.select_for_update(of=("self",)).select_related("person", "group").get(pk=membership.pk)
    )
    _require_role(by, membership.role, membership.group)
    leads_all = membership.role == Role.COORDINATOR and membership.group_id is None
    if leads_all and (reasons := people.only_coordinator(membership.person)):
        raise Refused(reasons)
    old = {"to": str(membership.date_to or "")}
    record(by=by, act="end role", subject=membership, reason=reason, old=old, new={"to": str(last_day)})
    if last_day < membership.date_from:
        membership.delete()
    else:
        membership.date_to = last_day
        membership.save(update_fields=["date_to"])
    access.forget_roles(membership.person)


def first_day_for(*, by: Person, person: Person, valid_from: dt.date) -> dt.date:
    """The first day a credential counts that `by` records for `person`; PermissionDenied when they may not.

    Nobody vouches for themselves. Until a second person has joined, the first may, and it counts from the next day.
    """
    access.require(by, "credential.grant", anywhere=True)
    if by.pk != person.pk:
        return valid_from
    if not people.is_alone(by):
        raise PermissionDenied(_("Nobody vouches for themselves. Ask another coordinator to record it."))
    return max(valid_from, access.today() + dt.timedelta(days=1))


@transaction.atomic
def record_credential(
    *,
    by: Person,
    person: Person,
    kind: str,
    valid_from: dt.date,
    valid_to: dt.date | None = None,
    version: str = "",
    note: str = "",
) -> Credential:
    """Write down that a person has shown something, with the one who vouches for it."""
    start = first_day_for(by=by, person=person, valid_from=valid_from)
    if valid_to is not None and valid_to < start:
        raise Refused(
            [
                Reason(
                    code="ends-before-start",
                    fact=_("It would end before it counts."),
                    next_text=_("Give a later last day, or leave it empty"),
                )
            ]
        )
    if kind == CredentialKind.WAIVER and not version and (shown := rules.latest()):
        version = str(shown.number)  # the paper that stands now, unless its writer names another
    credential = Credential.objects.create(
        person=person, kind=kind, version=version, valid_from=start, valid_to=valid_to, vouched_by=by, note=note
    )
    act = "vouch for oneself" if by.pk == person.pk else "record credential"
    record(by=by, act=act, subject=credential, new={"from": str(start), "to": str(valid_to or "")})
    return credential


@transaction.atomic
def end_credential(*, by: Person, credential: Credential, last_day: dt.date, reason: str = "") -> None:
    """Let a credential end on a day, its last. A day before it began takes it back altogether."""
    access.require(by, "credential.grant", anywhere=True)
    credential = Credential.objects.select_for_update(of=("self",)).select_related("person").get(pk=credential.pk)
    old = {"to": str(credential.valid_to or "")}
    record(by=by, act="end credential", subject=credential, reason=reason, old=old, new={"to": str(last_day)})
    if last_day < credential.valid_from:
        credential.delete()
    else:
        credential.valid_to = last_day
        credential.save(update_fields=["valid_to"])


@transaction.atomic
def make_link(*, by: Person, person: Person) -> str:
    """A sign-in link for a person, shown once: the token."""
    require_manager(by, person)
    if not person.is_active:
        raise Refused(
            [
                Reason(
                    code="stopped",
                    fact=_("%(name)s has left, so no link would work.") % {"name": person},
                    next_text=_("Take the person back first"),
                )
            ]
        )
    return signing.make_link(person=person, made_by=by)


@transaction.atomic
def end_sessions(*, by: Person, person: Person) -> None:
    """Sign a person out everywhere; their unused links stop working too. Anybody may do it for themselves."""
    if by.pk != person.pk:
        require_manager(by, person)
    signing.end_sessions(person=person, by=by)


@transaction.atomic
def stop_person(*, by: Person, person: Person, reason: str) -> Person:
    """A person leaves: no sign-in from now on. What they recorded stays."""
    require_manager(by, person)
    fresh = Person.objects.select_for_update().get(pk=person.pk)
    if not fresh.is_active:
        return fresh
    leads_all = people.coordinators().filter(pk=fresh.pk).exists()
    if leads_all and (reasons := people.only_coordinator(fresh)):
        raise Refused(reasons)
    fresh.is_active = False
    fresh.save(update_fields=["is_active"])
    signing.end_sessions(person=fresh, by=by, reason=reason)
    record(by=by, act="stop person", subject=fresh, reason=reason)
    return fresh


@transaction.atomic
def take_back(*, by: Person, person: Person) -> Person:
    """A person who had left may come in again, with the roles they still hold."""
    require_manager(by, person)
    fresh = Person.objects.select_for_update().get(pk=person.pk)
    if forgetting.is_forgotten(fresh):
        fact = _("Nobody knows any more who this was: the name is gone.")
        raise Refused([Reason(code="forgotten", fact=fact, next_text=_("Add them as somebody new"))])
    if not fresh.is_active:
        fresh.is_active = True
        fresh.save(update_fields=["is_active"])
        record(by=by, act="take person back", subject=fresh)
    return fresh


@transaction.atomic
def add_group(*, by: Person, name: str, **details: Any) -> Group:
    """A new neighbourhood of the programme."""
    access.require(by, "groups.change", anywhere=True)
    group = Group.objects.create(name=name, **details)
    record(by=by, act="add group", subject=group, group_id=group.pk)
    return group
