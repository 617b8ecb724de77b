"""People, their groups, what they may do and until when."""

from __future__ import annotations

import datetime as dt
import secrets
import uuid
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class Units(models.TextChoices):
    METRIC = "metric", _("litres, centimetres, °C")
    US = "us", _("US gallons, inches, °F")


class AgeBand(models.TextChoices):
    ADULT = "adult", _("18 or older")
    YOUTH = "youth", _("16 or 17")
    CHILD = "child", _("under 16")


class Role(models.TextChoices):
    COORDINATOR = "coordinator", _("coordinator")
    LEAD = "lead", _("group lead")
    VOLUNTEER = "volunteer", _("volunteer")
    DEPOT_KEEPER = "depot_keeper", _("depot keeper")
    BOIL_LEAD = "boil_lead", _("boil lead")
    STEWARD = "steward", _("share steward")
    REVIEWER = "reviewer", _("reviewer")


class CredentialKind(models.TextChoices):
    WAIVER = "waiver", _("signed waiver")
    GUARDIAN = "guardian", _("guardian’s consent")
    SCREENING = "screening", _("screening for work with minors")
    TAPPING = "tapping", _("trained to tap")
    CHECKING = "checking", _("trained to check trees")
    SPECIES = "species", _("knows the species")
    FOOD = "food", _("food handling")
    FIRE = "fire", _("fire and pan")


class PersonManager(BaseUserManager["Person"]):
    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(key=username or "")


def new_salt() -> str:
    return secrets.token_hex(8)


class Person(AbstractBaseUser):
    """Somebody in the programme. There are no passwords: people come in by a link or a card."""

    password = None  # type: ignore[assignment]  # removes the inherited column
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    display_name = models.CharField(_("name"), max_length=80)
    email = models.EmailField(_("e-mail"), null=True, blank=True, unique=True)
    language = models.CharField(_("language"), max_length=8, default="en")
    units = models.CharField(_("units"), max_length=8, choices=Units.choices, default=Units.METRIC)
    carry_limit_g = models.PositiveIntegerField(_("most to carry"), default=20_000)
    age_band = models.CharField(_("age"), max_length=8, choices=AgeBand.choices, default=AgeBand.ADULT)
    is_active = models.BooleanField(default=True)
    session_salt = models.CharField(max_length=16, default=new_salt, editable=False)
    joined_at = models.DateTimeField(default=timezone.now)
    history = HistoricalRecords(excluded_fields=["session_salt", "last_login"])

    objects = PersonManager()
    USERNAME_FIELD = "key"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    NOT_IN_HISTORY = ("display_name", "email")

    class Meta:
        ordering = ("display_name", "pk")
        verbose_name = _("person")

    def __str__(self) -> str:
        return self.display_name

    def in_history(self) -> str:
        """Nothing: an act keeps the person's number, and the name is read from here."""
        return ""

    def get_session_auth_hash(self) -> str:
        """Changing the salt ends every session of this person."""
        return salted_hmac("sugarbush.session", self.session_salt, algorithm="sha256").hexdigest()

    def get_session_auth_fallback_hash(self) -> list[str]:
        return []

    @property
    def is_adult(self) -> bool:
        return self.age_band == AgeBand.ADULT

    def credential_on(self, kind: str, on: dt.date) -> Credential | None:
        """The credential of this kind that counts on the day, or None."""
        return self.credentials.filter(kind=kind).live(on).first()


class Group(models.Model):
    """A neighbourhood of the programme."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    area = models.JSONField(_("area"), null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("name",)
        verbose_name = _("group")

    def __str__(self) -> str:
        return self.name


class DatedQuerySet(models.QuerySet["Membership"]):
    def live(self, on: dt.date) -> DatedQuerySet:
        return self.filter(date_from__lte=on).filter(Q(date_to=None) | Q(date_to__gte=on))


class Membership(models.Model):
    """A role, in one group or (group empty) in the whole programme, for a span of days."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="memberships")
    group = models.ForeignKey(Group, models.PROTECT, null=True, blank=True, related_name="memberships")
    role = models.CharField(_("role"), max_length=16, choices=Role.choices)
    date_from = models.DateField(_("from"))
    date_to = models.DateField(_("to"), null=True, blank=True)
    history = HistoricalRecords()

    objects = DatedQuerySet.as_manager()

    class Meta:
        ordering = ("person", "role", "pk")
        verbose_name = _("role")
        constraints = (
            models.CheckConstraint(
                condition=Q(date_to=None) | Q(date_to__gte=models.F("date_from")), name="membership_ends_after_start"
            ),
        )

    def __str__(self) -> str:
        return f"{self.person}: {self.in_history()}"

    def in_history(self) -> str:
        return f"{self.get_role_display()} ({self.group or _('whole programme')})"


class CredentialQuerySet(models.QuerySet["Credential"]):
    def live(self, on: dt.date) -> CredentialQuerySet:
        return self.filter(valid_from__lte=on).filter(Q(valid_to=None) | Q(valid_to__gte=on))


class Credential(models.Model):
    """Something a person has shown: a training, a waiver, a consent."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="credentials")
    kind = models.CharField(_("what"), max_length=12, choices=CredentialKind.choices)
    version = models.CharField(_("version"), max_length=40, blank=True)
    valid_from = models.DateField(_("from"))
    valid_to = models.DateField(_("valid to"), null=True, blank=True)
    vouched_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    note = models.CharField(_("note"), max_length=200, blank=True)
    # Said on the person's own phone. For house rules that is the yes itself; a guardian's consent said so counts for
    # nothing until somebody has asked the guardian and records one.
    by_self = models.BooleanField(_("said by the person"), default=False)
    history = HistoricalRecords()

    objects = CredentialQuerySet.as_manager()

    class Meta:
        ordering = ("person", "kind", "-valid_from")
        verbose_name = _("credential")
        constraints = (
            models.CheckConstraint(
                condition=Q(valid_to=None) | Q(valid_to__gte=models.F("valid_from")), name="credential_ends_after_start"
            ),
        )

    def __str__(self) -> str:
        return f"{self.person}: {self.in_history()}"

    def in_history(self) -> str:
        return str(self.get_kind_display())


class SignInLink(models.Model):
    """A link that signs one person in, once. Only its hash is kept."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="sign_in_links")
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-made_at",)

    def __str__(self) -> str:
        return f"link for {self.person}"


from sugarbush.volunteers.models_calendar import CalendarLink as CalendarLink  # noqa: E402
from sugarbush.volunteers.models_cards import CardSheet as CardSheet  # noqa: E402
from sugarbush.volunteers.models_cards import JoinCard as JoinCard  # noqa: E402
from sugarbush.volunteers.models_cards import JoinedByCard as JoinedByCard  # noqa: E402
from sugarbush.volunteers.models_cards import Tries as Tries  # noqa: E402
from sugarbush.volunteers.models_devices import Device as Device  # noqa: E402
from sugarbush.volunteers.models_rules import HouseRules as HouseRules  # noqa: E402
from sugarbush.volunteers.models_ways import Passkey as Passkey  # noqa: E402
from sugarbush.volunteers.models_ways import SignInCode as SignInCode  # noqa: E402
