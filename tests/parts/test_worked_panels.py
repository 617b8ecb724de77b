"""The panel under a computed number: the sum, what went in with units and ranges, where it comes from and how sure."""

from __future__ import annotations

import html
import re

import pytest
from django.template import Context, Template

from sugarbush.core.handbook import ENTRIES, entry_for
from sugarbush.parts.worked import limits_in_words, working

pytestmark = pytest.mark.pure


def drawn(panel, source="{% worked panel %}") -> str:
    page = Template("{% load look %}" + source).render(Context({"panel": panel}))
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html.unescape(page)).replace("\u00a0", " "))


def test_a_panel_says_sum_inputs_range_source_standing_and_what_would_change_it():
    panel = working(
        "outlook.run_rating",
        of="tomorrow’s run",
        inputs={"low_c": -5, "high_c": 6},
        sums=["−5.0 °C is under 0 °C, 6.0 °C is over 4 °C"],
    )
    said = drawn(panel)
    entry = entry_for("outlook.run_rating")
    assert "How this was worked out: tomorrow’s run" in said
    for words in (
        entry.words,
        entry.source,
        "Read in the publisher's own text",
        entry.changes,
        "−5.0 °C is under 0 °C",
    ):
        assert words in said
    assert "Lowest −5.0 °C (from −80 °C)" in said


def test_numbers_and_ranges_are_in_the_readers_units():
    # 18.927 L are 5 US gal of 231 cubic inches; 1,000 L are 264.17 gal (scipy.constants has the same gallon).
    inputs = {"capacity_ml": 18_927, "held_ml": 0, "ml_an_hour": 500}
    us = drawn(working("outlook.hours_to_full", units="us", inputs=inputs))
    assert "Container 5.00 gal (up to 264.17 gal)" in us
    metric = drawn(working("outlook.hours_to_full", units="metric", inputs=inputs))
    assert "Container 18.93 L (up to 1,000 L)" in metric
    assert "Run 500 mL/h (0 to 100,000 mL/h)" in metric


def test_what_is_second_hand_or_from_memory_never_carries_the_tick():
    for entry in ENTRIES:
        said = drawn(working(entry.where[0]))
        assert entry.standing.lower() in said.lower()
        assert ("✓" in said) == entry.checked, entry.title


def test_each_of_several_formulas_names_its_own_source_and_standing():
    said = drawn(working("syrup.sap_per_syrup", "wounding.ring_growth"))
    assert "Ring growth from two girths : geometry" in said  # the title is a link
    assert "Second-hand, not checked" in said
    assert "✓ Worked out here" in said


def test_a_name_the_formula_does_not_know_is_a_slip_of_ours():
    with pytest.raises(KeyError, match="no input girth"):
        working("outlook.run_rating", inputs={"girth": 1})


def test_what_was_not_measured_is_said_in_words():
    assert "Container not measured" in drawn(working("outlook.hours_to_full", inputs={"capacity_ml": None}))


def test_no_working_draws_nothing_and_open_opens():
    assert drawn(None).strip() == ""
    page = Template("{% load look %}{% worked panel open=True %}").render(Context({"panel": working("sugar.pool")}))
    assert '<details class="worked" open>' in page


@pytest.mark.parametrize("units", ["us", "metric"])
def test_no_range_ends_in_a_stored_unit_or_in_nothing(units):
    for entry in ENTRIES:
        for one in entry.inputs:
            said = limits_in_words(one, units)
            assert "µm" not in said
            assert not re.search(r"(^|\D)0\.0+\D", said), said
