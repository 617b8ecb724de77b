"""What people write about giving trees out, drilling, pulling and settling."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.kit.models import Container
from sugarbush.parts.forms import MomentInput, QuantityField, UnitsForm
from sugarbush.taps import holes
from sugarbush.taps.actions import CLOCKS_DIFFER, NewHole
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.models import Shavings
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Membership, Person

MOST_CODES = 1_000
COMPASS = (
    ("0", gettext_lazy("north")),
    ("45", gettext_lazy("north-east")),
    ("90", gettext_lazy("east")),
    ("135", gettext_lazy("south-east")),
    ("180", gettext_lazy("south")),
    ("225", gettext_lazy("south-west")),
    ("270", gettext_lazy("west")),
    ("315", gettext_lazy("north-west")),
)
# The bits people have: 5/16 in and, older, 7/16 in (UVM Extension slides); 19/64 in is second-hand (trade press).
BITS = (
    ("7938", gettext_lazy("5/16 in (7.9 mm), today’s usual")),
    ("7541", gettext_lazy("19/64 in (7.5 mm)")),
    ("11113", gettext_lazy("7/16 in (11.1 mm), the old size")),
    ("other", gettext_lazy("another one")),
)
# A hole higher than a raised arm is drilled from a ladder; the core knows no place above six metres.
HIGHEST_MM, LONGEST_AGO_DAYS = 3_000, 200


class CodesField(forms.CharField):
    """Tags, parted by spaces, commas or lines, or sent one by one under the same name."""

    widget = forms.Textarea

    def to_python(self, value: Any) -> Any:
        parts = re.split(r"[\s,;]+", super().to_python(value) or "")
        return list(dict.fromkeys(part.upper() for part in parts if part))

    def validate(self, value: Any) -> None:
        if not value:
            raise ValidationError(_("No tree was chosen. Write at least one tag."), code="required")
        if len(value) > MOST_CODES:
            raise ValidationError(
                ngettext(
                    "This is %(n)d tree; at most %(most)d go at once. Give them in parts.",
                    "These are %(n)d trees; at most %(most)d go at once. Give them in parts.",
                    len(value),
                )
                % {"n": len(value), "most": MOST_CODES},
                code="too_many",
            )

    def run_validators(self, value: Any) -> None:
        if any("\x00" in code for code in value):
            raise ValidationError(_("A tag has only letters, digits and a dash."), code="null")


class AssignForm(UnitsForm):
    """Which trees go to whom."""

    codes = CodesField(
        label=gettext_lazy("Tags of the trees"),
        help_text=gettext_lazy("QH-0412 QH-0413, as many as you like up to 1,000"),
        strip=True,
    )
    group = forms.ModelChoiceField(Group.objects.none(), label=gettext_lazy("Group"), empty_label=None)
    person = forms.ModelChoiceField(
        Person.objects.none(),
        label=gettext_lazy("Person"),
        required=False,
        empty_label=gettext_lazy("nobody in particular"),
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        reach = access.scope(by, "assign")
        groups = Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids)
        live = Membership.objects.live(access.today()).filter(group__in=groups)
        people = Person.objects.filter(is_active=True, pk__in=live.values("person")).order_by("display_name", "pk")
        for name, rows in (("group", groups), ("person", people)):
            field = self.fields[name]
            if isinstance(field, forms.ModelChoiceField):
                field.queryset = rows
        self.fields["group"].error_messages["invalid_choice"] = _("Choose a group you may give trees to.")


class TapForm(UnitsForm):
    """One hole, as it is about to be drilled or was drilled."""

    tap = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    aspect = forms.ChoiceField(label=gettext_lazy("Side of the trunk"), choices=COMPASS, widget=forms.RadioSelect)
    aspect_deg = forms.IntegerField(
        label=gettext_lazy("or in degrees"),
        min_value=0,
        max_value=360,
        required=False,
        help_text=gettext_lazy("0° is north, 90° east, 180° south"),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={
            "invalid": gettext_lazy("Write whole degrees from 0 to 360."),
            "min_value": gettext_lazy("Write whole degrees from 0 to 360."),
            "max_value": gettext_lazy("Write whole degrees from 0 to 360."),
        },
    )
    height = QuantityField(
        kind="length", label=gettext_lazy("Height above the ground"), smallest=100, largest=HIGHEST_MM
    )
    bit = forms.ChoiceField(label=gettext_lazy("Bit"), choices=BITS, widget=forms.RadioSelect, initial="7938")
    bit_other = QuantityField(
        kind="bit", label=gettext_lazy("Which other bit"), smallest=3_000, largest=20_000, required=False
    )
    depth = QuantityField(kind="length", label=gettext_lazy("Depth of the hole"), smallest=10, largest=150)
    shavings = forms.ChoiceField(label=gettext_lazy("Shavings"), choices=Shavings.choices, widget=forms.RadioSelect)
    container = forms.CharField(
        label=gettext_lazy("Code of the pail"),
        max_length=20,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    holds = QuantityField(
        kind="volume",
        label=gettext_lazy("The pail holds"),
        smallest=500,
        largest=100_000,
        initial=8_000,
        required=False,
        help_text=gettext_lazy("where it has no code,"),
    )
    placed_at = forms.DateTimeField(label=gettext_lazy("When"), widget=MomentInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, *args: Any, facts: TreeFacts, drilled: bool = False, **kwargs: Any) -> None:
        self.facts, self.drilled = facts, drilled
        super().__init__(*args, **kwargs)
        self.fields["aspect"].error_messages["required"] = _("Choose the side of the trunk, or write the degrees.")
        self.fields["placed_at"].initial = lambda: timezone.localtime().replace(second=0, microsecond=0)

    def clean_container(self) -> Container | None:
        code = self.cleaned_data["container"].strip()
        if not code:
            return None
        found = Container.objects.filter(code__iexact=code).first()
        if found is None:
            raise ValidationError(
                _("No pail has the code %(code)s. Look again, or leave this empty and write what it holds.")
                % {"code": code},
                code="unknown",
            )
        return found

    def clean_placed_at(self) -> dt.datetime:
        at: dt.datetime = self.cleaned_data["placed_at"]
        now = timezone.now()
        if at > now + CLOCKS_DIFFER:
            raise ValidationError(_("This time is still to come. Choose now or an earlier time."), code="future")
        if at < now - dt.timedelta(days=LONGEST_AGO_DAYS):
            raise ValidationError(_("This is too long ago for this season. Check the day."), code="too_old")
        return at

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        self._clean_aspect(said)
        if said.get("bit") == "other" and not said.get("bit_other") and "bit_other" not in self.errors:
            self.add_error("bit_other", _("Write the size of the bit."))
        if self.hole is not None and not self.drilled:
            self._ask_about_place(self.hole)
        return said

    def _clean_aspect(self, said: dict[str, Any]) -> None:
        side, degrees = said.get("aspect") or "", said.get("aspect_deg")
        if "aspect_deg" in self.errors:
            self.errors.pop("aspect", None)
        elif degrees is not None and self.has_error("aspect", "required"):
            # The degrees alone say it.
            del self.errors["aspect"]
        elif degrees is not None and side:
            apart = abs(degrees - int(side)) % 360
            if min(apart, 360 - apart) > 45:
                self.add_error("aspect_deg", _("The side and the degrees do not fit. Keep one of them."))

    @property
    def hole(self) -> NewHole | None:
        """The hole, once everything that makes it is there."""
        said = getattr(self, "cleaned_data", {})
        degrees = said.get("aspect_deg")
        if degrees is None and said.get("aspect"):
            degrees = int(said["aspect"])
        bit = said.get("bit_other") if said.get("bit") == "other" else int(said.get("bit") or 0)
        if degrees is None or not bit or not said.get("height") or not said.get("depth"):
            return None
        return NewHole(height_mm=said["height"], aspect_deg=degrees % 360, bit_um=bit, depth_mm=said["depth"])

    def _ask_about_place(self, hole: NewHole) -> None:
        """Each warning wants its own tick; another place is asked about again."""
        for warning in holes.warnings(self.facts, hole, self.units):
            self.ask(
                warning.code,
                f"{warning.fact} {warning.detail}",
                about=f"{hole.aspect_deg},{hole.height_mm}",
                yes=_("I know; a second hole here is right") if warning.code == "brown" else _("I know; drill here"),
            )


class OutForm(UnitsForm):
    """A spout that is out: pulled, or gone with what was seen."""

    lost = forms.BooleanField(label=gettext_lazy("It was not pulled: it is gone"), required=False)
    reason = forms.CharField(
        label=gettext_lazy("How it was lost"),
        max_length=300,
        required=False,
        help_text=gettext_lazy("The tree was felled, for example"),
    )
    out_at = forms.DateTimeField(label=gettext_lazy("When"), widget=MomentInput, required=False)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("lost") and not (said.get("reason") or "").strip():
            self.add_error("reason", _("Write how the spout was lost, in a sentence."))
        return said


class StandForm(UnitsForm):
    """Why a tap may stand."""

    note = forms.CharField(label=gettext_lazy("What you looked at"), max_length=300, required=False)
