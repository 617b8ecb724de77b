"""What is asked of the map: which trees, and which piece of the town."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise, cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.desk.map.boxes import Box
from sugarbush.desk.map.rows import SHOWN_ON_MAP, Wanted, big_enough_um
from sugarbush.parts.templatetags.look import STATE_WORDS
from sugarbush.trees.models import Land
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

Words = str | Promise

FLAG = "attention"
NO_GROUP = "none"
STATES = {state.mark: int(state) for state in SHOWN_ON_MAP}
KEY_ORDER = (*(name for name in STATES if name != "listed"), "listed", FLAG)


class WantedForm(forms.Form):
    """The key of the map and its filters, as they stand in the address. `key` says that the states were chosen."""

    key = forms.BooleanField(required=False)
    state = forms.MultipleChoiceField(choices=[(name, STATE_WORDS[name]) for name in KEY_ORDER], required=False)
    kinds = forms.BooleanField(label=gettext_lazy("Kinds for tapping only"), required=False)
    big = forms.BooleanField(label=gettext_lazy("Big enough for a tap"), required=False)
    group = forms.ChoiceField(label=gettext_lazy("Group"), required=False)
    land = forms.ChoiceField(
        label=gettext_lazy("Whose land"), required=False, choices=[("", gettext_lazy("any land")), *Land.choices]
    )
    west = forms.FloatField(required=False)
    south = forms.FloatField(required=False)
    east = forms.FloatField(required=False)
    north = forms.FloatField(required=False)

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: list[tuple[str, Words]] = [("", _("all groups")), (NO_GROUP, _("without a group"))]
        choices += [(str(group.pk), group.name) for group in groups_for(person, "trees.see")]
        field = self.fields["group"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101  # tells the type checker what stands above
        field.choices = choices

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        sides = [cleaned.get(side) for side in ("west", "south", "east", "north")]
        if all(side is not None for side in sides):
            if not Box(**self._sides()).is_sound:
                raise ValidationError(_("That is not a piece of the map. Here is the whole town."))
        elif any(side is not None for side in sides):
            raise ValidationError(_("A side of the box is missing. Here is the whole town."))
        return cleaned

    def _sides(self) -> dict[str, float]:
        return {side: self.cleaned_data[side] for side in ("west", "south", "east", "north")}

    @property
    def box(self) -> Box | None:
        """The piece of the map asked for, when one was."""
        if not self.is_valid() or self.cleaned_data["west"] is None:
            return None
        return Box(**self._sides())

    @cached_property
    def wanted(self) -> Wanted:
        """What the filters ask for. What could not be read counts as not said."""
        self.is_valid()
        said = self.cleaned_data
        names = set(said.get("state") or ()) if said.get("key") else {*STATES, FLAG}
        group = said.get("group") or ""
        return Wanted(
            states=frozenset(STATES[name] for name in names if name in STATES),
            flagged=FLAG in names,
            tappable_only=bool(said.get("kinds")),
            at_least_um=big_enough_um() if said.get("big") else 0,
            group_id=int(group) if group.isdecimal() else None,
            without_group=group == NO_GROUP,
            land=said.get("land") or "",
        )


def groups_for(person: Person, act: str) -> list[Group]:
    """Groups in which the person may do the act."""
    reach = access.scope(person, act)
    return list(Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids))
