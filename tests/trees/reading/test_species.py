"""Which species a town means."""

import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.trees.reading.species import Species, built_in_index, built_in_species

pytestmark = pytest.mark.pure

INDEX = built_in_index()

# PLANTS symbols beside common names as printed in the species tables of the Forest Vegetation Simulator (US Forest
# Service), source files of the Lake States, Ontario, Northeast and Southern variants: FIA code, PLANTS symbol and name
# stand there in one order. Names put beside the symbols here in that order.
FOREST_SERVICE_SYMBOLS = {
    "PIBA2": "jack pine", "PISY": "Scotch pine", "PIRE": "red pine", "PIST": "eastern white pine",
    "PIGL": "white spruce", "PIAB": "Norway spruce", "ABBA": "balsam fir", "PIMA": "black spruce", "LALA": "tamarack",
    "THOC2": "northern white-cedar", "TSCA": "eastern hemlock", "JUVI": "eastern redcedar", "FRNI": "black ash",
    "FRPE": "green ash", "PODE3": "eastern cottonwood", "ACSA2": "silver maple", "ACRU": "red maple",
    "PRSE2": "black cherry", "ULAM": "American elm", "ULRU": "slippery elm", "ULTH": "rock elm",
    "BEAL2": "yellow birch", "TIAM": "American basswood", "ACSA3": "sugar maple", "ACNI5": "black maple",
    "FAGR": "American beech", "FRAM2": "white ash", "QUAL": "white oak", "QUBI": "swamp white oak", "QUMA2": "bur oak",
    "QUMU": "chinkapin oak", "QURU": "northern red oak", "QUVE": "black oak", "QUEL": "northern pin oak",
    "CACO15": "bitternut hickory", "CAGL8": "pignut hickory", "CAOV2": "shagbark hickory", "POGR4": "bigtooth aspen",
    "POTR5": "quaking aspen", "POBA2": "balsam poplar", "BEPA": "paper birch", "JUCI": "butternut",
    "JUNI": "black walnut", "OSVI": "eastern hophornbeam", "ROPS": "black locust", "ACNE2": "boxelder",
    "ACPE": "striped maple", "ACSP2": "mountain maple", "CACA18": "American hornbeam", "CADE12": "American chestnut",
    "CEOC": "hackberry", "COFL2": "flowering dogwood", "NYSY": "blackgum", "PLOC": "sycamore", "PRPE2": "pin cherry",
    "PRVI": "chokecherry", "SANI": "black willow", "SAAL5": "sassafras", "SOAM3": "American mountain ash",
    "GLTR": "honeylocust", "LIST2": "sweetgum", "LITU": "yellow-poplar", "QUCO2": "scarlet oak", "QUPA2": "pin oak",
    "QUIM": "shingle oak", "BENI": "river birch", "BELE": "sweet birch", "BEPO": "gray birch", "CECA4": "redbud",
    "AIAL": "ailanthus", "MAAC": "cucumbertree",
}  # fmt: skip


def botanical(**named: str) -> str | None:
    found = INDEX.find(**named)  # type: ignore[arg-type]  # code_list is among the texts in these tests
    return found.botanical if found else None


@pytest.mark.parametrize(("symbol", "name"), FOREST_SERVICE_SYMBOLS.items())
def test_plants_symbols_mean_what_the_forest_service_prints(symbol: str, name: str) -> None:
    by_name = INDEX.find(common=name)
    assert by_name is not None
    assert by_name is INDEX.find(code=symbol, code_list="plants")


def test_the_eight_maples_may_be_tapped_and_the_look_alikes_are_known() -> None:
    """The programme's own choice of kinds, no source."""
    assert [one.botanical for one in built_in_species() if one.tappable] == [
        "Acer saccharum", "Acer nigrum", "Acer rubrum", "Acer saccharinum", "Acer negundo", "Acer platanoides",
        "Acer macrophyllum", "Acer grandidentatum",
    ]  # fmt: skip
    for name in ("green ash", "white ash", "London plane", "horse chestnut", "sweetgum"):
        found = INDEX.find(common=name)
        assert found is not None
        assert found.look_alike
        assert not found.tappable


def test_the_table_is_sound() -> None:
    names = [one.botanical for one in built_in_species()]
    assert len(names) == len(set(names))
    assert sum(not one.is_genus for one in built_in_species()) >= 120
    for one in built_in_species():
        assert re.fullmatch(r"[A-Z][a-z]+( x)?( [a-z-]+| sp\.)", one.botanical), one
        assert one.common
        assert one.symbol == one.symbol.upper()
        assert INDEX.find(botanical=f"{one.genus} sp.") is not None, "every genus has its own entry"


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("ACER RUBRUM L.", "Acer rubrum"),
        ("acer rubrum 'October Glory'", "Acer rubrum"),
        ("Acer rubrum “October Glory”", "Acer rubrum"),
        ("Acer nigrum F.Michx.", "Acer nigrum"),
        ("Acer saccharum Marshall", "Acer saccharum"),
        ("Acer saccharum var. nigrum", "Acer nigrum"),
        ("Acer saccharum subsp. grandidentatum (Nutt.) Desm.", "Acer grandidentatum"),
        ("Acer × freemanii 'Jeffersred'", "Acer x freemanii"),
        ("Acer x freemanii", "Acer x freemanii"),
        ("Acer xfreemanii", "Acer x freemanii"),
        ("Acer rubrum x saccharinum", "Acer x freemanii"),
        ("Acer rubrum × Acer saccharinum", "Acer x freemanii"),
        ("Platanus x acerifolia", "Platanus x hispanica"),
        ("Tilia cordata Mill. 'Greenspire'", "Tilia cordata"),
        ("Gleditsia triacanthos var. inermis", "Gleditsia triacanthos"),
        ("Sophora japonica", "Styphnolobium japonicum"),
        ("Acer rubrum (Maple, red)", "Acer rubrum"),
        ("Acer rubrum :: Red Maple", "Acer rubrum"),
        ("Red maple (Acer rubrum)", "Acer rubrum"),
        ("Acer", "Acer sp."),
        ("Acer spp.", "Acer sp."),
        ("Acer species", "Acer sp."),
        ("Quercus ignota", "Quercus sp."),
        ("Arbor ignota", None),
        ("", None),
        ("?", None),
    ],
)
def test_botanical_names_as_towns_write_them(written: str, meant: str | None) -> None:
    assert botanical(botanical=written) == meant


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Maple, Silver", "Acer saccharinum"),
        ("SILVER MAPLE", "Acer saccharinum"),
        ("Maple - Norway", "Acer platanoides"),
        ("Norway-maple", "Acer platanoides"),
        ("Maple, Norway 'Crimson King'", "Acer platanoides"),
        ("Norway maple, Crimson King", "Acer platanoides"),
        ("Box Elder", "Acer negundo"),
        ("Boxelder", "Acer negundo"),
        ("Manitoba maple", "Acer negundo"),
        ("Érable à sucre", "Acer saccharum"),
        ("erable a sucre", "Acer saccharum"),
        ("Spitz-Ahorn", "Acer platanoides"),
        ("Oak, Swamp White", "Quercus bicolor"),
        ("Honeylocust, Thornless", "Gleditsia triacanthos"),
        ("Ash, Green Patmore", "Fraxinus pennsylvanica"),
        ("Ash, Mountain", "Sorbus sp."),
        ("Ash", "Fraxinus sp."),
        ("maple", "Acer sp."),
        ("Maple spp.", "Acer sp."),
        ("Horse-chestnut", "Aesculus hippocastanum"),
        ("Hill's Oak", "Quercus ellipsoidalis"),
        ("Weeping willow", "Salix babylonica"),
        ("Willow", "Salix sp."),
        ("Unknown", None),
    ],
)
def test_common_names_as_towns_write_them(written: str, meant: str | None) -> None:
    assert botanical(common=written) == meant


@pytest.mark.parametrize(
    "written", ["Japanese red maple", "Maple, Japanese Red", "Maple, Red Japanese", "Maple, Trident"]
)
def test_another_maple_is_never_taken_for_one_that_may_be_tapped(written: str) -> None:
    found = INDEX.find(common=written)
    assert found is not None
    assert not found.tappable


@pytest.mark.parametrize("written", ["Maple, Sunset Glow", "Acer xyz", "Acer rubrum x palmatum", "Maple, hybrid red"])
def test_a_maple_not_told_apart_is_listed_as_a_maple_and_said_so(written: str) -> None:
    finding = INDEX.look(botanical=written)
    assert finding.species is not None
    assert finding.species.botanical == "Acer sp."
    assert finding.doubt in {"kind_not_listed", "cross"}


@pytest.mark.parametrize(
    ("code", "code_list", "meant"),
    [
        ("acru", "", "Acer rubrum"),
        ("ACRU-OG", "", "Acer rubrum"),
        ("ACERUB", "", "Acer rubrum"),
        ("ACPL", "", "Acer platanoides"),
        ("ACSA3", "", "Acer saccharum"),
        ("ACSA1", "", "Acer saccharinum"),
        ("ACSA2", "", "Acer sp."),
        ("ACSA2", "plants", "Acer saccharinum"),
        ("ACSA2", "street", "Acer saccharum"),
        ("ACSA", "", "Acer sp."),
        ("ACSP", "", "Acer sp."),
        ("ACPL9", "", None),
        ("ZZZZ", "", None),
    ],
)
def test_codes(code: str, code_list: str, meant: str | None) -> None:
    """ACSA2 is silver maple among PLANTS symbols (see above), sugar maple in street lists (from memory)."""
    assert botanical(code=code, code_list=code_list) == meant


def test_a_code_with_two_meanings_is_settled_by_a_name() -> None:
    assert botanical(code="ACSA2", common="Maple, silver") == "Acer saccharinum"
    assert INDEX.look(code="ACSA").doubt == "code_has_two_meanings"


def test_names_that_do_not_agree_are_told() -> None:
    finding = INDEX.look(botanical="Acer rubrum", common="Norway maple")
    assert finding.doubt == "names_disagree"
    assert INDEX.look(botanical="Acer sp.", common="Norway maple").doubt == ""


@given(st.sampled_from([one for one in built_in_species() if not one.is_genus]), st.data())
def test_every_species_is_found_however_its_name_is_dressed(one: Species, data: st.DataObject) -> None:
    dressing = data.draw(st.sampled_from(["{}", "{} L.", "{} 'Some Cultivar'", "  {} ", "{} (Mill.) K.Koch"]))
    cases: list[Callable[[str], str]] = [str.strip, str.upper, str.lower, str.title]
    case = data.draw(st.sampled_from(cases))
    name = dressing.format(case(one.botanical))
    assert botanical(botanical=name) == one.botanical
    common = one.common.split()
    turned = f"{common[-1]}, {' '.join(common[:-1])}" if len(common) > 1 else one.common
    assert botanical(common=case(turned)) == one.botanical


@given(st.text(max_size=60), st.text(max_size=30), st.text(max_size=10))
def test_no_text_stops_the_look_up(name: str, common: str, code: str) -> None:
    finding = INDEX.look(botanical=name, common=common, code=code)
    assert finding.species is None or finding.species in INDEX.species
