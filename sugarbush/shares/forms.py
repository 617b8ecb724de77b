"""The rule as a form that asks for no more than a steward knows, and the small forms of a working-out."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.forms import DayInput, QuantityField, UnitsForm
from sugarbush.parts.reasons import Refused
from sugarbush.shares import terms as rule_terms
from sugarbush.shares.terms import EQUAL_FOR, KINDS, MEASURE_WORDS, OWNER_PER, AsideTerm, OwnerTerm, PartTerm, Terms

PARTS, ASIDES = 3, 4
LARGEST_JAR_ML = 20_000


def jar_size(**kwargs: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=gettext_lazy("Jar size, mL"), min_value=1, max_value=LARGEST_JAR_ML, required=False, **kwargs
    )


def count(label: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=0, max_value=rule_terms.MOST_JARS, required=False)


class RuleForm(UnitsForm):
    """A share rule, without a word of how it is kept."""

    equal_for = forms.ChoiceField(
        label=gettext_lazy("Where it is shared equally, who is in"),
        choices=list(EQUAL_FOR.items()),
        widget=forms.RadioSelect,
        initial="took_part",
    )
    owners_per = forms.ChoiceField(
        label=gettext_lazy("Fixed jars for owners who wished for a share"),
        choices=list(OWNER_PER.items()),
        required=False,
    )
    owners_jars = count(gettext_lazy("Jars"))
    owners_size = jar_size()
    words = forms.CharField(
        label=gettext_lazy("In your own words"),
        help_text=gettext_lazy("Shown beside the rule as the programme writes it out."),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    @classmethod
    def start_from(cls, terms: Terms, words: str) -> dict[str, Any]:
        """What the form shows for a rule that is there."""
        values: dict[str, Any] = {
            "equal_for": terms.equal_for,
            "words": words,
            "owners_per": terms.owners.per,
            "owners_jars": terms.owners.jars or None,
            "owners_size": terms.owners.size_ml or None,
        }
        for n, part in enumerate(terms.parts[:PARTS], start=1):
            by_volume = part.measure in {"sugar", "sap"}
            values |= {
                f"p{n}_measure": part.measure,
                f"p{n}_per_cent": part.per_cent,
                f"p{n}_first_jars": part.first_jars or None,
                f"p{n}_first_size": part.first_size_ml or None,
                f"p{n}_least_sap": part.least if part.least and by_volume else None,
                f"p{n}_least_other": _other(part) if part.least and not by_volume else None,
            }
        for n, one in enumerate(terms.asides[:ASIDES], start=1):
            values |= {
                f"a{n}_kind": one.kind,
                f"a{n}_name": one.name,
                f"a{n}_jars": one.jars or None,
                f"a{n}_size": one.size_ml or None,
                f"a{n}_volume": one.volume_ml or None,
            }
        return values

    def part_rows(self) -> list[dict[str, BoundField]]:
        return [self._row("p", n) for n in range(1, PARTS + 1)]

    def aside_rows(self) -> list[dict[str, BoundField]]:
        return [self._row("a", n) for n in range(1, ASIDES + 1)]

    def _row(self, letter: str, n: int) -> dict[str, BoundField]:
        start = f"{letter}{n}_"
        return {name.removeprefix(start): self[name] for name in self.fields if name.startswith(start)}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors:
            try:
                rule_terms.check(self.terms())
            except Refused as refused:
                self.add_error(None, [str(reason) for reason in refused.reasons])
        return data

    def terms(self) -> Terms:
        """The rule that was typed. Lines with nothing in them are not there."""
        data = self.cleaned_data
        parts, asides = [], []
        for n in range(1, PARTS + 1):
            measure = data.get(f"p{n}_measure")
            if not measure:
                continue
            least = data.get(f"p{n}_least_sap") if measure in {"sugar", "sap"} else None
            other = data.get(f"p{n}_least_other")
            if other and measure in {"hours", "taps"}:
                least = int(other * 60) if measure == "hours" else int(other)
            parts.append(
                PartTerm(
                    measure=measure,
                    per_cent=data.get(f"p{n}_per_cent") or Decimal(0),
                    first_jars=data.get(f"p{n}_first_jars") or 0,
                    first_size_ml=data.get(f"p{n}_first_size") or 0,
                    least=least or 0,
                )
            )
        for n in range(1, ASIDES + 1):
            name, kind = (data.get(f"a{n}_name") or "").strip(), data.get(f"a{n}_kind") or ""
            jars, size = data.get(f"a{n}_jars") or 0, data.get(f"a{n}_size") or 0
            volume = data.get(f"a{n}_volume") or 0
            if not (name or jars or volume):
                continue
            asides.append(
                AsideTerm(
                    kind=kind or "other",
                    name=name or str(KINDS.get(kind, "")),
                    jars=jars,
                    size_ml=size,
                    volume_ml=volume,
                )
            )
        per = data.get("owners_per") or ""
        owners = OwnerTerm(
            per=per,
            jars=(data.get("owners_jars") or 0) if per else 0,
            size_ml=(data.get("owners_size") or 0) if per else 0,
        )
        return Terms(
            parts=tuple(parts), asides=tuple(asides), owners=owners, equal_for=data.get("equal_for") or "took_part"
        )


def _other(part: PartTerm) -> Decimal:
    return Decimal(part.least) / 60 if part.measure == "hours" else Decimal(part.least)


def _part_fields(n: int) -> dict[str, forms.Field]:
    return {
        f"p{n}_measure": forms.ChoiceField(
            label=gettext_lazy("Shared how"),
            choices=[("", gettext_lazy("not used")), *MEASURE_WORDS.items()],
            required=n == 1,
            initial="sugar" if n == 1 else "",
        ),
        f"p{n}_per_cent": forms.DecimalField(
            label=gettext_lazy("Part of what is left, %"),
            min_value=Decimal(0),
            max_value=Decimal(100),
            decimal_places=1,
            required=False,
            initial=Decimal(100) if n == 1 else None,
        ),
        f"p{n}_first_jars": count(gettext_lazy("First jars for each")),
        f"p{n}_first_size": jar_size(),
        f"p{n}_least_sap": QuantityField(
            kind="volume", label=gettext_lazy("Least sap to be in it"), smallest=0, required=False
        ),
        f"p{n}_least_other": forms.DecimalField(
            label=gettext_lazy("Least hours, or least taps"), min_value=Decimal(0), decimal_places=2, required=False
        ),
    }


def _aside_fields(n: int) -> dict[str, forms.Field]:
    return {
        f"a{n}_kind": forms.ChoiceField(
            label=gettext_lazy("For"), choices=[("", gettext_lazy("nobody")), *KINDS.items()], required=False
        ),
        f"a{n}_name": forms.CharField(label=gettext_lazy("Its name"), max_length=80, required=False),
        f"a{n}_jars": count(gettext_lazy("Jars")),
        f"a{n}_size": jar_size(),
        f"a{n}_volume": QuantityField(kind="volume", label=gettext_lazy("Or a volume"), smallest=0, required=False),
    }


for _n in range(1, PARTS + 1):
    RuleForm.base_fields |= _part_fields(_n)
for _n in range(1, ASIDES + 1):
    RuleForm.base_fields |= _aside_fields(_n)


class PreviewForm(UnitsForm):
    """On which figures, and with which jars, a rule is tried out. Nothing is kept."""

    jars = forms.IntegerField(label=gettext_lazy("Jars"), min_value=0, max_value=rule_terms.MOST_JARS, required=False)
    size = jar_size()

    def __init__(self, *args: Any, seasons: list[tuple[str, Any]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"] = forms.ChoiceField(label=gettext_lazy("Figures of"), choices=seasons, required=False)


class ReasonForm(forms.Form):
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 2}))


class OpenForm(forms.Form):
    """Until when questions can be asked."""

    until = forms.DateField(
        label=gettext_lazy("Questions until"),
        help_text=gettext_lazy("The whole day counts. A week is usual."),
        widget=DayInput,
    )

    def clean_until(self) -> dt.date:
        day: dt.date = self.cleaned_data["until"]
        if day < timezone.localdate():
            raise forms.ValidationError(_("Give a day from today on."))
        return day


class FinalForm(forms.Form):
    """Until when jars are kept for those who do not come."""

    collect_by = forms.DateField(
        label=gettext_lazy("Jars are kept until"),
        help_text=gettext_lazy("After that day they go on the list of what to give on."),
        widget=DayInput,
    )


class AskForm(forms.Form):
    """A question about a share. Its id is made with the page, so that a second press is the same question."""

    text = forms.CharField(
        label=gettext_lazy("What looks wrong?"), max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    query = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)


class AnswerForm(forms.Form):
    text = forms.CharField(label=gettext_lazy("Answer"), max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))
    changed = forms.BooleanField(
        label=gettext_lazy("Something has to change: the shares are worked out again"), required=False
    )


class GiveOnForm(forms.Form):
    to = forms.CharField(label=gettext_lazy("To whom"), max_length=120)
