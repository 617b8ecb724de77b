"""Refusals: one family, each naming the quantity and the value, in words that can be translated."""

import pytest

from sugarbush.core.errors import CoreError, OutOfRange, check_range
from sugarbush.core.sugar import density_kg_m3


def test_every_refusal_is_a_value_error_that_carries_what_was_given() -> None:
    with pytest.raises(ValueError) as refused:
        density_kg_m3(130)
    assert isinstance(refused.value, OutOfRange)
    assert (refused.value.quantity, refused.value.value) == ("sugar", 130)
    assert (refused.value.low, refused.value.high, refused.value.unit) == (0, 85, "Brix")


def test_a_refusal_can_be_said_in_another_language() -> None:
    german = {
        OutOfRange.template: "Bitte prüfen: %(quantity)s %(value)s %(unit)s, erlaubt %(low)s bis %(high)s %(unit)s.",
        "sugar": "Zucker",
    }
    refused = OutOfRange(quantity="sugar", value=130, low=0, high=85, unit="Brix")
    assert (
        refused.sentence(lambda text: german.get(text, text)) == "Bitte prüfen: Zucker 130 Brix, erlaubt 0 bis 85 Brix."
    )


def test_a_per_cent_sign_in_what_was_typed_does_no_harm() -> None:
    assert "100%(x)s" in CoreError(quantity="volume", value="100%(x)s").sentence()


def test_what_is_no_number_is_outside_every_range() -> None:
    with pytest.raises(OutOfRange):
        check_range(float("nan"), low=0, high=1, quantity="sugar", unit="Brix")
