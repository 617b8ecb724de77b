"""An odd number is questioned; the person may let it stand, and only that number."""

from __future__ import annotations

from typing import Any

import pytest
from django.http import QueryDict
from django.template import Context, Template

from sugarbush.parts.forms import QuantityField, UnitsForm

pytestmark = pytest.mark.pure

PAIL_ML = 8_000


class LogForm(UnitsForm):
    sap = QuantityField(kind="volume", label="Sap in the pail")

    def clean(self) -> dict[str, Any] | None:
        kept = super().clean()
        volume_ml = self.cleaned_data.get("sap") or 0
        if volume_ml > 2 * PAIL_ML:
            words = "80 L from one 8 L pail is ten pails."
            self.ask("pails", words, about=volume_ml, yes="80 L is right", instead=("sap", "8.0 L"))
        return kept


def sent(query: str) -> LogForm:
    return LogForm(QueryDict(query), units="metric")


def test_eighty_litres_from_one_pail_are_questioned_and_not_lost() -> None:
    form = sent("sap=80")
    assert not form.is_valid()
    assert not form.errors  # nothing is wrong with it: it is only odd
    html = Template("{% load look %}{% form_fields form %}").render(Context({"form": form}))
    assert "80 L from one 8 L pail is ten pails." in html
    assert 'value="80"' in html
    assert "80 L is right" in html
    assert "Change it to 8.0 L" in html


def test_what_the_person_confirms_stands() -> None:
    form = sent("sap=80&stands=pails:80000")
    assert form.is_valid()
    assert form.cleaned_data["sap"] == 80_000
    assert form.confirmed == {"pails"}


def test_a_confirmation_holds_for_that_number_only() -> None:
    assert not sent("sap=90&stands=pails:80000").is_valid()


def test_the_number_that_was_probably_meant_is_one_tick_away() -> None:
    form = sent("sap=80&instead=sap%3D8.0+L")
    assert form.is_valid()
    assert form.cleaned_data["sap"] == 8_000


def test_an_offer_for_a_field_that_is_not_on_the_form_is_passed_over() -> None:
    form = sent("sap=7&instead=owner%3D12")
    assert form.is_valid()
    assert form.cleaned_data == {"sap": 7_000}


def test_a_likely_number_is_not_questioned() -> None:
    form = sent("sap=7")
    assert form.is_valid()
    assert form.questions == []
