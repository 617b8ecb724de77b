"""Messages to people and owners: written, looked at, sent by a person; who got what, and who wants none."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class To(models.TextChoices):
    PEOPLE = "people", _("people")
    OWNERS = "owners", _("owners")


class NoticeState(models.TextChoices):
    DRAFT = "draft", _("draft")
    SENT = "sent", _("sent")
    DROPPED = "dropped", _("thrown away")


class Notice(models.Model):
    """One message. group: whom it reaches at most; empty is the whole programme."""

    # Made with the form, so that a draft sent twice from a bad line is kept once.
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    to = models.CharField(max_length=6, choices=To.choices)
    kind = models.CharField(max_length=20)
    audience = models.CharField(max_length=20)
    # What the audience asks besides the group: {"role": "volunteer"}, {"on": "2026-03-01"}, {"days": 30}.
    narrowed = models.JSONField(default=dict)
    group = models.ForeignKey("volunteers.Group", models.PROTECT, null=True, blank=True, related_name="notices")
    subject = models.CharField(_("subject"), max_length=120)
    body = models.TextField(_("text"), max_length=6_000)
    short = models.CharField(_("short, for a chat"), max_length=300, blank=True)
    reply_to = models.EmailField(_("answers go to"), blank=True)
    state = models.CharField(max_length=7, choices=NoticeState.choices, default=NoticeState.DRAFT)
    edition = models.PositiveIntegerField(default=1, editable=False)
    written_by = models.ForeignKey("volunteers.Person", models.PROTECT, related_name="+")
    written_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)
    sent_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    sent_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-changed_at", "-pk")
        verbose_name = _("message")
        constraints = (
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False, sent_by__isnull=False)
                | (~Q(state="sent") & Q(sent_at=None, sent_by=None)),
                name="sent_message_names_who_sent_it",
            ),
        )
        indexes = (models.Index(fields=("state", "-changed_at"), name="notice_by_state"),)

    def __str__(self) -> str:
        return self.subject

    def get_absolute_url(self) -> str:
        return reverse("notice", args=[self.pk])

    def in_history(self) -> str:
        """The number only: a subject may name somebody."""
        return f"message {self.pk}"


class Way(models.TextChoices):
    EMAIL = "email", _("e-mail")
    HAND = "hand", _("by hand: text or letter")


class RecipientState(models.TextChoices):
    WAITING = "waiting", _("waits")
    # Given to the mail server, and no answer written down yet.
    SENDING = "sending", _("on its way")
    SENT = "sent", _("sent")
    HANDED = "handed", _("handed over")
    FAILED = "failed", _("did not arrive")
    LEFT_OUT = "left_out", _("left out")


GOT_IT = (RecipientState.SENT, RecipientState.HANDED)


class Recipient(models.Model):
    """One person or owner on a message, as they stood when it was sent, and what became of it."""

    notice = models.ForeignKey(Notice, models.PROTECT, related_name="recipients")
    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="notices_got")
    owner = models.ForeignKey("owners.Owner", models.PROTECT, null=True, related_name="notices_got")
    name = models.CharField(_("name"), max_length=120)
    way = models.CharField(max_length=5, choices=Way.choices)
    address = models.EmailField(blank=True)
    state = models.CharField(max_length=8, choices=RecipientState.choices, default=RecipientState.WAITING)
    why = models.CharField(max_length=200, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    at = models.DateTimeField(default=timezone.now)
    handed_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("name", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(person=None, owner__isnull=False) | Q(person__isnull=False, owner=None),
                name="recipient_is_one_person_or_owner",
            ),
            models.CheckConstraint(condition=Q(way="email") | Q(address=""), name="address_only_for_email"),
            models.UniqueConstraint(fields=("notice", "person"), name="person_once_a_message"),
            models.UniqueConstraint(fields=("notice", "owner"), name="owner_once_a_message"),
        )
        indexes = (
            models.Index(fields=("notice", "state"), name="recipient_by_state"),
            models.Index(fields=("notice", "name"), name="recipient_by_name"),
        )

    def __str__(self) -> str:
        return f"{self.name}: {self.get_state_display()}"

    def in_history(self) -> str:
        return f"message {self.notice_id}"

    @property
    def got_it(self) -> bool:
        return self.state in GOT_IT


class How(models.TextChoices):
    MAIL_PROGRAM = "one_click", _("by the button of their mail program")
    LINK = "link", _("by the link at the foot of a message")
    OWN_PAGE = "own_page", _("on their own page")
    TOLD_US = "told_us", _("told somebody of the programme")


class NoMessages(models.Model):
    """A person or owner wants no messages, since when and how they said so. It ends when they say otherwise."""

    person = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="no_messages")
    owner = models.ForeignKey("owners.Owner", models.PROTECT, null=True, related_name="no_messages")
    since = models.DateTimeField(default=timezone.now)
    how = models.CharField(max_length=9, choices=How.choices)
    written_by = models.ForeignKey("volunteers.Person", models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-since", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(person=None, owner__isnull=False) | Q(person__isnull=False, owner=None),
                name="no_messages_is_one_person_or_owner",
            ),
            models.UniqueConstraint(fields=("person",), condition=Q(ended_at=None), name="no_messages_once_a_person"),
            models.UniqueConstraint(fields=("owner",), condition=Q(ended_at=None), name="no_messages_once_an_owner"),
        )

    def __str__(self) -> str:
        return self.in_history()

    def in_history(self) -> str:
        return "" if self.owner_id is None else f"owner {self.owner_id}"
