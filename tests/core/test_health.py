"""The verdict of a health check. The signs follow trade-facts item 11: common practice [M] unless noted."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import CoreError, OutOfRange
from sugarbush.core.health import COMMON_PRACTICE, UVM_SLIDES, HealthVerdict, health_verdict

SOUND: dict[str, Any] = {
    "crown_dieback_pct": 0, "cavity": False, "conks": False, "cracks": False, "large_dead_limbs": False,
    "root_or_construction_work": False, "road_salt": "none", "old_holes_open": False, "topped_or_defoliated": False,
}  # fmt: skip
ORDER = {"pass": 0, "watch": 1, "fail": 2}


def verdict(**seen: Any) -> HealthVerdict:
    return health_verdict(**{**SOUND, **seen})


def test_a_sound_tree_passes_without_a_reason() -> None:
    judged = verdict()
    assert (judged.verdict, judged.reasons, judged.arborist, judged.most_taps) == ("pass", (), False, 2)


@pytest.mark.parametrize(
    ("dieback", "expected", "most_taps"),
    [(9.9, "pass", 2), (10, "watch", 1), (10.1, "watch", 1), (25, "watch", 1), (25.1, "fail", 0), (100, "fail", 0)],
)
def test_dead_crown_counts_from_10_per_cent_and_stops_above_25(dieback: float, expected: str, most_taps: int) -> None:
    judged = verdict(crown_dieback_pct=dieback)
    assert (judged.verdict, judged.most_taps) == (expected, most_taps)
    assert [reason.code for reason in judged.reasons] == ([] if expected == "pass" else ["crown_dieback"])


def test_the_sentence_about_the_crown_names_the_share() -> None:
    assert verdict(crown_dieback_pct=30).reasons[0].sentence() == (
        "30 % of the crown is dead, more than a quarter. Do not tap."
    )


@pytest.mark.parametrize("sign", ["cavity", "conks", "cracks", "large_dead_limbs"])
def test_a_wounded_trunk_or_dead_limb_fails_and_calls_for_an_arborist(sign: str) -> None:
    judged = verdict(**{sign: True})
    assert (judged.verdict, judged.arborist, judged.most_taps) == ("fail", True, 0)
    assert [reason.code for reason in judged.reasons] == [sign]
    assert "arborist" in judged.reasons[0].sentence() or "ask" in judged.reasons[0].sentence()


@pytest.mark.parametrize("sign", ["root_or_construction_work", "topped_or_defoliated", "old_holes_open"])
def test_a_tree_under_strain_rests(sign: str) -> None:
    judged = verdict(**{sign: True})
    assert (judged.verdict, judged.arborist) == ("fail", False)
    assert judged.reasons[0].sentence().endswith("rest.")


@pytest.mark.parametrize(("salt", "expected"), [("none", "pass"), ("some", "watch"), ("heavy", "fail")])
def test_road_salt_reduces_or_rests(salt: str, expected: str) -> None:
    assert verdict(road_salt=salt).verdict == expected


def test_every_reason_tells_its_standing_and_only_the_closing_of_holes_has_a_source() -> None:
    judged = verdict(
        crown_dieback_pct=12, cavity=True, conks=True, cracks=True, large_dead_limbs=True,
        root_or_construction_work=True, road_salt="some", old_holes_open=True, topped_or_defoliated=True,
    )  # fmt: skip
    assert {reason.code: reason.standing for reason in judged.reasons if reason.standing != COMMON_PRACTICE} == {
        "old_holes_open": UVM_SLIDES
    }
    assert len(judged.reasons) == 9


def test_the_worst_reasons_come_first() -> None:
    judged = verdict(crown_dieback_pct=12, road_salt="heavy")
    assert [reason.code for reason in judged.reasons] == ["road_salt", "crown_dieback"]


@pytest.mark.parametrize("dieback", [-0.1, 100.1])
def test_a_share_of_the_crown_that_cannot_be_is_refused(dieback: float) -> None:
    with pytest.raises(OutOfRange, match="dead part of the crown"):
        verdict(crown_dieback_pct=dieback)


def test_an_unknown_answer_about_salt_is_refused() -> None:
    with pytest.raises(CoreError, match="road salt"):
        verdict(road_salt="")


ANSWERS = st.fixed_dictionaries(
    {
        name: st.booleans()
        if isinstance(value, bool)
        else (st.floats(0, 100) if name == "crown_dieback_pct" else st.sampled_from(["none", "some", "heavy"]))
        for name, value in SOUND.items()
    }
)


@given(ANSWERS, st.sampled_from([name for name, value in SOUND.items() if isinstance(value, bool)]))
def test_one_more_sign_never_makes_the_verdict_better(answers: dict[str, Any], sign: str) -> None:
    without, with_sign = verdict(**{**answers, sign: False}), verdict(**{**answers, sign: True})
    assert ORDER[without.verdict] <= ORDER[with_sign.verdict]
    assert len(with_sign.reasons) == len(without.reasons) + 1
