"""Every number on a page carries its unit, in the reader's own system."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.template import Context, Template

from sugarbush.parts.shown import in_words

pytestmark = pytest.mark.pure


def drawn(source: str, **context: Any) -> str:
    return Template("{% load look %}" + source).render(Context(context))


def test_five_us_gallons_read_as_1893_litres_and_as_500_gallons() -> None:
    # 1 US gal = 231 in3 = 3.785411784 L (NIST Handbook 44, appendix C [M]); 5 x 3.785411784 = 18.92705892.
    assert drawn("{% volume 18927 %}", units="metric") == '<span class="qty">18.93<span class="unit">L</span></span>'
    assert drawn("{% volume 18927 %}", units="us") == '<span class="qty">5.00<span class="unit">gal</span></span>'


def test_a_reader_without_a_choice_sees_metric_units() -> None:
    assert drawn("{% volume 6500 %}") == '<span class="qty">6.50<span class="unit">L</span></span>'


def test_an_exact_volume_shows_every_millilitre_with_thousands_marked() -> None:
    assert ">3,412.651<" in drawn("{% volume 3412651 exact=True %}", units="metric")


def test_what_was_not_measured_is_said_in_words() -> None:
    for tag in ("volume", "length_mm", "diameter_um", "girth", "bit_um", "temperature", "brix", "mass_g", "per_cent"):
        assert drawn("{% " + tag + " nothing %}", nothing=None) == "not measured"


def test_nothing_collected_is_nought_and_not_unmeasured() -> None:
    assert ">0.00<" in drawn("{% volume 0 %}")


def test_a_missing_volume_carries_a_real_minus() -> None:
    assert ">−1.50<" in drawn("{% volume ml %}", ml=-1500)


@pytest.mark.parametrize(
    ("tag", "value", "metric", "us"),
    [
        # 1 in = 25.4 mm, 1 lb = 453.59237 g exactly (international yard and pound, 1959); F = 9/5 C + 32.
        ("length_mm", 914, "91.4 cm", "36.0 in"),
        ("diameter_um", 457_200, "45.7 cm", "18.0 in"),
        ("girth", 304_800, "95.8 cm", "37.7 in"),  # pi x 12 in = 37.699 in
        ("bit_um", 7_938, "7.9 mm", "5/16 in"),
        ("temperature", Decimal("-2.2"), "−2.2 °C", "28.0 °F"),
        ("mass_g", 19_051, "19.1 kg", "42.0 lb"),
        ("brix", Decimal("2.20"), "2.2 °Brix", "2.2 °Brix"),
        ("per_cent", Decimal("95.8"), "95.8 %", "95.8 %"),
    ],
)
def test_a_reading_is_shown_in_the_readers_units(tag: str, value: object, metric: str, us: str) -> None:
    for system, expected in (("metric", metric), ("us", us)):
        number, unit = expected.split(" ")
        html = f'<span class="qty">{number}<span class="unit">{unit}</span></span>'
        assert drawn("{% " + tag + " value %}", value=value, units=system) == html


def test_a_quantity_in_a_sentence_keeps_number_and_unit_together() -> None:
    assert in_words("volume", 6500, "metric") == "6.50\u00a0L"
    assert drawn('{% quantity_words "volume" 6500 %}', units="us") == "1.72\u00a0gal"


@pytest.mark.parametrize(
    ("state", "word"),
    [
        ("listed", "Listed"),
        ("considered", "Considered"),
        ("asked", "Asked"),
        ("allowed", "Allowed"),
        ("ready", "Ready"),
        ("tapped", "Tapped"),
        ("pull", "To pull"),
        ("resting", "Resting"),
        ("not", "Not for tapping"),
        ("attention", "Needs a look"),
    ],
)
def test_a_state_is_a_shape_and_a_word(state: str, word: str) -> None:
    html = drawn("{% state_mark state %}", state=state)
    assert f"#k-{state}" in html
    assert f"</svg>{word}</span>" in html
    assert 'aria-hidden="true"' in html


def test_a_felled_tree_has_a_word_and_no_shape() -> None:
    assert drawn('{% state_mark "felled" %}') == '<span class="state">Felled</span>'


def test_a_tag_shows_the_code_and_escapes_it() -> None:
    assert drawn('{% tree_tag "QH-0183" %}') == '<span class="tag">QH-0183</span>'
    assert "<b>" not in drawn("{% tree_tag code %}", code="<b>")


def test_a_gate_has_one_rail_for_each_reason_and_its_next_step() -> None:
    class Rail:
        fact, detail = "The town has not said yes.", "Asked 4 February."
        next_text, next_url = "Remind the forester", "/permissions/7/"

    html = drawn("{% gate reasons title %}", reasons=[Rail(), Rail()], title="QH-0412 can’t be tapped yet: 2 things")
    assert html.count("<li>") == 2
    assert html.count('<a href="/permissions/7/">Remind the forester</a>') == 2
    assert "open" not in html


def test_a_gate_without_reasons_stands_open() -> None:
    html = drawn('{% gate reasons "May be tapped today: 1 tap" %}', reasons=[])
    assert 'class="gate open"' in html
    assert "<li>" not in html
