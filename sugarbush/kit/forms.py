"""What is typed about pails, drums and depots."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.kit import codes
from sugarbush.kit.models import Container, Depot, FoodSafe
from sugarbush.parts.forms import QuantityField, UnitsForm, UnitsModelForm
from sugarbush.volunteers import people
from sugarbush.volunteers.changing import EditionMixin
from sugarbush.volunteers.models import Group, Person

LARGEST_ML = 2_000_000
MOST_AT_ONCE = 500
LONGEST_CODE = 20


def _capacity() -> QuantityField:
    return QuantityField(kind="volume", label=gettext_lazy("Holds"), smallest=100, largest=LARGEST_ML)


def _holder() -> forms.ModelChoiceField:  # type: ignore[type-arg]  # of people
    return forms.ModelChoiceField(
        Person.objects.none(), label=gettext_lazy("Who has it"), required=False, empty_label=gettext_lazy("nobody")
    )


class HolderMixin(forms.BaseForm):
    """Offers the people the keeper may see, and whoever has it now."""

    def offer_holders(self, keeper: Person, now: int | None = None) -> None:
        seen = people.within_sight(keeper).filter(is_active=True)
        holders = Person.objects.filter(pk__in=seen.values("pk")) | Person.objects.filter(pk=now or 0)
        self.fields["held_by"].queryset = holders  # type: ignore[attr-defined]  # a ModelChoiceField


class ContainerForm(EditionMixin, HolderMixin, UnitsModelForm):
    """One pail or drum."""

    capacity_ml = _capacity()
    held_by = _holder()

    class Meta:
        model = Container
        fields = ["code", "capacity_ml", "material", "food_safe", "held_by"]
        widgets = {"food_safe": forms.RadioSelect}
        help_texts = {
            "code": gettext_lazy("as it is written on it"),
            "material": gettext_lazy("for example: food-grade plastic"),
        }
        error_messages = {"code": {"unique": gettext_lazy("That code is on the list already. Choose another.")}}

    def __init__(self, *args: Any, keeper: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.keeper = keeper
        self.offer_holders(keeper, self.instance.held_by_id)

    def reopen_with(self) -> dict[str, Any]:
        return super().reopen_with() | {"keeper": self.keeper}

    def clean_code(self) -> str:
        return " ".join(str(self.cleaned_data["code"]).split())


class ManyForm(HolderMixin, UnitsForm):
    """Many alike at once, with codes that count up."""

    count = forms.IntegerField(
        label=gettext_lazy("How many"),
        min_value=1,
        max_value=MOST_AT_ONCE,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    first = forms.CharField(
        label=gettext_lazy("First code"),
        max_length=LONGEST_CODE,
        help_text=gettext_lazy("It ends in a number, such as P-01; the others count up from it."),
    )
    capacity_ml = _capacity()
    material = forms.CharField(
        label=gettext_lazy("Made of"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("for example: food-grade plastic"),
    )
    food_safe = forms.ChoiceField(
        label=gettext_lazy("For food?"), choices=FoodSafe.choices, widget=forms.RadioSelect, initial=FoodSafe.UNTESTED
    )
    held_by = _holder()

    def __init__(self, *args: Any, keeper: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_holders(keeper)

    def clean_first(self) -> str:
        first = " ".join(str(self.cleaned_data["first"]).split())
        try:
            codes.run_of(first, 1)
        except ValueError:
            raise ValidationError(_("The first code has to end in a number, such as P-01.")) from None
        return first

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if "first" in given and "count" in given:
            given["codes"] = codes.run_of(given["first"], given["count"])
            if len(given["codes"][-1]) > LONGEST_CODE:
                self.add_error("first", _("The last code would be longer than 20 signs. Choose a shorter first one."))
        return given


class DepotForm(EditionMixin, UnitsModelForm):
    """A place where sap is brought."""

    groups = forms.ModelMultipleChoiceField(
        Group.objects.all(),
        label=gettext_lazy("Groups that bring their sap here"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = Depot
        fields = ["name", "place", "hours", "keyholder"]
        help_texts = {
            "hours": gettext_lazy("for example: daily 16:00 to 18:00"),
            "keyholder": gettext_lazy("a name and how to reach them"),
        }
        error_messages = {"name": {"unique": gettext_lazy("There is a depot of this name. Choose another.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not Group.objects.exists():
            del self.fields["groups"]
        elif self.instance.pk:
            self.fields["groups"].initial = self.instance.groups.all()


class SearchForm(forms.Form):
    """Narrows the list of containers."""

    q = forms.CharField(label=gettext_lazy("Code"), required=False, max_length=LONGEST_CODE)
    food = forms.ChoiceField(
        label=gettext_lazy("For food?"), required=False, choices=[("", gettext_lazy("all")), *FoodSafe.choices]
    )

    def narrow(self, rows: QuerySet[Container]) -> tuple[QuerySet[Container], dict[str, str]]:
        """The containers that fit, and what was asked for; whatever cannot be read narrows nothing."""
        self.is_valid()
        asked = {name: str(value) for name, value in self.cleaned_data.items() if value}
        if "q" in asked:
            rows = rows.filter(code__icontains=asked["q"])
        if "food" in asked:
            rows = rows.filter(food_safe=asked["food"])
        return rows, asked
