"""The board of today, one run, and the runs of one person."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from sugarbush.audit.changes import Changes, together
from sugarbush.gathering import crew, run_acts, tables
from sugarbush.gathering.board import Board, Line, board, lines_of, rounds_in_reach
from sugarbush.gathering.calendar import run_event
from sugarbush.gathering.forms_rounds import FinishForm
from sugarbush.gathering.models_rounds import Answer, Part, RoundRun, RunState
from sugarbush.gathering.rota import week_of
from sugarbush.gathering.round_page import run_lines
from sugarbush.gathering.rounds import Stop
from sugarbush.gathering.run_state import Standing
from sugarbush.gathering.uncovered import uncovered
from sugarbush.gathering.views_rounds import groups_to_plan, no_season, number_of, refusal, round_to_plan
from sugarbush.gathering.way import off_every_round
from sugarbush.parts.paging import page_of
from sugarbush.parts.qr import printed_address
from sugarbush.parts.reasons import Refused
from sugarbush.parts.sheets.columns import in_pieces
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import event_taken, list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in
from sugarbush.weather import outlook

ROUNDS_A_PAGE = 40
MY_DAYS = dt.timedelta(days=28)


@signed_in
@require_GET
def today_board(request: SignedInRequest) -> HttpResponseBase:
    """How each round stands now. ?part=1 is the changing part alone, for the script that looks again."""
    access.require(request.user, "round.board", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    found = board(request.user, season)
    if wants_file(request):
        return list_taken(request, "board", tables.board(request.user.units), found.lines)
    plans = groups_to_plan(request)
    tomorrow = outlook.tomorrow(found.day, request.user.units)
    loose = off_every_round(season).filter(group__in=plans, spout_in=True).count() if plans else 0
    context = {
        "season": season,
        "board": found,
        "done": found.counts.get(Standing.DONE, 0),
        "page": page_of(list(found.lines), request, per_page=ROUNDS_A_PAGE),
        "ahead": uncovered(request.user, season, found, tomorrow),
        "tomorrow": tomorrow,
        "loose": loose,
        "may_plan": bool(plans),
        "plans": {group.pk for group in plans},
        "first_to_call": next((line.round.pk for line in found.lines if line.may_call and line.standby), None),
        "may_write_weather": access.holds(request.user, "weather.change"),
    }
    template = "gathering/_board.html" if request.GET.get("part") else "gathering/board.html"
    return render(request, template, context)


@signed_in
@require_POST
def round_today(request: SignedInRequest, pk: int) -> HttpResponse:
    """Plan a round for today with its usual people."""
    found = round_to_plan(request, pk)
    usual = list(found.usual.select_related("person"))
    day = timezone.localdate()
    try:
        run_acts.give_runs(
            found=found,
            by=request.user,
            first=day,
            last=day,
            walks=[one.person for one in usual if one.part == Part.WALKS],
            standby=[one.person for one in usual if one.part == Part.STANDBY],
        )
    except Refused as refused:
        return refusal(request, refused, reverse("board"))
    messages.success(request, _("“%(name)s” is planned for today.") % {"name": found})
    return redirect("board")


def run_for(request: SignedInRequest, pk: int) -> RoundRun:
    """A run of a round this person may see; 404 otherwise."""
    reach = access.scope(request.user, "round.see").filter("round__group")
    rows = RoundRun.objects.filter(reach).select_related("round__season", "round__group", "finished_by")
    return get_object_or_404(rows, pk=pk)


def line_of(run: RoundRun) -> Line | None:
    """The run as the board has it today; None for another day."""
    if run.date != timezone.localdate():
        return None
    found: Board = lines_of([run.round], run.round.season, timezone.now())
    return found.lines[0]


@signed_in
@require_GET
def one_run(request: SignedInRequest, pk: int) -> HttpResponseBase:
    """One run: who walks, how far it is, how it ended; and the words to send to whoever stands by."""
    run = run_for(request, pk)
    if wants_file(request, "ics"):
        if request.GET["as"] != "ics":
            raise Http404
        mine = run.people.filter(person=request.user).first()
        changed = together(
            Changes("gathering.roundrun", [run.pk]).of(run.pk),
            Changes("gathering.round", [run.round_id]).of(run.round_id),
        )
        part = mine.part if mine else ""
        event = run_event(run, lambda path: printed_address(request, path), changed, part=part)
        return event_taken(f"round-{run.date}", event)
    return page_of_run(request, run)


def page_of_run(request: SignedInRequest, run: RoundRun, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of a run, with a form that was not taken in its place."""
    line, short = line_of(run), run_lines([run])[run.pk]
    left = list(line.left) if line else []
    group_id = run.round.group_id
    open_now = not run.round.season.is_closed and run.state == RunState.PLANNED
    may_plan = access.scope(request.user, "round.plan").covers(group_id) and not run.round.season.is_closed
    may_finish = (
        open_now and line is not None and bool(left) and access.scope(request.user, "collection.log").covers(group_id)
    )
    trees_left = len(left) if line else short.trees - short.visited
    context = {
        "run": run,
        "round": run.round,
        "line": line,
        "short": short,
        "left": left,
        "may_plan": may_plan,
        "is_open": open_now,
        "called": [
            (one, run_acts.standby_words(run, one.person, left=trees_left, link=_link(request)))
            for one in short.people
            if one.called_at is not None and one.part == Part.WALKS
        ]
        if may_plan
        else [],
        "standby": crew.next_standby(run) if may_plan and open_now else None,
        "finish_form": FinishForm(left=left, units=request.user.units) if may_finish else None,
        "urgent": bool(line and line.may_call) and may_plan,
        "mine": next((one for one in short.people if one.person_id == request.user.pk), None),
        "today": timezone.localdate(),
        "DONE": Standing.DONE,
        **given,
    }
    return render(request, "gathering/run.html", context, status=status)


def _link(request: SignedInRequest) -> str:
    """Where somebody answers, as an address that works in a message."""
    return printed_address(request, reverse("my-rounds"))


@signed_in
@require_POST
def run_call(request: SignedInRequest, pk: int) -> HttpResponse:
    """Call whoever stands by, in one press; then the words to send are shown. Nothing is sent by itself."""
    run = run_for(request, pk)
    access.require(request.user, "round.plan", group_id=run.round.group_id)
    person = get_object_or_404(Person, pk=number_of(request.POST.get("person", "")))
    try:
        run_acts.call_standby(run=run, by=request.user, person=person)
    except Refused as refused:
        return refusal(request, refused, reverse("board"))
    messages.success(request, _("%(who)s has the run now. Send them the words below.") % {"who": person})
    return redirect(reverse("run", args=[run.pk]) + "#words")


@signed_in
@require_POST
def run_finish(request: SignedInRequest, pk: int) -> HttpResponse:
    """Say that a run is over, and why some trees were left."""
    run = run_for(request, pk)
    access.require(request.user, "collection.log", group_id=run.round.group_id)
    line = line_of(run)
    left: list[Stop] = list(line.left) if line else []
    form = FinishForm(request.POST, left=left, units=request.user.units)
    if not form.is_valid():
        return page_of_run(request, run, status=422, finish_form=form)
    try:
        run_acts.finish(run=run, by=request.user, left_out=form.left_out, note=form.cleaned_data["note"])
    except Refused as refused:
        return refusal(request, refused, reverse("run", args=[run.pk]))
    messages.success(request, _("The run is finished. Thank you."))
    return redirect("run", run.pk)


@signed_in
@require_POST
def run_step(request: SignedInRequest, pk: int) -> HttpResponse:
    """Call a run off, open it again, or take somebody off it."""
    run = run_for(request, pk)
    access.require(request.user, "round.plan", group_id=run.round.group_id)
    step, by = request.POST.get("step", ""), request.user
    try:
        if step == "off":
            run_acts.call_off(run=run, by=by, reason=request.POST.get("reason", ""))
        elif step == "again":
            run_acts.open_again(run=run, by=by)
        elif step == "leave":
            there = run.people.filter(pk=number_of(request.POST.get("person", ""))).select_related("person").first()
            if there is not None:
                run_acts.leave_run(run=run, person=there.person, by=by)
    except Refused as refused:
        return refusal(request, refused, reverse("run", args=[run.pk]))
    return redirect("run", run.pk)


@signed_in
@require_POST
def run_say(request: SignedInRequest, pk: int) -> HttpResponse:
    """ "I come", or "I can't"."""
    run = run_for(request, pk)
    access.require(request.user, "collection.log", group_id=run.round.group_id)
    answer = request.POST.get("answer", "")
    if answer not in (Answer.YES, Answer.NO):
        messages.error(request, _("That press did not arrive whole. Please press once more."))
        return redirect("my-rounds")
    try:
        run_acts.say(run=run, by=request.user, answer=answer)
    except Refused as refused:
        return refusal(request, refused, reverse("my-rounds"))
    messages.success(request, _("Thank you, that is kept. Say it again if it changes."))
    return redirect("my-rounds")


@signed_in
@require_GET
def rota(request: SignedInRequest) -> HttpResponseBase:
    """A week of rounds by days, from today or from ?first=."""
    access.require(request.user, "round.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    today = timezone.localdate()
    first = first_day(request.GET.get("first", ""), today)
    there = rounds_in_reach(request.user, season)
    if wants_file(request):
        lines = in_pieces(there, lambda some: tables.rota_rows(week_of(some, first)[1]), ROUNDS_A_PAGE)
        return list_taken(request, "rota", tables.rota(), lines)
    page = page_of(there, request, per_page=ROUNDS_A_PAGE)
    days, rows = week_of(list(page.object_list), first)
    context = {
        "page": page,
        "days": days,
        "last": days[-1],
        "rows": rows,
        "holes": sum(cell.is_hole and cell.day >= today for _round, cells in rows for cell in cells),
        "before": first - dt.timedelta(days=len(days)),
        "after": first + dt.timedelta(days=len(days)),
        "today": today,
        "may_board": access.holds(request.user, "round.board"),
    }
    return render(request, "gathering/rota.html", context)


def first_day(asked: str, today: dt.date) -> dt.date:
    """The day asked for, within a year of today; else today."""
    try:
        day = dt.date.fromisoformat(asked)
    except ValueError:
        return today
    return day if abs((day - today).days) <= 366 else today


@signed_in
@require_GET
def my_rounds(request: SignedInRequest) -> HttpResponseBase:
    """The runs this person is on in the four weeks to come, and what they said to each."""
    access.require(request.user, "round.see", anywhere=True)
    day = timezone.localdate()
    runs = RoundRun.objects.filter(
        people__person=request.user, date__gte=day, date__lte=day + MY_DAYS, round__season=Season.current()
    )
    runs = runs.select_related("round__group", "round__season").order_by("date", "pk")

    def shown(some: list[RoundRun]) -> list[dict[str, Any]]:
        lines = run_lines(some)
        return [
            {
                "line": lines[run.pk],
                "mine": next(one for one in lines[run.pk].people if one.person_id == request.user.pk),
            }
            for run in some
        ]

    if wants_file(request):
        return list_taken(request, "my-rounds", tables.own_runs(), in_pieces(runs, shown, 30))
    page = page_of(runs, request, per_page=30)
    rows = shown(list(page.object_list))
    may_log = access.holds(request.user, "collection.log")
    return render(request, "gathering/my_rounds.html", {"rows": rows, "page": page, "day": day, "may_log": may_log})
