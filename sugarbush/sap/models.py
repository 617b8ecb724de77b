"""The sap ledger. Movements are never changed and never deleted; another movement corrects them.

The models refuse it, and triggers in the database behind them (append_only).
"""

from __future__ import annotations

import uuid
from typing import Any, NoReturn

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class VesselKind(models.TextChoices):
    HANDS = "hands", _("in hands")
    AHEAD = "ahead", _("ahead of its entries")
    TANK = "tank", _("tank")
    PAN = "pan", _("pan")
    LOT = "lot", _("lot")


class Vessel(models.Model):
    """A place where sap or syrup can be: somebody's hands, a tank, a pan, a lot."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=6, choices=VesselKind.choices)
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="vessels")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="vessels")
    depot = models.ForeignKey("kit.Depot", models.PROTECT, null=True, blank=True, related_name="vessels")
    code = models.CharField(_("code"), max_length=40, blank=True)
    capacity_ml = models.PositiveIntegerField(_("holds"), null=True, blank=True)
    usual_temperature_c = models.DecimalField(
        _("usual temperature"), max_digits=4, decimal_places=1, null=True, blank=True
    )
    out_of_use = models.BooleanField(default=False)
    # A packed lot: from here nothing more goes in, but what a reversal brings back.
    shut_at = models.DateTimeField(null=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("kind", "code", "pk")
        verbose_name = _("vessel")
        constraints = (
            models.UniqueConstraint(
                fields=("person", "season"), condition=Q(kind="hands"), name="one_pair_of_hands_a_season"
            ),
            models.UniqueConstraint(
                fields=("season", "kind", "code"), condition=~Q(kind="hands"), name="vessel_code_once"
            ),
            models.CheckConstraint(condition=~Q(kind="hands") | Q(person__isnull=False), name="hands_are_somebodys"),
        )

    def __str__(self) -> str:
        if self.kind == VesselKind.HANDS:
            return _("hands of %(person)s") % {"person": self.person}
        return self.code or self.get_kind_display()


class ActKind(models.TextChoices):
    COLLECT = "collect", _("collected")
    DELIVER = "deliver", _("delivered")
    HAND_OVER = "hand_over", _("handed over")
    TRANSFER = "transfer", _("moved between tanks")
    TIP_OUT = "tip_out", _("tipped out")
    BOIL = "boil", _("put in a pan")
    DRAW_OFF = "draw_off", _("drawn off")
    BOTTLE = "bottle", _("bottled")
    ISSUE = "issue", _("issued")
    RETURN = "return", _("returned")
    CORRECT = "correct", _("corrected")


class Standing(models.TextChoices):
    COUNTED = "counted", _("counts")
    REVIEW = "review", _("to review: not counted yet")
    NOT_OURS = "not_ours", _("real, but not ours to use")


class Cause(models.TextChoices):
    OUT_OF_TREE = "out_of_tree", _("came out of trees")
    RAIN_KEPT = "rain_kept", _("rain kept")
    MEASURED_OVER = "measured_over", _("measured over")
    DISCARDED = "discarded", _("tipped out")
    REJECTED = "rejected", _("turned away at the depot")
    SPILLED = "spilled", _("spilled")
    MEASURED_UNDER = "measured_under", _("measured under")
    EVAPORATED = "evaporated", _("driven off as steam")
    LOST = "lost", _("lost")
    FILTER = "filter", _("held by the filter")
    ISSUED = "issued", _("issued")
    DESTROYED = "destroyed", _("destroyed")
    MOVED = "moved", _("moved")


SOURCES = (Cause.OUT_OF_TREE, Cause.RAIN_KEPT, Cause.MEASURED_OVER)
SINKS = (
    Cause.DISCARDED,
    Cause.REJECTED,
    Cause.SPILLED,
    Cause.MEASURED_UNDER,
    Cause.EVAPORATED,
    Cause.LOST,
    Cause.FILTER,
    Cause.ISSUED,
    Cause.DESTROYED,
)


class Act(models.Model):
    """Why movements were posted together: one thing somebody did."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=10, choices=ActKind.choices)
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="acts")
    author = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    approver = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    reason = models.TextField(blank=True)
    # Why a vessel was filled past its mark: kept apart from why measures differ.
    overfill_reason = models.TextField(blank=True)
    # What the act was about, kept with it so that totals need no other table and do not move when a tree changes group.
    tree = models.ForeignKey("trees.Tree", models.PROTECT, null=True, related_name="acts")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="acts")
    group = models.ForeignKey("volunteers.Group", models.PROTECT, null=True, related_name="acts")
    standing = models.CharField(max_length=8, choices=Standing.choices, default=Standing.COUNTED)
    origin_kind = models.CharField(max_length=20, blank=True)
    origin_uuid = models.UUIDField(null=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("recorded_at", "pk")
        indexes = (
            models.Index(fields=("origin_kind", "origin_uuid"), name="act_by_origin"),
            models.Index(fields=("season", "standing", "kind"), name="act_by_season"),
            models.Index(fields=("tree", "season"), name="act_by_tree"),
            models.Index(fields=("person", "season"), name="act_by_person"),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.happened_at:%Y-%m-%d}"


class Movement(models.Model):
    """Some millilitres from one place to another. seq is the order of posting; balances follow it."""

    seq = models.BigAutoField(primary_key=True)
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    act = models.ForeignKey(Act, models.PROTECT, related_name="movements")
    season = models.ForeignKey("seasons.Season", models.PROTECT, related_name="movements")
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    from_vessel = models.ForeignKey(Vessel, models.PROTECT, null=True, related_name="out")
    to_vessel = models.ForeignKey(Vessel, models.PROTECT, null=True, related_name="into")
    volume_ml = models.PositiveIntegerField()
    sugar_brix = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    cause = models.CharField(max_length=16, choices=Cause.choices)
    detail = models.CharField(max_length=40, blank=True)
    reverses = models.OneToOneField("self", models.PROTECT, null=True, related_name="reversed_by")

    class Meta:
        ordering = ("seq",)
        constraints = (
            models.CheckConstraint(condition=Q(volume_ml__gt=0), name="movement_moves_something"),
            models.CheckConstraint(
                condition=Q(from_vessel__isnull=False) | Q(to_vessel__isnull=False), name="movement_has_an_end"
            ),
            models.CheckConstraint(
                condition=Q(from_vessel=None) | Q(to_vessel=None) | ~Q(from_vessel=F("to_vessel")),
                name="movement_goes_elsewhere",
            ),
            models.CheckConstraint(
                condition=Q(sugar_brix=None) | Q(sugar_brix__gte=0, sugar_brix__lte=100), name="movement_brix_possible"
            ),
            models.CheckConstraint(
                condition=(
                    Q(cause="moved", from_vessel__isnull=False, to_vessel__isnull=False)
                    | Q(reverses=None, cause__in=[str(c) for c in SOURCES], from_vessel=None)
                    | Q(reverses__isnull=False, cause__in=[str(c) for c in SOURCES], to_vessel=None)
                    | Q(reverses=None, cause__in=[str(c) for c in SINKS], to_vessel=None)
                    | Q(reverses__isnull=False, cause__in=[str(c) for c in SINKS], from_vessel=None)
                ),
                name="movement_cause_fits_its_ends",
            ),
        )
        indexes = (
            models.Index(fields=("season", "cause"), name="movement_by_cause"),
            models.Index(fields=("from_vessel", "seq", "volume_ml"), name="movement_out"),
            models.Index(fields=("to_vessel", "seq", "volume_ml"), name="movement_in"),
        )

    def __str__(self) -> str:
        return f"{self.volume_ml} mL, {self.get_cause_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            self._refuse()
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        self._refuse()

    def _refuse(self) -> NoReturn:
        raise TypeError("A movement is never changed or deleted; post another that corrects it.")
