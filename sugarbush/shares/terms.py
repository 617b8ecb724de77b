"""The terms of a share rule: kept as plain values, read into the core's parts and set-asides, said in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.core.sharerules import MEASURES, Measure, Part
from sugarbush.core.units import from_ml
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

EDITION = 1
KINDS: dict[str, StrOrPromise] = {
    "school": gettext_lazy("a school"),
    "food_bank": gettext_lazy("the food bank"),
    "sampling": gettext_lazy("tasting and samples"),
    "next_year": gettext_lazy("a gift kept for next year"),
    "other": gettext_lazy("something else"),
}
MEASURE_WORDS: dict[str, StrOrPromise] = {
    "sugar": gettext_lazy("by the sugar each brought: litres × °Brix"),
    "sap": gettext_lazy("by the litres each brought"),
    "equal": gettext_lazy("equally"),
    "hours": gettext_lazy("by the hours each stood at the pan"),
    "taps": gettext_lazy("to tree owners, by the taps in their trees"),
}
EQUAL_FOR: dict[str, StrOrPromise] = {
    "took_part": gettext_lazy("everyone who brought sap or stood at the pan"),
    "members": gettext_lazy("everyone with a role this season"),
}
OWNER_PER: dict[str, StrOrPromise] = {
    "": gettext_lazy("no fixed jars"),
    "owner": gettext_lazy("for each owner"),
    "tree": gettext_lazy("for each tapped tree"),
    "tap": gettext_lazy("for each tap"),
}
MOST_JARS = 100_000


@dataclass(frozen=True, kw_only=True)
class PartTerm:
    """One part of what is shared: by which measure, how much of the rest, the first jars, the least to be in it.

    least: in what the measure counts: millilitres of sap (also for sugar), minutes, or taps.
    """

    measure: Measure
    per_cent: Decimal = Decimal(100)
    first_jars: int = 0
    first_size_ml: int = 0
    least: int = 0

    @property
    def first_ml(self) -> int:
        return self.first_jars * self.first_size_ml

    def part(self) -> Part:
        """As the core has it. The least is seen to where claims are made, since sugar is judged by its litres."""
        return Part(measure=self.measure, of_rest=Fraction(self.per_cent), floor_units=self.first_ml)


@dataclass(frozen=True, kw_only=True)
class AsideTerm:
    """What goes off first: jars of one size, or a volume."""

    kind: str
    name: str
    jars: int = 0
    size_ml: int = 0
    volume_ml: int = 0

    @property
    def total_ml(self) -> int:
        return self.jars * self.size_ml or self.volume_ml

    @property
    def first(self) -> dict[int, int]:
        return {self.size_ml: self.jars} if self.jars else {}


@dataclass(frozen=True, kw_only=True)
class OwnerTerm:
    """A fixed number of jars for owners who wished for them."""

    per: str = ""
    jars: int = 0
    size_ml: int = 0

    def count(self, *, trees: int, taps: int) -> int:
        return {"": 0, "owner": 1, "tree": trees, "tap": taps}[self.per] * self.jars


@dataclass(frozen=True, kw_only=True)
class Terms:
    """A whole rule."""

    parts: tuple[PartTerm, ...]
    asides: tuple[AsideTerm, ...] = ()
    owners: OwnerTerm = field(default_factory=OwnerTerm)
    equal_for: str = "took_part"

    def kept(self) -> dict[str, Any]:
        """Plain values, the same for the same terms."""
        return {
            "edition": EDITION,
            "parts": [
                {
                    "measure": part.measure,
                    "per_cent": format(part.per_cent.normalize(), "f"),
                    "first_jars": part.first_jars,
                    "first_size_ml": part.first_size_ml,
                    "least": part.least,
                }
                for part in self.parts
            ],
            "asides": [
                {"kind": one.kind, "name": one.name, "jars": one.jars, "size_ml": one.size_ml, "ml": one.volume_ml}
                for one in self.asides
            ],
            "owners": {"per": self.owners.per, "jars": self.owners.jars, "size_ml": self.owners.size_ml},
            "equal_for": self.equal_for,
        }


DEFAULT = Terms(parts=(PartTerm(measure="sugar"),))


def read(kept: Mapping[str, Any]) -> Terms:
    """The terms as they were kept. Raises Refused, with every sentence, for what is no rule."""
    if not kept:
        return DEFAULT
    try:
        owners = kept.get("owners") or {}
        terms = Terms(
            parts=tuple(
                PartTerm(
                    measure=row["measure"],
                    per_cent=Decimal(row["per_cent"]),
                    first_jars=int(row["first_jars"]),
                    first_size_ml=int(row["first_size_ml"]),
                    least=int(row["least"]),
                )
                for row in kept["parts"]
            ),
            asides=tuple(
                AsideTerm(
                    kind=row["kind"],
                    name=row["name"],
                    jars=int(row["jars"]),
                    size_ml=int(row["size_ml"]),
                    volume_ml=int(row["ml"]),
                )
                for row in kept["asides"]
            ),
            owners=OwnerTerm(
                per=owners.get("per", ""), jars=int(owners.get("jars", 0)), size_ml=int(owners.get("size_ml", 0))
            ),
            equal_for=kept.get("equal_for", "took_part"),
        )
    except (KeyError, TypeError, ValueError, ArithmeticError) as wrong:
        raise Refused([Reason(code="terms", fact=_("These are not the terms of a share rule."))]) from wrong
    check(terms)
    return terms


def check(terms: Terms) -> None:
    """Raises Refused with every reason why this is no rule."""
    reasons: list[str] = []
    if not terms.parts:
        reasons.append(_("Say by what the syrup is shared."))
    measures = [part.measure for part in terms.parts]
    if len(set(measures)) != len(measures):
        reasons.append(_("Each measure may stand once: put its two lines together."))
    for part in terms.parts:
        if part.measure not in MEASURES:
            reasons.append(_("This measure is not known."))
        if not 0 < part.per_cent <= 100:
            reasons.append(_("A part is above 0 % and at most 100 %."))
        if not 0 <= part.first_jars <= MOST_JARS or (part.first_jars > 0) != (part.first_size_ml > 0):
            reasons.append(_("First jars need their number and their size."))
        if part.least < 0:
            reasons.append(_("The least to be in a part is 0 or more."))
    if terms.parts and sum(part.per_cent for part in terms.parts) != 100:
        reasons.append(_("The parts together make 100 %."))
    names = [one.name.strip().casefold() for one in terms.asides]
    if len(set(names)) != len(names):
        reasons.append(_("Each set-aside needs a name of its own."))
    for one in terms.asides:
        if not one.name.strip() or one.kind not in KINDS:
            reasons.append(_("Each set-aside says for whom it is."))
        jars = 0 < one.jars <= MOST_JARS and one.size_ml > 0 and not one.volume_ml
        if not (jars or (one.volume_ml > 0 and not one.jars)):
            reasons.append(_("Each set-aside is so many jars of a size, or a volume of syrup."))
    own = terms.owners
    if own.per not in OWNER_PER or ((own.per != "") != (0 < own.jars <= MOST_JARS and own.size_ml > 0)):
        reasons.append(_("Owners’ jars need their number, their size, and for what they are."))
    if terms.equal_for not in EQUAL_FOR:
        reasons.append(_("Say who is in when it is shared equally."))
    if reasons:
        raise Refused([Reason(code="terms", fact=fact) for fact in dict.fromkeys(reasons)])


def size_words(size_ml: int, units: str) -> str:
    """A jar's size as people say it: "250 mL", "1 L"; with US fluid ounces in front for those who think in them."""
    metric = f"{size_ml / 1000:g}\u00a0L" if size_ml >= 1000 else f"{size_ml}\u00a0mL"
    if units != "us":
        return metric
    ounces = from_ml(size_ml, "fl oz").quantize(Decimal("0.1"))
    return f"{ounces:f}".removesuffix(".0") + f"\u00a0fl\u00a0oz ({metric})"


def jars_words(jars: Mapping[int, int], units: str) -> str:
    """Jars by size as words: "2 jars of 500 mL and 1 jar of 250 mL"; "no jars" for none."""
    said = [
        ngettext("%(n)d jar of %(size)s", "%(n)d jars of %(size)s", count)
        % {"n": count, "size": size_words(size, units)}
        for size, count in sorted(jars.items(), reverse=True)
        if count
    ]
    return joined(said) if said else _("no jars")


def joined(parts: Sequence[str]) -> str:
    """One, two and three."""
    if len(parts) < 2:
        return "".join(parts)
    return _("%(some)s and %(last)s") % {"some": ", ".join(parts[:-1]), "last": parts[-1]}


def sentences(terms: Terms, units: str) -> list[str]:
    """The rule in plain words, a sentence a thing, in the order in which it is done."""
    said = []
    if terms.asides:
        rows = [
            _("%(name)s (%(what)s)")
            % {
                "name": one.name,
                "what": jars_words(one.first, units) if one.jars else volume_words(one.volume_ml, units),
            }
            for one in terms.asides
        ]
        said.append(_("First, this is set aside: %(rows)s.") % {"rows": joined(rows)})
    if terms.owners.per:
        said.append(
            _("Then owners who wished for a share get %(jars)s %(per)s.")
            % {
                "jars": jars_words({terms.owners.size_ml: terms.owners.jars}, units),
                "per": OWNER_PER[terms.owners.per],
            }
        )
    for part in terms.parts:
        said += _part_sentences(part, terms, units)
    if len(terms.parts) > 1:
        said.append(_("A part that nobody is in goes to the others."))
    said.append(
        _(
            "Shares are worked out to the millilitre and add up exactly. Jars go out the largest first, each to "
            "whoever still has most to come, until every jar has a taker."
        )
    )
    return said


def _part_sentences(part: PartTerm, terms: Terms, units: str) -> list[str]:
    whole = part.per_cent == 100
    amount = (
        _("What is left") if whole else _("%(n)s %% of what is left") % {"n": format(part.per_cent.normalize(), "f")}
    )
    said = [_("%(amount)s is shared %(how)s.") % {"amount": amount, "how": MEASURE_WORDS[part.measure]}]
    if part.measure == "equal":
        said.append(_("In it: %(who)s.") % {"who": EQUAL_FOR[terms.equal_for]})
    if part.measure == "sugar":
        said.append(
            _(
                "The sugar is the entry’s own reading, else the delivery’s, else the tree’s mean this season, else the "
                "programme’s."
            )
        )
    if part.least:
        said.append(_("Who has less than %(least)s is not in this part.") % {"least": least_words(part, units)})
    if part.first_jars:
        said.append(
            _("Everybody in this part first gets %(jars)s.")
            % {"jars": jars_words({part.first_size_ml: part.first_jars}, units)}
        )
    return said


def least_words(part: PartTerm, units: str) -> str:
    """The least to be in a part, with its unit."""
    if part.measure in {"sugar", "sap"}:
        return _("%(volume)s of sap") % {"volume": volume_words(part.least, units)}
    if part.measure == "hours":
        return _("%(n)s h at the pan") % {"n": f"{part.least / 60:g}"}
    return ngettext("%(n)d tap", "%(n)d taps", part.least) % {"n": part.least}
