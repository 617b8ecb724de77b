"""The share rule: written without a word of how it is kept, published before the first sap, only ever added to."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from sugarbush.parts.reasons import Refused
from sugarbush.shares import rules, terms
from sugarbush.shares.forms import RuleForm
from sugarbush.shares.models import ShareRule
from sugarbush.shares.terms import AsideTerm, OwnerTerm, PartTerm, Terms
from tests import make
from tests.shares import season as small

WHOLE = Terms(
    parts=(
        PartTerm(measure="sugar", per_cent=Decimal(90), first_jars=1, first_size_ml=250, least=5_000),
        PartTerm(measure="taps", per_cent=Decimal("10")),
    ),
    asides=(
        AsideTerm(kind="school", name="Millbrook School", jars=4, size_ml=250),
        AsideTerm(kind="next_year", name="Next year", volume_ml=1_500),
    ),
    owners=OwnerTerm(per="tree", jars=1, size_ml=125),
)


def test_a_rule_says_itself_in_plain_words():
    said = [sentence.replace("\u00a0", " ") for sentence in terms.sentences(WHOLE, "metric")]
    assert said == [
        "First, this is set aside: Millbrook School (4 jars of 250 mL) and Next year (1.50 L).",
        "Then owners who wished for a share get 1 jar of 125 mL for each tapped tree.",
        "90 % of what is left is shared by the sugar each brought: litres × °Brix.",
        (
            "The sugar is the entry’s own reading, else the delivery’s, else the tree’s mean this season, else the "
            "programme’s."
        ),
        "Who has less than 5.00 L of sap is not in this part.",
        "Everybody in this part first gets 1 jar of 250 mL.",
        "10 % of what is left is shared to tree owners, by the taps in their trees.",
        "A part that nobody is in goes to the others.",
        (
            "Shares are worked out to the millilitre and add up exactly. Jars go out the largest first, each to "
            "whoever still has most to come, until every jar has a taker."
        ),
    ]
    assert "8.5 fl oz (250 mL)" in terms.sentences(WHOLE, "us")[0].replace("\u00a0", " ")


def test_what_is_kept_reads_back_as_the_same_rule():
    assert terms.read(WHOLE.kept()) == WHOLE
    assert terms.read({}) == terms.DEFAULT


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        (Terms(parts=()), "Say by what the syrup is shared"),
        (Terms(parts=(PartTerm(measure="sap", per_cent=Decimal(90)),)), "together make 100 %"),
        (
            Terms(parts=(PartTerm(measure="sap", per_cent=Decimal(50)), PartTerm(measure="sap", per_cent=Decimal(50)))),
            "may stand once",
        ),
        (Terms(parts=(PartTerm(measure="sap", first_jars=1),)), "their number and their size"),
        (Terms(parts=terms.DEFAULT.parts, asides=(AsideTerm(kind="school", name="S"),)), "so many jars of a size"),
        (
            Terms(
                parts=terms.DEFAULT.parts,
                asides=(
                    AsideTerm(kind="school", name="S", volume_ml=1),
                    AsideTerm(kind="other", name="s ", volume_ml=1),
                ),
            ),
            "a name of its own",
        ),
        (Terms(parts=terms.DEFAULT.parts, owners=OwnerTerm(per="tap")), "Owners’ jars need"),
    ],
)
def test_what_is_no_rule_is_refused_in_words(wrong, sentence):
    with pytest.raises(Refused, match=sentence):
        terms.check(wrong)


def test_kept_terms_that_are_no_rule_are_refused():
    with pytest.raises(Refused, match="not the terms of a share rule"):
        terms.read({"parts": [{"measure": "sap"}]})


def filled(**changed):
    values = {
        name: str(value)
        for name, value in RuleForm.start_from(WHOLE, "One jar each first.").items()
        if value is not None
    }
    # Volumes are typed in litres; the form shows them so.
    values |= {"p1_least_sap": "5", "a2_volume": "1.5", "shown_units": "metric"}
    return values | changed


def test_a_steward_fills_in_the_rule_without_knowing_how_it_is_kept():
    form = RuleForm(filled(), units="metric")
    assert form.is_valid(), form.errors
    assert form.terms() == WHOLE


def test_a_form_that_makes_no_rule_says_why():
    form = RuleForm(filled(p2_per_cent="20"), units="metric")
    assert not form.is_valid()
    assert "The parts together make 100 %." in str(form.non_field_errors())


@pytest.mark.django_db
def test_before_the_first_sap_no_reason_is_asked_and_after_it_one_is():
    make.season()
    rule = small.publish()
    assert (rule.version, rule.reason, rules.changes(make.season())) == (1, "", [])
    make.collection(small.tapped())
    draft = rules.save_draft(season=make.season(), by=small.sol(), terms=WHOLE)
    with pytest.raises(Refused, match="A later version shows on every statement"):
        rules.publish(rule=draft, by=small.sol())
    second = rules.publish(rule=draft, by=small.sol(), reason="The members’ meeting wanted a first jar")
    (change,) = rules.changes(make.season())
    assert (change.version, change.reason, change.on) == (2, second.reason, second.published_at)
    assert rules.in_force(make.season()) == second
    assert ShareRule.objects.get(version=1).terms == small.BY_SUGAR.kept()


@pytest.mark.django_db
def test_a_first_rule_that_comes_after_the_sap_is_shown_as_late():
    make.season()
    make.collection(small.tapped())
    with pytest.raises(Refused, match="The first sap of the season came on"):
        small.publish()
    small.publish(reason="The steward was ill")
    (change,) = rules.changes(make.season())
    assert (change.first, change.reason) == (True, "The steward was ill")


@pytest.mark.django_db
def test_only_stewards_and_coordinators_write_the_rule():
    make.season()
    for person in (make.bob(), make.lena(), make.rhea(), make.charlie()):
        with pytest.raises(PermissionDenied):
            rules.save_draft(season=make.season(), by=person, terms=WHOLE)
    assert rules.save_draft(season=make.season(), by=make.alice(), terms=WHOLE).version == 1


@pytest.mark.django_db
def test_a_published_rule_is_not_deleted_and_a_closed_season_takes_none():
    season = make.season()
    rule = small.publish()
    with pytest.raises(TypeError):
        rule.delete()
    assert rules.publish(rule=rule, by=small.sol()).published_at == rule.published_at
    make.season(state="closed")
    with pytest.raises(Refused, match="is closed"):
        rules.save_draft(season=make.season(), by=small.sol(), terms=WHOLE)
    make.season(state="running")
    assert season.pk
