"""Pails, drums and the depots they are brought to."""

from __future__ import annotations

from django.db import models
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords


class FoodSafe(models.TextChoices):
    YES = "yes", _("food-safe")
    NO = "no", _("not for food")
    UNTESTED = "untested", _("not tested")


class Container(models.Model):
    """A pail on a tree or a drum on a cart. Only a food-safe one may hold sap."""

    code = models.CharField(_("code"), max_length=20, unique=True)
    capacity_ml = models.PositiveIntegerField(_("holds"))
    material = models.CharField(_("made of"), max_length=60, blank=True)
    food_safe = models.CharField(_("for food?"), max_length=8, choices=FoodSafe.choices, default=FoodSafe.UNTESTED)
    held_by = models.ForeignKey("volunteers.Person", models.SET_NULL, null=True, blank=True, related_name="containers")
    history = HistoricalRecords()

    class Meta:
        ordering = ("code",)
        verbose_name = _("container")
        constraints = (models.CheckConstraint(condition=models.Q(capacity_ml__gt=0), name="container_holds_something"),)

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("container", args=[self.pk])


class Depot(models.Model):
    """Where sap is brought and kept until it is boiled."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    place = models.CharField(_("place"), max_length=160, blank=True)
    hours = models.CharField(_("open"), max_length=120, blank=True)
    keyholder = models.CharField(_("who has the key"), max_length=120, blank=True)
    groups = models.ManyToManyField("volunteers.Group", blank=True, related_name="depots")
    history = HistoricalRecords()

    class Meta:
        ordering = ("name",)
        verbose_name = _("depot")

    def __str__(self) -> str:
        return self.name
