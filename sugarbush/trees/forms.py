"""The trees' forms. What several of them ask is in forms_fields.py."""

from __future__ import annotations

import uuid
from typing import Any, cast

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.forms import UnitsForm
from sugarbush.trees.actions_checks import YES_OR_NO
from sugarbush.trees.forms_fields import DayField, PersonForm, PlaceForm, SeenForm, SpeciesField
from sugarbush.trees.models import Land, Life, Shown, Tree
from sugarbush.trees.records import Evidence, HoleClosure, Salt, TreatmentAnswer
from sugarbush.volunteers.access import scope
from sugarbush.volunteers.models import Group, Person


def groups_for(person: Person, act: str) -> QuerySet[Group]:
    """Groups in which the person may do this."""
    reach = scope(person, act)
    return Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids)


class TreeForm(PersonForm, PlaceForm):
    """Place, land, how to get there, group: what can be changed on a tree."""

    land = forms.ChoiceField(
        label=gettext_lazy("Whose land"), choices=Land.choices, initial=Land.UNKNOWN, widget=forms.RadioSelect
    )
    land_said_by = forms.CharField(
        label=gettext_lazy("Who said whose land it is"),
        max_length=90,
        required=False,
        help_text=gettext_lazy("a name, or the register you looked in"),
    )
    access_note = forms.CharField(
        label=gettext_lazy("How to get to it"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("gate, dog, where to stand; no names, no codes of locks"),
    )
    inventory_number = forms.CharField(label=gettext_lazy("Number in the town’s list"), max_length=60, required=False)
    group = forms.ModelChoiceField(
        Group.objects.none(), label=gettext_lazy("Group"), required=False, empty_label=gettext_lazy("no group yet")
    )

    act = "tree.change"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.group_field.queryset = groups_for(self.person, self.act)

    @property
    def group_field(self) -> forms.ModelChoiceField[Group]:
        return cast("forms.ModelChoiceField[Group]", self.fields["group"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        self.ask_about_place(cleaned)
        return cleaned


class NewTreeForm(TreeForm, SeenForm):
    """A tree nobody has entered yet, with the first look at it."""

    act = "tree.scout"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        groups = list(groups_for(self.person, self.act)[:2])
        if len(groups) == 1:
            self.group_field.initial = groups[0]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("land") not in {None, Land.UNKNOWN} and not cleaned.get("land_said_by"):
            self.add_error("land_said_by", _("Name who said so, or choose “nobody knows yet”."))
        return cleaned


class EditTreeForm(TreeForm):
    """Changing a tree. `edition` is the one this page was opened with."""

    edition = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, tree: Tree, **kwargs: Any) -> None:
        names = ("longitude", "latitude", "address", "side", "nth", "land", "access_note", "inventory_number", "group")
        initial = {name: getattr(tree, name) for name in names} | {"edition": tree.edition}
        self.tree = tree
        super().__init__(*args, initial=initial, **kwargs)
        if tree.group_id and not groups_for(self.person, self.act).filter(pk=tree.group_id).exists():
            del self.fields["group"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        land = cleaned.get("land")
        if land and land not in {self.tree.land, Land.UNKNOWN} and not cleaned.get("land_said_by"):
            self.add_error("land_said_by", _("Name who said so, or choose “nobody knows yet”."))
        number = cleaned.get("inventory_number")
        others = Tree.objects.filter(inventory_source=self.tree.inventory_source, inventory_number=number)
        if number and others.exclude(pk=self.tree.pk).exists():
            sentence = _("Another tree has this number. If it is the same tree, merge the two.")
            self.add_error("inventory_number", sentence)
        return cleaned

    @property
    def changes(self) -> dict[str, Any]:
        """What the form says, by the names of the tree's columns."""
        dropped = {"edition", "land_said_by"}
        return {name: value for name, value in self.cleaned_data.items() if name not in dropped}


class LookForm(SeenForm):
    """A dated look at a tree that is there."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        found = ("size", "species", "photo", "note")
        if not self.errors and not any(cleaned.get(name) for name in found):
            self.add_error(None, _("Nothing is filled in yet. Give a size, a species, a photo or a note."))
        return cleaned


class SettleForm(UnitsForm):
    """Which species it is, and why."""

    edition = forms.IntegerField(widget=forms.HiddenInput)
    species = SpeciesField(label=gettext_lazy("It is"), empty_label=None)
    evidence = forms.ChoiceField(
        label=gettext_lazy("What told you"),
        choices=[(value, label) for value, label in Evidence.choices if value in Evidence.proof()],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("both names stay in the tree’s history, with this reason"),
    )  # fmt: skip


# Health and treatment -----------------------------------------------------------------

_YES_NO = [("yes", gettext_lazy("Yes")), ("no", gettext_lazy("No"))]


def _yes_no(label: Any, help_text: Any = "") -> forms.TypedChoiceField:
    # No answer is filled in beforehand: a check that was not made must not read "no".
    return forms.TypedChoiceField(
        label=label,
        help_text=help_text,
        choices=_YES_NO,
        coerce=lambda answer: answer == "yes",
        empty_value=None,
        widget=forms.RadioSelect,
    )


def _said_by() -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("Who said so"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("the owner, the town’s tree office; not needed where nobody knows"),
    )


class TreatmentForm(UnitsForm):
    """One answer about insecticide."""

    uuid = forms.UUIDField(initial=uuid.uuid4, widget=forms.HiddenInput)
    treatment = forms.ChoiceField(
        label=gettext_lazy("Was it ever treated with insecticide inside the tree?"),
        choices=TreatmentAnswer.choices,
        widget=forms.RadioSelect,
        help_text=gettext_lazy("injected into the trunk, or poured on the soil at its foot"),
    )
    said_by = _said_by()
    date = DayField(label=gettext_lazy("Day of the answer"))
    note = forms.CharField(
        label=gettext_lazy("Note"), max_length=400, required=False, help_text=gettext_lazy("what, when, by whom")
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        need_a_name(self, cleaned)
        return cleaned


def need_a_name(form: forms.Form, cleaned: dict[str, Any]) -> None:
    """Yes and no need somebody who said so."""
    if cleaned.get("treatment") in {TreatmentAnswer.YES, TreatmentAnswer.NO} and not cleaned.get("said_by"):
        form.add_error("said_by", _("Name who said so, or choose “Nobody knows”."))


class ClearForm(UnitsForm):
    """A coordinator clears a treated tree, in writing."""

    reason = forms.CharField(
        label=gettext_lazy("Why it is clear"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=gettext_lazy("the label’s waiting time, or the arborist who says so, with the day"),
    )


class CheckForm(UnitsForm):
    """A health check from crown to root, then the ground around and insecticide."""

    uuid = forms.UUIDField(initial=uuid.uuid4, widget=forms.HiddenInput)
    date = DayField(label=gettext_lazy("Day of the check"), oldest_days=366)
    crown_dieback_pct = forms.IntegerField(
        label=gettext_lazy("How much of the crown is dead?"),
        min_value=0,
        max_value=100,
        help_text=gettext_lazy("% of the branches, from 0 to 100; in winter dead twigs snap and have no buds"),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    large_dead_limbs = _yes_no(gettext_lazy("Large dead limbs?"), gettext_lazy("Stay out from under them."))
    topped_or_defoliated = _yes_no(gettext_lazy("Topped, or bare of leaves last summer?"))
    cavity = _yes_no(gettext_lazy("A cavity?"), gettext_lazy("a hole in the trunk that you could put a fist into"))
    conks = _yes_no(gettext_lazy("Fungus brackets?"), gettext_lazy("on the trunk or where it meets the ground"))
    cracks = _yes_no(gettext_lazy("An open seam or crack?"))
    construction = _yes_no(gettext_lazy("Digging or building over the roots in the last 3 years?"))
    herbicide = _yes_no(gettext_lazy("Lawn weedkiller near the trunk this season?"))
    salt = forms.ChoiceField(
        label=gettext_lazy("Road salt"),
        choices=Salt.choices,
        widget=forms.RadioSelect,
        help_text=gettext_lazy("scorched leaf edges, white crust on the soil"),
    )
    old_holes = forms.ChoiceField(
        label=gettext_lazy("Holes 3 or more years old"), choices=HoleClosure.choices, widget=forms.RadioSelect
    )
    no_safe_place = _yes_no(
        gettext_lazy("Wires, traffic, or no safe place to stand?"),
        gettext_lazy("where you would drill and where the pail would hang"),
    )
    treatment = forms.ChoiceField(
        label=gettext_lazy("Was it ever treated with insecticide inside the tree?"),
        choices=TreatmentAnswer.choices,
        widget=forms.RadioSelect,
        help_text=gettext_lazy("injected into the trunk, or poured on the soil at its foot; ask the owner"),
    )
    said_by = _said_by()
    note = forms.CharField(
        label=gettext_lazy("Note"), max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    STEPS = (
        (gettext_lazy("Crown"), ("crown_dieback_pct", "large_dead_limbs", "topped_or_defoliated")),
        (gettext_lazy("Trunk"), ("cavity", "conks", "cracks")),
        (gettext_lazy("Root zone"), ("construction", "herbicide")),
        (gettext_lazy("Salt"), ("salt",)),
        (gettext_lazy("Old holes"), ("old_holes",)),
        (gettext_lazy("A safe place"), ("no_safe_place",)),
        (gettext_lazy("Insecticide"), ("treatment", "said_by")),
        (gettext_lazy("Day and note"), ("date", "note")),
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        need_a_name(self, cleaned)
        return cleaned

    @property
    def steps(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """The form in the order of the walk round the tree."""
        return [(heading, [self[name] for name in names]) for heading, names in self.STEPS]

    @property
    def answers(self) -> dict[str, Any]:
        names = ("crown_dieback_pct", *YES_OR_NO, "salt", "old_holes")
        return {name: self.cleaned_data[name] for name in names}


# A tree's life ------------------------------------------------------------------------


class LifeForm(UnitsForm):
    """What becomes of the tree, with the reason."""

    edition = forms.IntegerField(widget=forms.HiddenInput)
    life = forms.ChoiceField(label=gettext_lazy("What becomes of it"), widget=forms.RadioSelect)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200, required=False)

    WORDS = {
        Life.CANDIDATE: gettext_lazy("Consider it for tapping"),
        Life.RESTING: gettext_lazy("Let it rest"),
        Life.EXCLUDED: gettext_lazy("Not for tapping"),
        Life.FELLED: gettext_lazy("It is felled"),
    }

    def __init__(self, *args: Any, tree: Tree, **kwargs: Any) -> None:
        self.tree = tree
        super().__init__(*args, initial={"edition": tree.edition}, **kwargs)
        back = tree.life in {Life.RESTING, Life.EXCLUDED, Life.FELLED}
        choices = []
        for life, words in self.WORDS.items():
            if life != tree.life:
                choices.append((life, gettext_lazy("Back again") if back and life == Life.CANDIDATE else words))
        self.fields["life"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not cleaned.get("reason") and (cleaned.get("life") != Life.CANDIDATE or self.tree.life != Life.LISTED):
            self.add_error("reason", _("Write why; it stays in the tree’s history."))
        return cleaned


class MergeForm(UnitsForm):
    """Which of two entries stays."""

    keep = forms.ChoiceField(label=gettext_lazy("Keep"), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=gettext_lazy("How you know"), max_length=300, required=False, help_text=gettext_lazy("what you saw there")
    )

    def __init__(self, *args: Any, codes: tuple[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["keep"].choices = [(code, code) for code in codes]  # type: ignore[attr-defined]


# The list -----------------------------------------------------------------------------


class ListForm(forms.Form):
    """What the list of trees shows. All of it may be empty."""

    q = forms.CharField(
        label=gettext_lazy("Find"),
        required=False,
        max_length=120,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
        help_text=gettext_lazy("tag, address or the town’s number"),
    )
    state = forms.TypedMultipleChoiceField(
        label=gettext_lazy("State"),
        choices=Shown.choices,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    group = forms.ChoiceField(label=gettext_lazy("Group"), required=False)
    land = forms.ChoiceField(
        label=gettext_lazy("Whose land"), choices=[("", gettext_lazy("any")), *Land.choices], required=False
    )
    tappable = forms.BooleanField(label=gettext_lazy("Species that may be tapped"), required=False)
    big = forms.BooleanField(label=gettext_lazy("Wide enough for a tap"), required=False)
    flag = forms.ChoiceField(
        label=gettext_lazy("Needs a look"),
        choices=[
            ("", gettext_lazy("all trees")),
            ("look", gettext_lazy("only what needs a look")),
            ("species", gettext_lazy("only where the species is open")),
        ],
        required=False,
    )
    sort = forms.ChoiceField(
        label=gettext_lazy("Sorted by"),
        choices=[("code", gettext_lazy("tag")), ("address", gettext_lazy("address"))],
        required=False,
    )

    NO_GROUP = "none"

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        groups = [(str(group.pk), group.name) for group in groups_for(person, "trees.see")]
        self.fields["group"].choices = [  # type: ignore[attr-defined]
            ("", gettext_lazy("any")),
            *groups,
            (self.NO_GROUP, gettext_lazy("no group yet")),
        ]

    @property
    def filters(self) -> dict[str, Any]:
        """The arguments of queries.filtered; what could not be read does not filter."""
        self.is_valid()
        chosen = self.cleaned_data
        group = chosen.get("group") or ""
        return {
            "q": chosen.get("q", ""),
            "states": chosen.get("state") or (),
            "group": int(group) if group.isdigit() else None,
            "no_group": group == self.NO_GROUP,
            "tappable": bool(chosen.get("tappable")),
            "big": bool(chosen.get("big")),
            "land": chosen.get("land", ""),
            "flag": chosen.get("flag", ""),
        }

    @property
    def is_narrowed(self) -> bool:
        return any(value for name, value in self.filters.items())
