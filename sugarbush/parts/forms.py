"""Forms that know the reader's units, keep what was typed, and ask when a number looks odd."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.parts.quantities import BrixField, QuantityField
from sugarbush.parts.shown import system_of

__all__ = [
    "AsksMixin",
    "BrixField",
    "DayInput",
    "MomentInput",
    "QuantityField",
    "Question",
    "UnitsForm",
    "UnitsMixin",
    "UnitsModelForm",
]


class DayInput(forms.DateInput):
    """A day, by the browser's own calendar where it has one."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs=attrs, format="%Y-%m-%d")


class MomentInput(forms.DateTimeInput):
    """A day and time on the programme's clock."""

    input_type = "datetime-local"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs=attrs, format="%Y-%m-%dT%H:%M")


@dataclass(frozen=True, kw_only=True)
class Question:
    """Something odd the person may let stand."""

    code: str
    sentence: str
    yes: str
    answer: str
    answered: bool
    instead: str = ""
    instead_words: str = ""


class UnitsMixin(forms.BaseForm):
    """Gives its quantity fields the reader's units: `SomeForm(..., units="us")`."""

    def __init__(self, *args: Any, units: str = "metric", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A number counts in the unit it was typed under, even if the person changed units in another tab since.
        typed_under = self.data.get(self.units_name) if self.is_bound else None
        self.units = system_of(typed_under or units)
        for name, field in self.fields.items():
            if field.error_messages.get("required") == forms.Field.default_error_messages["required"]:
                field.error_messages["required"] = gettext_lazy("This answer is needed.")
            if isinstance(field, QuantityField):
                field.use_units(self.units)
                field.keep(self.get_initial_for_field(field, name))

    @property
    def units_name(self) -> str:
        """The name under which the page says which units it showed."""
        return self.add_prefix("shown_units")


class AsksMixin(forms.BaseForm):
    """A form that questions what is odd and takes it when the person says it is right.

    In `clean()`: `self.ask("ten_pails", sentence, about=volume_ml, yes="80 L is right")`. The form is not valid until
    each question is confirmed. A confirmation holds for that value only: another number is asked about again.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.questions: list[Question] = []
        for change in self._posted(self.instead_name) if self.is_bound else ():
            name, _sign, typed = change.partition("=")
            if name in self.fields:
                held: Any = self.data
                data = held.copy()
                data[self.add_prefix(name)] = typed
                self.data = data

    @property
    def stands_name(self) -> str:
        """The name under which confirmations are posted."""
        return self.add_prefix("stands")

    @property
    def instead_name(self) -> str:
        """The name under which the offered other value is posted."""
        return self.add_prefix("instead")

    def _posted(self, name: str) -> list[str]:
        if hasattr(self.data, "getlist"):
            return list(self.data.getlist(name))
        held = self.data.get(name, [])
        return [held] if isinstance(held, str) else list(held)

    def ask(
        self, code: str, sentence: str, *, about: object = "", yes: str = "", instead: tuple[str, str] | None = None
    ) -> bool:
        """Put a question. True when the person has already said that it is right.

        about: the odd value. yes: the words of the tick that lets it stand. instead: a field of this form and what
        was probably meant, ("amount", "8.0 L"), offered as a second tick.
        """
        answer = f"{code}:{about}"
        name, typed = instead or ("", "")
        question = Question(
            code=code,
            sentence=sentence,
            yes=yes or _("Yes, this is right"),
            answer=answer,
            answered=answer in self._posted(self.stands_name),
            instead=f"{name}={typed}" if instead else "",
            instead_words=_("Change it to %(typed)s") % {"typed": typed} if instead else "",
        )
        self.questions.append(question)
        return question.answered

    @property
    def confirmed(self) -> set[str]:
        """Codes of the questions the person has let stand."""
        return {question.code for question in self.questions if question.answered}

    def full_clean(self) -> None:
        self.questions = []
        super().full_clean()

    def is_valid(self) -> bool:
        return super().is_valid() and all(question.answered for question in self.questions)


class UnitsForm(AsksMixin, UnitsMixin, forms.Form):
    """A plain form with units and questions."""


class UnitsModelForm(AsksMixin, UnitsMixin, forms.ModelForm):  # type: ignore[type-arg]  # the model comes with Meta
    """A model's form with units and questions. Declare its quantities as QuantityField."""
