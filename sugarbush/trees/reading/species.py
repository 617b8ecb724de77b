"""Which species a town means by a botanical name, a common name or a code."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Literal, NamedTuple

from sugarbush.trees.reading.species_list import CROSSES, GENUS_TABLE, SPECIES_TABLE, STREET_CODES, SYNONYMS
from sugarbush.trees.reading.words import word_set

CodeList = Literal["", "plants", "street"]

_QUOTED = re.compile(r"['\"‘’“”`´][^'\"‘’“”`´]*['\"‘’“”`´]|\b(?:cv|var|subsp|ssp|f)\.?(?=\s)", re.IGNORECASE)
_VARIETY = re.compile(r"\b(?:var|subsp|ssp|forma|f)\b\.?\s+", re.IGNORECASE)
_PARTS = re.compile(r"\s*(?:[,;/|()\[\]]|::|\s[-–—:]\s)\s*")
_CODE = re.compile(r"([A-Z]{2,6})(\d{0,2})(?![A-Za-z0-9])")
# Words that say nothing about which species it is.
_FILLERS = word_set(
    "tree trees species sp spp sp. spp. common columnar fastigiate upright weeping dwarf thornless variety cultivar "
    "selection seedling unspecified other misc"
)
_CROSS_WORDS = frozenset({"x", "hybrid", "hybrids", "cross"})
_NOT_SPECIES = frozenset({"sp", "spp", "species", "spec", "ssp", "unknown", "hybrid", "hybrids", "hyb", "other", "x"})


@dataclass(frozen=True, slots=True)
class Species:
    """One kind of tree. A genus on its own, such as "Acer sp.", stands for kinds not told apart."""

    botanical: str
    common: str
    other_names: tuple[str, ...] = ()
    symbol: str = ""
    tappable: bool = False
    look_alike: bool = False

    @property
    def genus(self) -> str:
        return self.botanical.partition(" ")[0]

    @property
    def is_genus(self) -> bool:
        return self.botanical.endswith(" sp.")


class Finding(NamedTuple):
    """What was found, and what a person should know about it."""

    species: Species | None
    doubt: Literal["", "code_has_two_meanings", "kind_not_listed", "names_disagree", "cross"]


NOT_FOUND = Finding(None, "")


@cache
def built_in_species() -> tuple[Species, ...]:
    """The table the programme's species list is filled from, species first, then genera."""
    rows = [(line, False) for line in SPECIES_TABLE.strip().splitlines()]
    rows += [(line, True) for line in GENUS_TABLE.strip().splitlines()]
    return tuple(_species_of(line, genus) for line, genus in rows)


@cache
def built_in_index() -> "SpeciesIndex":
    """An index of the built-in table, made once."""
    return SpeciesIndex(built_in_species())


def _species_of(line: str, genus: bool) -> Species:
    cells = [cell.strip() for cell in line.split("|")]
    botanical, common, others, symbol, mark = cells + [""] * (5 - len(cells))
    return Species(
        botanical=f"{botanical} sp." if genus else botanical,
        common=common,
        other_names=tuple(name.strip() for name in others.split(";") if name.strip()),
        symbol=symbol,
        tappable=mark == "tap",
        look_alike=mark == "alike",
    )


def plain(text: str) -> str:
    """Small letters without accents or punctuation, words parted by one space.

    >>> plain("Érable de Norvège,  'Crimson'")
    'erable de norvege crimson'
    """
    spread = unicodedata.normalize("NFKD", text.casefold().replace("×", " x "))
    letters = "".join(letter if letter.isalnum() else " " for letter in spread if not unicodedata.combining(letter))
    return " ".join(letters.split())


class SpeciesIndex:
    """Looks species up. Tolerates case, authors, cultivars, crosses, punctuation and "Maple, Silver" order."""

    def __init__(self, species: Iterable[Species]) -> None:
        self.species = tuple(species)
        self.by_botanical = {one.botanical: one for one in self.species}
        self._botanical: dict[str, Species] = {}
        self._genus: dict[str, Species] = {}
        self._common: dict[tuple[str, ...], Species] = {}
        self._joined: dict[str, Species] = {}
        self._symbols: dict[str, Species] = {}
        self._short: dict[str, list[Species]] = {}
        for one in self.species:
            self._enter(one)
        for written, botanical in SYNONYMS.items():
            meant = self.by_botanical.get(botanical) or self.by_botanical.get(f"{botanical} sp.")
            if meant is not None:
                self._botanical.setdefault(written, meant)

    def find(
        self, *, botanical: str = "", common: str = "", code: str = "", code_list: CodeList = ""
    ) -> Species | None:
        """The species meant, or None. See `look` for what may be doubtful about it.

        >>> built_in_index().find(common="Maple, Silver").botanical
        'Acer saccharinum'
        """
        return self.look(botanical=botanical, common=common, code=code, code_list=code_list).species

    def look(self, *, botanical: str = "", common: str = "", code: str = "", code_list: CodeList = "") -> Finding:
        """The species meant and any doubt. The botanical name weighs most, then the code, then the common name.

        Any of the three may hold something else, or two names at once: "Acer rubrum (Maple, red)".
        code_list: whose numbered codes these are: "plants" (USDA PLANTS symbols), "street" (ACSA1 is
        silver maple), or "" when nobody said; ACSA2 then stands for a maple not told apart.
        """
        findings = [
            self._any_name(botanical, botanical_first=True) if botanical else NOT_FOUND,
            self._by_code(code, code_list) if code else NOT_FOUND,
            self._any_name(common, botanical_first=False) if common else NOT_FOUND,
        ]
        if code and findings[1].species is None:
            findings[1] = self._any_name(code, botanical_first=True)
        if botanical and findings[0].species is None:
            findings[0] = self._by_code(botanical, code_list)
        if common and findings[2].species is None:
            findings[2] = self._by_code(common, code_list)
        return _agreed([finding for finding in findings if finding.species is not None])

    def is_botanical(self, text: str) -> bool:
        """Whether the text begins like a botanical name of a genus known here."""
        words = plain(text).split()
        return bool(words) and words[0] in self._genus and (len(words) > 1 or not self._common.get((words[0],)))

    def is_common(self, text: str) -> bool:
        """Whether the text is a common name known here."""
        return not self.is_botanical(text) and self._by_common(text).species is not None

    def is_code(self, text: str) -> bool:
        """Whether the text is written like a species code known here."""
        return len(text) <= 12 and " " not in text.strip() and self._by_code(text, "").species is not None

    def _enter(self, one: Species) -> None:
        words = [word for word in plain(one.botanical).split() if word not in ("x", "sp")]
        if one.is_genus:
            self._genus[words[0]] = one
            self._botanical[words[0]] = one
            self._short.setdefault(f"{words[0][:2]}SP".upper(), []).append(one)
            self._short.setdefault(f"{words[0][:3]}SPP".upper(), []).append(one)
        else:
            self._botanical[" ".join(words)] = one
            for length in (2, 3):
                code = f"{words[0][:length]}{words[1][:length]}".upper()
                self._short.setdefault(code, []).append(one)
        if one.symbol:
            self._symbols[one.symbol] = one
        for name in (one.common, *one.other_names):
            self._common.setdefault(_name_key(plain(name)), one)
            self._joined.setdefault("".join(plain(name).split()), one)

    def _any_name(self, text: str, *, botanical_first: bool) -> Finding:
        readers = (self._by_botanical, self._by_common) if botanical_first else (self._by_common, self._by_botanical)
        pieces = [text, *(piece for piece in re.split(r"[()\[\]|]|::|\s[-–—:]\s", text) if piece and piece != text)]
        best = NOT_FOUND
        for reader in readers:
            for piece in pieces:
                finding = reader(piece)
                if finding.species is not None and not finding.doubt and not finding.species.is_genus:
                    return finding
                if best.species is None:
                    best = finding
        return best

    def _by_botanical(self, text: str) -> Finding:
        words = plain(_QUOTED.sub(" ", _VARIETY.sub(" ", text.replace("×", " x ")))).split()
        if not words:
            return NOT_FOUND
        genus = self._genus.get(words[0])
        if genus is None:
            two = " ".join(words[:2])
            return Finding(self._botanical[two], "") if two in self._botanical else NOT_FOUND
        if len(words) > 3 and "x" in words[2:4]:
            return self._cross(words, genus)
        rest = [word for word in words[1:] if word != "x"]
        if not rest or rest[0] in _NOT_SPECIES:
            return Finding(genus, "")
        for length in (2, 1):
            found = self._botanical.get(" ".join((words[0], *rest[:length])))
            if found is not None:
                return Finding(found, "")
        # "Acer xfreemanii", the cross written onto the name.
        found = self._botanical.get(f"{words[0]} {rest[0].removeprefix('x')}")
        return Finding(found, "") if found is not None else Finding(genus, "kind_not_listed")

    def _cross(self, words: list[str], genus: Species) -> Finding:
        place = words.index("x", 2)
        other = words[place + 1 : place + 3]
        if len(other) == 1 or (other and other[0] not in self._genus):
            other = [words[0], other[0]]
        elif not other:
            return Finding(genus, "cross")
        name = CROSSES.get(frozenset({" ".join(words[:2]), " ".join(other)}), "")
        found = self.by_botanical.get(name)
        return Finding(found, "") if found is not None else Finding(genus, "cross")

    def _by_common(self, text: str) -> Finding:
        start = plain(text).split()[:2]
        if len(start) == 2 and start[0] in self._genus and start[1] in _NOT_SPECIES:
            # "Zelkova sp." says that the kind is not known, though only one Zelkova is common.
            return Finding(self._genus[start[0]], "")
        # Blanks are made one first: of a cell full of them the pattern of the parts would not come back for minutes.
        bare = " ".join(_QUOTED.sub(" ", re.sub(r"(?<=\w)['’](?=\w)", "", text)).split())
        parts = [plain(part) for part in _PARTS.split(bare) if part.strip()]
        if not parts:
            return NOT_FOUND
        whole = " ".join(parts)
        # From the whole name to its first part: "Maple, Norway, Crimson King", "Ash, Green Patmore".
        attempts = [plain(text), whole, _without_fillers(whole), " ".join(parts[:2])]
        if len(parts) > 1 and not _CROSS_WORDS.intersection(whole.split()):
            attempts += [f"{parts[1].split()[0]} {parts[0]}"] if parts[1] else []
        for attempt in (*attempts, parts[0]):
            found = self._common.get(_name_key(attempt)) or self._joined.get("".join(attempt.split()))
            if found is not None:
                # "Maple, Sunset Glow" must not end at "maple" as if nothing more had been said.
                unsaid = found.is_genus and len(_without_fillers(whole).split()) > len(attempt.split())
                return Finding(found, "kind_not_listed" if unsaid else "")
        words = _without_fillers(whole).split()
        for word in words[-1:] + words[:1]:
            genus = self._common.get((word,))
            if genus is not None and genus.is_genus:
                return Finding(genus, "kind_not_listed")
        return NOT_FOUND

    def _by_code(self, text: str, code_list: CodeList) -> Finding:
        match = _CODE.match(text.strip().upper().replace(" ", ""))
        if match is None:
            return NOT_FOUND
        letters, code = match[1], match[0]
        street = self.by_botanical.get(STREET_CODES.get(code, "")) if code_list != "plants" else None
        symbol = self._symbols.get(code) if code_list != "street" else None
        if street is not None and symbol is not None and street is not symbol:
            return self._shared_genus([street, symbol])
        if street is not None or symbol is not None:
            return Finding(street or symbol, "")
        if match[2] and code_list != "street":
            return NOT_FOUND
        return self._shared_genus(self._short.get(letters, []))

    def _shared_genus(self, candidates: list[Species]) -> Finding:
        if len(candidates) == 1:
            return Finding(candidates[0], "")
        genera = {one.genus for one in candidates}
        if len(genera) != 1:
            return NOT_FOUND
        genus = next((one for one in candidates if one.is_genus), None)
        if genus is not None:
            return Finding(genus, "")
        return Finding(self.by_botanical.get(f"{genera.pop()} sp."), "code_has_two_meanings")


def _name_key(name: str) -> tuple[str, ...]:
    return tuple(sorted(name.split()))


def _without_fillers(name: str) -> str:
    words = name.split()
    return " ".join([word for word in words if word not in _FILLERS] or words)


def _agreed(findings: list[Finding]) -> Finding:
    if not findings:
        return NOT_FOUND
    exact = [one for one in findings if one.species is not None and not one.species.is_genus]
    chosen = exact[0] if exact else findings[0]
    first = chosen.species
    if first is None:
        return NOT_FOUND
    for other in findings:
        if other.species is None or other.species is first:
            continue
        if other.species.genus != first.genus or not (other.species.is_genus or first.is_genus):
            return Finding(findings[0].species, "names_disagree")
    return chosen
