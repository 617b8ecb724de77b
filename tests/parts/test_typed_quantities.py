"""A quantity is typed in the person's own unit, stored once, and never changed by looking at it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.parts.forms import BrixField, QuantityField, UnitsForm

pytestmark = pytest.mark.pure


class PailForm(UnitsForm):
    sap = QuantityField(kind="volume", label="Sap in the pail", smallest=0, largest=1_000_000)
    girth = QuantityField(kind="length", label="Girth", smallest=100, largest=12_000, required=False)
    bit = QuantityField(kind="bit", label="Bit", required=False)
    air = QuantityField(kind="temperature", label="Air", required=False)
    sugar = BrixField(label="Sugar", required=False)


def cleaned(units: str = "metric", **typed: str) -> dict[str, Any]:
    form = PailForm({"sap": "1", **typed}, units=units)
    assert form.is_valid(), form.errors
    return form.cleaned_data


def sentence(units: str = "metric", **typed: str) -> str:
    form = PailForm({"sap": "1", **typed}, units=units)
    assert not form.is_valid()
    (name,) = form.errors
    return str(form.errors[name][0])


def page(form: UnitsForm) -> str:
    return Template("{% load look %}{% form_fields form %}").render(Context({"form": form}))


@pytest.mark.parametrize(
    ("units", "name", "typed", "stored"),
    [
        # 1 US gal = 3785.411784 mL, 1 in = 25.4 mm exactly; 28 F = -2.2 C.
        ("metric", "sap", "6.5", 6_500),
        ("metric", "sap", "6,5", 6_500),
        ("us", "sap", "5", 18_927),
        ("metric", "sap", "5 gal", 18_927),
        ("us", "sap", "6.5 L", 6_500),
        ("us", "girth", "36", 914),
        ("metric", "bit", "8", 8_000),
        ("metric", "bit", "5/16", 7_938),
        ("us", "bit", "5/16", 7_938),
        ("us", "air", "28", Decimal("-2.2")),
        ("metric", "air", "-7", Decimal("-7.0")),
    ],
)
def test_a_number_counts_in_the_persons_unit_unless_another_is_named(
    units: str, name: str, typed: str, stored: int | Decimal
) -> None:
    assert cleaned(units, **{name: typed})[name] == stored


def test_a_reading_of_sugar_may_have_a_comma() -> None:
    assert cleaned(sugar="2,25")["sugar"] == Decimal("2.25")


def test_the_unit_is_printed_beside_the_box() -> None:
    metric, us = page(PailForm(units="metric")), page(PailForm(units="us"))
    assert "in litres (L)" in metric
    assert '<span class="unit" aria-hidden="true">L</span>' in metric
    assert "in US gallons (gal)" in us
    assert '<span class="unit" aria-hidden="true">gal</span>' in us


@given(st.integers(0, 1_000_000), st.sampled_from(["metric", "us"]))
def test_opening_a_form_and_sending_it_back_changes_no_stored_number(volume_ml: int, units: str) -> None:
    # Law of the job (I24): a unit is stored once; changing the display changes no stored number.
    opened = PailForm(initial={"sap": volume_ml}, units=units)
    shown = opened["sap"].value()
    sent = PailForm({"sap": shown}, initial={"sap": volume_ml}, units=units)
    assert sent.is_valid(), sent.errors
    assert sent.cleaned_data["sap"] == volume_ml
    assert "sap" not in sent.changed_data


@given(st.integers(-400, 400), st.sampled_from(["metric", "us"]))
def test_a_temperature_sent_back_as_shown_stays_what_it_was(tenths_c: int, units: str) -> None:
    stored = Decimal(tenths_c) / 10
    shown = PailForm(initial={"air": stored}, units=units)["air"].value()
    sent = PailForm({"sap": "1", "air": shown}, initial={"air": stored}, units=units)
    assert sent.is_valid(), sent.errors
    assert sent.cleaned_data["air"] == stored


def test_a_number_counts_in_the_unit_the_page_showed_when_it_was_typed() -> None:
    # The person changed to US units in another tab while this metric page was open.
    form = PailForm({"sap": "5", "shown_units": "metric"}, units="us")
    assert form.is_valid()
    assert form.cleaned_data["sap"] == 5_000


def test_the_page_says_under_which_units_its_numbers_are_typed() -> None:
    assert '<input type="hidden" name="shown_units" value="us">' in page(PailForm(units="us"))


def test_words_are_refused_and_kept_in_the_box() -> None:
    form = PailForm({"sap": "half a pail"}, units="metric")
    assert not form.is_valid()
    html = page(form)
    assert 'value="half a pail"' in html
    assert "Please look: “half a pail” can’t be read as a number. Write it like this: 6.5 L." in html
    assert 'aria-invalid="true"' in html
    assert 'id="id_sap_error"' in html
    assert "id_sap_error" in html.split('name="sap"')[1].split(">")[0]


def test_a_trunk_wider_than_a_house_is_taken_for_a_slip_of_the_unit() -> None:
    assert sentence(girth="141 m").endswith("Did you mean 141\u00a0cm?")


def test_less_than_nothing_is_refused_with_what_to_do() -> None:
    assert sentence(sap="-3") == "Less than nothing can’t be. Write 0 or more."


def test_a_number_that_can_be_read_in_two_ways_is_asked_about() -> None:
    assert "can be read in two ways" in sentence(sap="1,234")


def test_a_unit_of_another_kind_is_refused_with_those_that_fit() -> None:
    assert "gal" in sentence(sap="3 kg")


@pytest.mark.parametrize("typed", ["9" * 5000, "1e999", "nan", "∞", "١٢", "1/0", "<script>", "\x00"])
def test_absurd_typing_is_refused_with_a_sentence(typed: str) -> None:
    assert len(sentence(sap=typed)) > 10


@pytest.mark.parametrize(("limit_ml", "just"), [(1_000_000, "1000"), (0, "0")])
def test_a_limit_itself_is_still_taken(limit_ml: int, just: str) -> None:
    assert cleaned(sap=just)["sap"] == limit_ml


def test_just_above_the_limit_is_refused_in_the_persons_unit() -> None:
    assert sentence(sap="1000.01").startswith("1,000.01\u00a0L is too much here; it is at most 1,000.00\u00a0L.")


def test_a_limit_typed_back_as_it_was_shown_is_taken_as_the_limit() -> None:
    # 6.5 L / 3.785411784 = 1.7171 gal, shown as 1.72 gal, which by itself is 6,511 mL.
    field = QuantityField(kind="volume", largest=6_500, units="us")
    assert field.clean("1.72") == 6_500
    with pytest.raises(ValidationError, match=r"at most 1\.72"):
        field.clean("1.73")


def test_what_is_typed_never_becomes_markup() -> None:
    form = PailForm({"sap": '"><script>alert(1)</script>'})
    assert not form.is_valid()
    assert "<script>" not in page(form)


def test_a_needed_answer_left_empty_is_asked_for_once_and_linked() -> None:
    form = PailForm({"sap": ""})
    assert not form.is_valid()
    html = page(form)
    assert html.count("Please look:") == 1
    assert '<a href="#id_sap">Sap in the pail</a>: This answer is needed.' in html
