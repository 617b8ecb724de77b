"""The first page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.core.weather import DEFINITIONS, freeze_thaw_days
from sugarbush.desk.today.first_steps import steps
from sugarbush.desk.today.standing import day_for
from sugarbush.seasons.models import Programme, Season, SeasonState
from sugarbush.volunteers import access, passkeys
from sugarbush.volunteers.models import Role
from sugarbush.volunteers.views_help import SignedInRequest, signed_in
from sugarbush.weather import outlook

WALKERS = {Role.VOLUNTEER}


@signed_in
def today(request: SignedInRequest) -> HttpResponse:
    """Where everybody lands: the coordinator's next steps, the day's state, or straight to the round."""
    person = request.user
    if Programme.current() is None:
        return redirect("programme-new")
    roles = {role for role, _group in access.roles_of(person)}
    season = Season.current()
    # While it ends the round is of spouts to pull.
    walks = season is not None and (season.takes_taps or season.state == SeasonState.ENDING)
    if roles and roles <= WALKERS and walks:
        return redirect("round")
    day = timezone.localdate()
    todo = []
    if access.holds(person, "season.change"):
        todo = steps(season)
        if all(step.done for step in todo):
            todo = []
    standing = day_for(person, season, day) if season is not None and roles else None
    rule = DEFINITIONS["A"]
    freeze_thaw = {}
    if standing:
        marks = freeze_thaw_days([(float(row.low_c), float(row.high_c)) for row in standing.weather], definition=rule)
        freeze_thaw = {row.pk: mark for row, mark in zip(standing.weather, marks, strict=True)}
    context = {
        "season": season,
        "day": day,
        "roles": roles,
        "steps": todo,
        "upcoming": next((step for step in todo if not step.done), None),
        "standing": standing,
        "weather": [(row, freeze_thaw.get(row.pk, False)) for row in standing.weather] if standing else [],
        "rule": rule,
        "may_step": access.holds(person, "season.step"),
        "freeze_panel": outlook.freeze_thaw_panel(of=_("freeze and thaw")) if standing and standing.weather else None,
        "may_write_weather": access.holds(person, "weather.change"),
        "may_log": access.holds(person, "collection.log"),
        "ask_passkey": Role.COORDINATOR in roles and passkeys.should_ask(request, person),
    }
    return render(request, "desk/today.html", context)
