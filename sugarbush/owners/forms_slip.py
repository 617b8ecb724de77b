"""The slip as it is brought: what it says, the scan, the answers about insecticide, and the owner when new."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator, Sequence
from typing import Any

from django import forms
from django.core.files.base import File
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.core.taphole import HIGHEST_HOLE_MM
from sugarbush.owners.actions_slips import NewOwner
from sugarbush.owners.minding import minds
from sugarbush.owners.models import Owner, OwnerKind, Permission
from sugarbush.owners.queries import owners_for
from sugarbush.parts.forms import DayInput, QuantityField, UnitsModelForm
from sugarbush.parts.uploads import check_document, held, hold, let_go
from sugarbush.seasons.models import Season
from sugarbush.trees.forms_fields import DayField
from sugarbush.trees.models import Land, Treatment, Tree
from sugarbush.trees.records import TreatmentAnswer
from sugarbush.volunteers.models import Person

OWNERS_IN_A_LIST = 400
EARLIEST, LATEST = 2000, 2100
TERMS = [
    "capacity",
    "signed_by",
    "date_from",
    "date_to",
    "most_taps",
    "least_diameter_um",
    "most_height_mm",
    "largest_bit_um",
    "most_depth_mm",
    "public_number",
    "fee_text",
    "insurance_to",
    "conditions",
    "share_wish",
    "evidence_note",
    "belongs_because",
]
ANSWERS = [("", gettext_lazy("not asked yet")), *TreatmentAnswer.choices]


def _limit(kind: str, label: Any, smallest: int, largest: int) -> QuantityField:
    return QuantityField(kind=kind, label=label, smallest=smallest, largest=largest, required=False)


class TermsForm(UnitsModelForm):
    """What the slip says: who, from when to when, within which limits."""

    most_taps = forms.TypedChoiceField(
        label=gettext_lazy("Most taps a tree"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", gettext_lazy("as the guideline says")), (0, "0"), (1, "1"), (2, "2")],
    )
    least_diameter_um = _limit("diameter", gettext_lazy("Trunk at least, across"), 50_000, 3_000_000)
    most_height_mm = _limit("length", gettext_lazy("Hole no higher than"), 100, HIGHEST_HOLE_MM)
    largest_bit_um = _limit("bit", gettext_lazy("Largest bit"), 3_000, 20_000)
    most_depth_mm = _limit("length", gettext_lazy("Deepest hole"), 10, 100)

    class Meta:
        model = Permission
        fields = TERMS
        widgets = {
            "capacity": forms.RadioSelect,
            "share_wish": forms.RadioSelect,
            "date_from": DayInput,
            "date_to": DayInput,
            "insurance_to": DayInput,
            "conditions": forms.Textarea(attrs={"rows": 3, "maxlength": 4000}),
        }
        labels = {
            "capacity": gettext_lazy("Who signs"),
            "signed_by": gettext_lazy("Name of who said it"),
            "date_from": gettext_lazy("From"),
            "date_to": gettext_lazy("To"),
            "public_number": gettext_lazy("Number of the public permit"),
            "fee_text": gettext_lazy("Fee"),
            "insurance_to": gettext_lazy("Insurance proof until"),
            "conditions": gettext_lazy("Other conditions"),
            "share_wish": gettext_lazy("Their share"),
            "evidence_note": gettext_lazy("How it was given"),
            "belongs_because": gettext_lazy("How we know that the trees are theirs"),
        }
        help_texts = {
            "evidence_note": gettext_lazy("on paper at the door, to Bob, for example"),
            "belongs_because": gettext_lazy("the town’s map, a deed, the line of the fence"),
            "fee_text": gettext_lazy("with its currency"),
        }

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name in ("date_from", "date_to", "insurance_to"):
            day = cleaned.get(name)
            if day and not EARLIEST <= day.year < LATEST:
                self.add_error(name, _("The year %(year)d can’t be right. Check the day.") % {"year": day.year})
        start, end = cleaned.get("date_from"), cleaned.get("date_to")
        if start and end and end < start:
            self.add_error("date_to", _("It would end before it starts. Check both days."))
        if len(cleaned.get("conditions") or "") > 4000:
            self.add_error("conditions", _("This is too long: at most 4,000 letters. Keep the rest with the scan."))
        return cleaned

    def ask_about_days(self, cleaned: dict[str, Any]) -> None:
        """Question days that have passed, or go far ahead."""
        start, end = cleaned.get("date_from"), cleaned.get("date_to")
        if end and end < timezone.localdate():
            self.ask("ended", _("The last day has passed already."), about=end, yes=_("It ended then"))
        elif start and end and (end - start).days > 366 * 5:
            self.ask("long", _("This yes would hold for more than 5 years."), about=end, yes=_("It holds that long"))


class ScanForm(forms.Form):
    """A scan that is not asked for twice when the form comes back with a question."""

    scan = forms.FileField(
        label=gettext_lazy("Scan or photo of the slip"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png"}),
        help_text=gettext_lazy("PDF, JPEG or PNG, up to 12 MB."),
        error_messages={"empty": gettext_lazy("This file is empty. Choose another one.")},
    )
    scan_kept = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_scan(self) -> File[Any] | None:
        sent = self.cleaned_data.get("scan")
        if not sent:
            return held(self.data.get(self.add_prefix("scan_kept")) or "", whose=self.person.pk)
        clean = check_document(sent)
        # Known at once: whatever else is wrong on the form, the scan is here and stays.
        posted: Any = self.data
        data = posted.copy()
        data[self.add_prefix("scan_kept")] = hold(clean, whose=self.person.pk)
        self.data = data
        clean.seek(0)
        return clean

    @property
    def scan_is_here(self) -> bool:
        return bool(self.is_bound and self.data.get(self.add_prefix("scan_kept")))

    def scan_saved(self) -> None:
        """The scan is where it belongs; the held copy may go."""
        let_go(self.data.get(self.add_prefix("scan_kept")) or "")


class NewSlipForm(ScanForm, TermsForm):
    """A slip for chosen trees, with its owner, answers and land."""

    uuid = forms.UUIDField(initial=uuid.uuid4, widget=forms.HiddenInput)
    owner = forms.ModelChoiceField(
        Owner.objects.none(),
        label=gettext_lazy("Owner"),
        required=False,
        empty_label=gettext_lazy("somebody new, written below"),
    )
    new_name = forms.CharField(label=gettext_lazy("Name of the owner"), max_length=120, required=False)
    new_kind = forms.ChoiceField(
        label=gettext_lazy("Kind of owner"),
        choices=OwnerKind.choices,
        initial=OwnerKind.PERSON.value,
        required=False,
        widget=forms.RadioSelect,
    )
    new_phone = forms.CharField(label=gettext_lazy("Telephone"), max_length=40, required=False)
    new_email = forms.EmailField(label=gettext_lazy("E-mail"), required=False)
    new_address = forms.CharField(label=gettext_lazy("Their address"), max_length=200, required=False)
    land = forms.ChoiceField(
        label=gettext_lazy("Whose land, where nobody knows yet"),
        required=False,
        choices=[("", gettext_lazy("still not known")), *((k, v) for k, v in Land.choices if k != Land.UNKNOWN)],
    )
    land_said_by = forms.CharField(label=gettext_lazy("Who said whose land it is"), max_length=120, required=False)
    said_on = DayField(label=gettext_lazy("Day it was said"), required=False)
    treated = forms.ChoiceField(
        label=gettext_lazy("Given insecticide inside the tree, all of them?"),
        required=False,
        choices=ANSWERS,
        widget=forms.RadioSelect,
        help_text=gettext_lazy("Injected or soaked into the soil. A tree given any is not tapped."),
    )

    def __init__(self, *args: Any, trees: Sequence[Tree], decides: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.trees, self.decides = trees, decides
        self._offer_owners()
        season = Season.current()
        if season is not None:
            self.fields["date_from"].initial = season.tapping_from
            self.fields["date_to"].initial = season.tapping_to
        self.unknown_land = [tree for tree in trees if tree.land == Land.UNKNOWN]
        if not (decides and self.unknown_land):
            del self.fields["land"], self.fields["land_said_by"]
        if len(trees) > 1:
            for tree in trees:
                self.fields[self._name(tree)] = forms.ChoiceField(
                    label=_("%(tag)s: given insecticide?") % {"tag": tree.code},
                    choices=[("", _("as answered for all")), *TreatmentAnswer.choices],
                    required=False,
                )

    def _offer_owners(self) -> None:
        field = self.fields["owner"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101  # it stands above
        visible = owners_for(self.person)
        theirs = set(visible.filter(owns__tree__in=[tree.pk for tree in self.trees]).values_list("pk", flat=True))
        field.queryset = visible
        if not visible.exists():
            del self.fields["owner"]
            return
        shown = visible.order_by("name", "pk")
        if visible.count() > OWNERS_IN_A_LIST:
            # Any owner may be chosen; the list stays short enough for a phone. A known name typed below finds the rest.
            shown = shown.filter(pk__in=theirs) if theirs else shown[:OWNERS_IN_A_LIST]
        self.owner_choices = sorted(shown, key=lambda owner: owner.pk not in theirs)
        field.choices = [
            ("", field.empty_label or ""),
            *((owner.pk, f"{owner.name} ({owner.get_kind_display()})") for owner in self.owner_choices),
        ]
        if len(theirs) == 1 and not field.initial:
            self.initial.setdefault("owner", next(iter(theirs)))

    @staticmethod
    def _name(tree: Tree) -> str:
        return f"treated_{tree.pk}"

    def tree_rows(self) -> Iterator[tuple[Tree, Treatment | None, forms.BoundField | None]]:
        """Each tree, the latest answer about insecticide, and the field for an answer of its own."""
        answers = Treatment.objects.for_trees([tree.pk for tree in self.trees])
        for tree in self.trees:
            name = self._name(tree)
            yield tree, next(iter(answers[tree.pk]), None), self[name] if name in self.fields else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        owner, name = cleaned.get("owner"), " ".join((cleaned.get("new_name") or "").split())
        if owner is None and not name and not {"owner", "new_name"} & set(self.errors):
            self.add_error("new_name", _("Say whose trees they are: choose an owner or write the name."))
        if cleaned.get("land") and not (cleaned.get("land_said_by") or "").strip():
            self.add_error("land_said_by", _("Say who told you whose land it is."))
        if owner is None and name and "owner" in self.fields:
            self._ask_same_name(name)
        self.ask_about_days(cleaned)
        self._ask_to_mind(cleaned, owner)
        return cleaned

    def _ask_same_name(self, name: str) -> None:
        same = owners_for(self.person).filter(name__iexact=name).first()
        if same is not None:
            self.ask(
                "same-name",
                _("%(name)s is written down already, as %(kind)s.")
                % {"name": same.name, "kind": same.get_kind_display()},
                about=name,
                yes=_("Another owner of the same name"),
                instead=("owner", str(same.pk)),
            )

    def _ask_to_mind(self, cleaned: dict[str, Any], owner: Owner | None) -> None:
        trees = self.trees
        if land := cleaned.get("land"):
            trees = [_standing_on(tree, land) if tree.land == Land.UNKNOWN else tree for tree in trees]
        for mind in minds(
            trees=trees,
            capacity=cleaned.get("capacity", ""),
            owner_kind=owner.kind if owner else cleaned.get("new_kind") or OwnerKind.PERSON,
            owner=owner,
            on=timezone.localdate(),
            names=self.decides,
        ):
            self.ask(mind.code, mind.sentence, about=f"{owner.pk if owner else ''}", yes=mind.yes)

    @property
    def slip(self) -> Permission:
        """The slip as typed, unsaved."""
        slip = Permission(**{name: self.cleaned_data[name] for name in TERMS})
        slip.uuid = self.cleaned_data["uuid"]
        if self.cleaned_data.get("owner"):
            slip.owner = self.cleaned_data["owner"]
        if self.cleaned_data.get("scan"):
            slip.evidence = self.cleaned_data["scan"]
        return slip

    @property
    def new_owner(self) -> NewOwner | None:
        if self.cleaned_data.get("owner"):
            return None
        data = self.cleaned_data
        reach = {name: data[f"new_{name}"] for name in ("phone", "email", "address")}
        name = " ".join(data["new_name"].split())
        return NewOwner(name=name, kind=data["new_kind"] or OwnerKind.PERSON, reach=reach)

    @property
    def answers(self) -> dict[int, str]:
        """Answers about insecticide by tree: its own, else the one for all."""
        data = self.cleaned_data
        given = {tree.pk: data.get(self._name(tree)) or data.get("treated") or "" for tree in self.trees}
        return {tree_id: answer for tree_id, answer in given.items() if answer}


def _standing_on(tree: Tree, land: str) -> Tree:
    """The same tree as if its land were known, for questions only; never saved."""
    other = Tree(pk=tree.pk, code=tree.code, land=land, life=tree.life)
    other._state.adding = False
    return other


def split_tags(text: str) -> list[str]:
    """Tags typed in a line, parted by commas, blanks or line ends."""
    return [code[:40] for code in re.split(r"[\s,;]+", text) if code]
