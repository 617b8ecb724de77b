"""The verdict of a health check, worked out from its answers and explained.

"pass": as many taps as the size allows. "watch": one tap at most. "fail": no tap until a new check.
Most of these signs are common practice without an opened source, and say so [M]; where a limit was read, the reason
names it. A doubtful tree belongs to an arborist, whatever this page says.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from sugarbush.core.errors import CoreError, OutOfRange, gettext_noop

Verdict = Literal["pass", "watch", "fail"]
Salt = Literal["none", "some", "heavy"]

WATCH_DIEBACK_PCT = 10
FAIL_DIEBACK_PCT = 25

COMMON_PRACTICE = gettext_noop("common practice")
UVM_SLIDES = gettext_noop("University of Vermont Extension slides: holes of healthy trees close in 2 to 3 years")


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthReason:
    """One thing seen on the tree, what it means, and the standing of the rule.

    code: stays the same in every language.  verdict: what this sign alone would give.  text: the sentence, with
    gaps for ``values``.  standing: "common practice" or the source.
    """

    code: str
    verdict: Verdict
    text: str
    standing: str
    values: tuple[tuple[str, object], ...] = ()

    def sentence(self, translate: Callable[[str], str] = gettext_noop) -> str:
        """The reason in plain words, translated if a translating function is given.

        >>> HealthReason(code="x", verdict="watch", text="%(n)d holes.", standing="", values=(("n", 2),)).sentence()
        '2 holes.'
        """
        return translate(self.text) % dict(self.values) if self.values else translate(self.text)


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthVerdict:
    """The verdict, the reasons (worst first), the most taps it leaves, and whether to ask an arborist."""

    verdict: Verdict
    reasons: tuple[HealthReason, ...]
    arborist: bool

    @property
    def most_taps(self) -> int:
        """Taps this check leaves at most: 2, 1 or 0. The size rule may allow fewer."""
        return {"pass": 2, "watch": 1, "fail": 0}[self.verdict]


_ARBORIST_SIGNS = {
    "cavity": gettext_noop("The trunk has a cavity. Do not tap; ask an arborist to look at the tree."),
    "conks": gettext_noop("Fungus grows on the trunk or root flare. Do not tap; ask an arborist to look at the tree."),
    "cracks": gettext_noop("The trunk has a seam or crack. Do not tap; ask an arborist to look at the tree."),
    "large_dead_limbs": gettext_noop("Large limbs are dead. Stay out from under them; ask an arborist to look."),
}
_REST_SIGNS = {
    "root_or_construction_work": gettext_noop(
        "Digging, building or root cutting near the tree in the last 3 years. Let it rest."
    ),
    "lawn_weedkiller": gettext_noop("Lawn weedkiller was used near the trunk. Do not tap this season."),
    "no_safe_place": gettext_noop("Wires, traffic or no safe place to stand. Leave this tree to itself."),
    "topped_or_defoliated": gettext_noop("The tree was topped or lost its leaves last summer. Let it rest."),
}


def _dieback(crown_dieback_pct: float) -> HealthReason | None:
    values = (("pct", round(crown_dieback_pct)),)
    if crown_dieback_pct > FAIL_DIEBACK_PCT:
        text = gettext_noop("%(pct)d %% of the crown is dead, more than a quarter. Do not tap.")
        return HealthReason(code="crown_dieback", verdict="fail", text=text, standing=COMMON_PRACTICE, values=values)
    if crown_dieback_pct >= WATCH_DIEBACK_PCT:
        text = gettext_noop("%(pct)d %% of the crown is dead. One tap at most, or a year of rest.")
        return HealthReason(code="crown_dieback", verdict="watch", text=text, standing=COMMON_PRACTICE, values=values)
    return None


def _salt(road_salt: Salt) -> HealthReason | None:
    if road_salt == "heavy":
        text = gettext_noop("Heavy road-salt scorch. Let the tree rest.")
        return HealthReason(code="road_salt", verdict="fail", text=text, standing=COMMON_PRACTICE)
    if road_salt == "some":
        text = gettext_noop("Some road-salt scorch. One tap at most.")
        return HealthReason(code="road_salt", verdict="watch", text=text, standing=COMMON_PRACTICE)
    return None


def health_verdict(
    *,
    crown_dieback_pct: float,
    cavity: bool,
    conks: bool,
    cracks: bool,
    large_dead_limbs: bool,
    root_or_construction_work: bool,
    road_salt: Salt,
    old_holes_open: bool,
    topped_or_defoliated: bool,
    lawn_weedkiller: bool = False,
    no_safe_place: bool = False,
    some_holes_open: bool = False,
) -> HealthVerdict:
    """Judge a tree from the answers of one health check.

    crown_dieback_pct: dead part of the crown, 0 to 100 %; from 10 % watch, above 25 % fail.
    cavity, conks, cracks, large_dead_limbs: seen or not; each fails and asks for an arborist.
    root_or_construction_work: in the last 3 years.  topped_or_defoliated: last summer.  Each fails (rest).
    road_salt: "none", "some" (watch), "heavy" (fail).
    old_holes_open: holes of 3 or more years ago not closed; fails (rest).  some_holes_open: only some of them; watch.
    lawn_weedkiller: near the trunk this season.  no_safe_place: wires, traffic, nowhere to stand.  Each fails.
    Raises OutOfRange, CoreError.  Source: common practice [M], closing time of old holes [R] UVM Extension slides.

    >>> health_verdict(crown_dieback_pct=12, cavity=False, conks=False, cracks=False, large_dead_limbs=False,
    ...     root_or_construction_work=False, road_salt="none", old_holes_open=False,
    ...     topped_or_defoliated=False).verdict
    'watch'
    """
    if not 0 <= crown_dieback_pct <= 100:
        raise OutOfRange(quantity="dead part of the crown", value=crown_dieback_pct, low=0, high=100, unit="%")
    if road_salt not in ("none", "some", "heavy"):
        raise CoreError(quantity="road salt", value=road_salt)
    seen = {"cavity": cavity, "conks": conks, "cracks": cracks, "large_dead_limbs": large_dead_limbs}
    rests = {
        "root_or_construction_work": root_or_construction_work,
        "lawn_weedkiller": lawn_weedkiller,
        "no_safe_place": no_safe_place,
        "topped_or_defoliated": topped_or_defoliated,
    }
    reasons = [
        HealthReason(code=code, verdict="fail", text=text, standing=COMMON_PRACTICE)
        for signs, answers in ((_ARBORIST_SIGNS, seen), (_REST_SIGNS, rests))
        for code, text in signs.items()
        if answers[code]
    ]
    if old_holes_open:
        text = gettext_noop("Old tapholes have not closed after 3 years. Let the tree rest.")
        reasons.append(HealthReason(code="old_holes_open", verdict="fail", text=text, standing=UVM_SLIDES))
    elif some_holes_open:
        text = gettext_noop("Some old tapholes have not closed after 3 years. One tap at most.")
        reasons.append(HealthReason(code="some_holes_open", verdict="watch", text=text, standing=UVM_SLIDES))
    reasons += [reason for reason in (_dieback(crown_dieback_pct), _salt(road_salt)) if reason]
    reasons.sort(key=lambda reason: reason.verdict != "fail")
    verdict: Verdict = reasons[0].verdict if reasons else "pass"
    return HealthVerdict(verdict=verdict, reasons=tuple(reasons), arborist=any(seen.values()))
