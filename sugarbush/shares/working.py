"""From frozen inputs to shares: no database, no clock; the same inputs give the same shares.

Set-asides and owners' fixed jars go first, then the rule's parts in millilitres (core.sharerules), then jars by size
(core.jarshares). Every sum is exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, NoReturn

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.errors import OutOfRange
from sugarbush.core.jarshares import Due, jars_ml, most_first_jars, share_jars
from sugarbush.core.sharerules import Claim, SetAside, ShareOut, share_out
from sugarbush.core.shares import largest_remainder
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.shares import terms as rule_terms
from sugarbush.shares.terms import PartTerm, Terms, jars_words


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What one party gets, and how it came about. key: "person:1", "owner:1", "aside:the school"."""

    key: str
    name: str
    entitled_ml: int
    jars: dict[int, int]
    given_ml: int
    working: dict[str, Any]

    @property
    def party(self) -> str:
        return self.key.partition(":")[0]

    @property
    def over_ml(self) -> int:
        return self.given_ml - self.entitled_ml

    @property
    def count(self) -> int:
        return sum(self.jars.values())


@dataclass(frozen=True, kw_only=True)
class WorkedOut:
    """A whole working-out."""

    pool_ml: int
    jars: dict[int, int]
    outcomes: tuple[Outcome, ...]
    parts: tuple[dict[str, Any], ...]


def sizes(kept: Mapping[str, int]) -> dict[int, int]:
    """Jars by size from plain values, the largest first."""
    return {size: kept[str(size)] for size in sorted(map(int, kept), reverse=True) if kept[str(size)]}


def all_jars(inputs: Mapping[str, Any]) -> dict[int, int]:
    """All jars of the pool: those that stand here, and those an earlier final run handed out."""
    jars: dict[int, int] = {}
    for some in (*inputs["lots"].values(), *inputs.get("handed", {}).values()):
        for size, count in sizes(some).items():
            jars[size] = jars.get(size, 0) + count
    return dict(sorted(jars.items(), reverse=True))


def work_out(inputs: Mapping[str, Any], units: str = "metric") -> WorkedOut:
    """The shares of these inputs. Raises Refused, with what would fit, where the rule cannot be kept."""
    terms = rule_terms.read(inputs["rule"]["terms"])
    jars = all_jars(inputs)
    pool_ml = jars_ml(jars)
    if not pool_ml:
        _refuse("no-jars", _("No jar is free to share out."), _("Pack lots and have them released first"))
    fixed = _fixed(terms, inputs["owners"])
    names = _names(inputs, terms)
    _fits_aside(terms, fixed, jars, units)
    claims = _claims(inputs, terms)
    asides = [SetAside(key=f"aside:{one.name}", units=one.total_ml) for one in terms.asides]
    asides += [SetAside(key=key, units=jars_ml(first)) for key, first in fixed.items()]
    first = _first_jars(terms, claims, jars, fixed, pool_ml, units)
    out = share_out(pool_ml, claims, rule=[part.part() for part in terms.parts], set_asides=asides)
    due = dict(out.totals)
    for key, ml in out.set_asides:
        due[key] = due.get(key, 0) + ml
    for key, some in inputs.get("handed", {}).items():
        due.setdefault(key, 0)
        first[key] = _more_of(first.get(key, {}), sizes(some))
    dues = [Due(key=key, entitled_ml=ml, first=first.get(key, {})) for key, ml in sorted(due.items())]
    try:
        given = share_jars(jars, dues)
    except OutOfRange:
        # Only jars handed out under an earlier working-out can bring this about: all else was looked at above.
        _refuse(
            "handed",
            _("Of one size, too few jars stand here: they were handed out already."),
            _("Have some of them exchanged, or publish a version without first jars"),
        )
    about = _about(inputs)
    places = _part_rows(terms, out)
    outcomes = []
    for one in given:
        working = {
            **about.get(one.key, {}),
            "parts": places.get(one.key, []),
            "aside_ml": sum(ml for key, ml in out.set_asides if key == one.key),
            "first": {str(size): count for size, count in first.get(one.key, {}).items()},
            "jar_place": one.place,
            "jar_by_remainder": one.by_remainder,
        }
        outcomes.append(
            Outcome(
                key=one.key,
                name=names[one.key],
                entitled_ml=one.entitled_ml,
                jars=dict(one.jars),
                given_ml=one.given_ml,
                working=working,
            )
        )
    parts = tuple(
        {"measure": term.measure, "pool_ml": pool, "of": sum(share.weight > 0 for share in shares)}
        for term, (_part, pool, shares) in zip(terms.parts, out.parts, strict=True)
    )
    return WorkedOut(pool_ml=pool_ml, jars=jars, outcomes=tuple(outcomes), parts=parts)


def _refuse(code: str, fact: str, next_text: str = "", detail: str = "") -> NoReturn:
    raise Refused([Reason(code=code, fact=fact, detail=detail, next_text=next_text)])


def _more_of(one: Mapping[int, int], other: Mapping[int, int]) -> dict[int, int]:
    return {size: max(one.get(size, 0), other.get(size, 0)) for size in {*one, *other}}


def _names(inputs: Mapping[str, Any], terms: Terms) -> dict[str, str]:
    names = {f"person:{row['id']}": row["name"] for row in inputs["people"]}
    names |= {f"owner:{row['id']}": row["name"] for row in inputs["owners"]}
    names |= {key: key.partition(":")[2] for key in inputs.get("handed", {}) if key not in names}
    return names | {f"aside:{one.name}": one.name for one in terms.asides}


def _about(inputs: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """What each party brought, for its own page."""
    found: dict[str, dict[str, Any]] = {}
    for row in inputs["people"]:
        found[f"person:{row['id']}"] = {name: row[name] for name in ("sap_ml", "sugar", "min", "n", "read_ml")}
    for row in inputs["owners"]:
        found[f"owner:{row['id']}"] = {name: row[name] for name in ("taps", "trees", "wish")}
    return found


def _fixed(terms: Terms, owners: Iterable[Mapping[str, Any]]) -> dict[str, dict[int, int]]:
    """The fixed jars of each owner, by party."""
    found = {}
    for row in owners:
        count = terms.owners.count(trees=row["trees"], taps=row["taps"])
        if count:
            found[f"owner:{row['id']}"] = {terms.owners.size_ml: count}
    return found


def _claims(inputs: Mapping[str, Any], terms: Terms) -> list[Claim]:
    least = {part.measure: part.least for part in terms.parts}
    everyone = terms.equal_for == "members"
    claims = [
        Claim(
            key=f"person:{row['id']}",
            sap_ml=_at_least(row["sap_ml"], least.get("sap", 0)),
            sugar_weight=Decimal(row["sugar"]) if row["sap_ml"] >= least.get("sugar", 0) else Decimal(0),
            worked_min=_at_least(row["min"], least.get("hours", 0)),
            equally=row["took_part"] or (everyone and row["member"]),
        )
        for row in inputs["people"]
    ]
    claims += [
        Claim(key=f"owner:{row['id']}", taps=_at_least(row["taps"], least.get("taps", 0)), equally=False)
        for row in inputs["owners"]
    ]
    return claims


def _at_least(value: int, least: int) -> int:
    return value if value >= least else 0


def _fits_aside(terms: Terms, fixed: Mapping[str, Mapping[int, int]], jars: Mapping[int, int], units: str) -> None:
    """Refuses where set-asides and owners' jars are more than there is."""
    wanted: dict[int, int] = {}
    for first in (*(one.first for one in terms.asides), *fixed.values()):
        for size, count in first.items():
            wanted[size] = wanted.get(size, 0) + count
    for size, count in sorted(wanted.items()):
        if count > jars.get(size, 0):
            _refuse(
                "aside",
                _("Set-asides and owners’ jars take %(asked)s; there are %(there)s.")
                % {"asked": jars_words({size: count}, units), "there": jars_words({size: jars.get(size, 0)}, units)},
                _("Publish a version that sets aside less"),
            )
    total = jars_ml(wanted) + sum(one.volume_ml for one in terms.asides)
    if total > jars_ml(jars):
        _refuse(
            "aside",
            _("Set-asides and owners’ jars take %(asked)s; all jars together hold %(there)s.")
            % {"asked": volume_words(total, units), "there": volume_words(jars_ml(jars), units)},
            _("Publish a version that sets aside less"),
        )


def _first_jars(
    terms: Terms,
    claims: list[Claim],
    jars: Mapping[int, int],
    fixed: Mapping[str, Mapping[int, int]],
    pool_ml: int,
    units: str,
) -> dict[str, dict[int, int]]:
    """Jars that go before anything else, by party. Refuses, with the most that fits, first jars that do not fit."""
    first: dict[str, dict[int, int]] = {key: dict(some) for key, some in fixed.items()}
    for one in terms.asides:
        if one.first:
            first[f"aside:{one.name}"] = one.first
    left = dict(jars)
    for some in first.values():
        for size, count in some.items():
            left[size] -= count
    rest_ml = pool_ml - sum(jars_ml(some) for some in first.values()) - sum(one.volume_ml for one in terms.asides)
    inside = [[claim.key for claim in claims if claim.weight(part.measure)] for part in terms.parts]
    alive = {str(n): Fraction(part.per_cent) for n, part in enumerate(terms.parts) if inside[n]}
    if not alive and rest_ml:
        _refuse(
            "nobody",
            _("Nobody has brought anything that this rule weighs, so %(left)s has no taker.")
            % {"left": volume_words(rest_ml, units)},
            _("Share out when collections count, or publish a version that everyone is in"),
        )
    pools = {share.key: share.units for share in largest_remainder(rest_ml, alive)} if alive else {}
    for n, part in enumerate(terms.parts):
        if part.first_jars and inside[n]:
            _fits_first(part, len(inside[n]), left.get(part.first_size_ml, 0), pools[str(n)], units)
            left[part.first_size_ml] -= part.first_jars * len(inside[n])
            for key in inside[n]:
                own = first.setdefault(key, {})
                own[part.first_size_ml] = own.get(part.first_size_ml, 0) + part.first_jars
    return first


def _fits_first(part: PartTerm, people: int, there: int, part_ml: int, units: str) -> None:
    need = part.first_jars * people
    size = part.first_size_ml
    most = min(most_first_jars(there, people), part_ml // (size * people))
    if part.first_jars <= most:
        return
    fact = ngettext(
        "First jars for %(n)d person take %(need)s;",
        "First jars for %(n)d people take %(need)s;",
        people,
    ) % {"n": people, "need": jars_words({size: need}, units)}
    fact += " " + _("there are %(there)s, and this part of the pool is %(part)s.") % {
        "there": jars_words({size: there}, units),
        "part": volume_words(part_ml, units),
    }
    detail = (
        ngettext("At most %(n)d each fits.", "At most %(n)d each fit.", most) % {"n": most}
        if most
        else _("Not even one each fits.")
    )
    _refuse("first", fact, _("Publish a version with fewer or smaller first jars"), detail)


def _part_rows(terms: Terms, out: ShareOut) -> dict[str, list[dict[str, Any]]]:
    """For each party its line of each part it is in: weight of the whole weight, quota, millilitres, place."""
    found: dict[str, list[dict[str, Any]]] = {}
    for term, (_part, pool, shares) in zip(terms.parts, out.parts, strict=True):
        total = sum((share.weight for share in shares), Fraction(0))
        inside = [share for share in shares if share.weight]
        left = sum(share.by_remainder for share in inside)
        for share in inside:
            found.setdefault(share.key, []).append(
                {
                    "measure": term.measure,
                    "weight": exact(share.weight),
                    "total": exact(total),
                    "spread_ml": pool - term.first_ml * len(inside),
                    "first_ml": term.first_ml,
                    "quota": str(round(share.quota * 1000) / Decimal(1000)),
                    "ml": share.units,
                    "place": share.remainder_place,
                    "of": len(inside),
                    "left": left,
                    "by_remainder": share.by_remainder,
                }
            )
    return found


def exact(value: Fraction) -> str:
    """A weight as a decimal; weights are whole numbers or sums of litres times hundredths, so it ends."""
    return format(Decimal(value.numerator) / Decimal(value.denominator), "f")
