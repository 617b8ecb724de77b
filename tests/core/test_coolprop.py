"""Water by CoolProp, over the whole range. It takes seconds to load, so this runs with --all; iapws runs always."""

from importlib import import_module
from types import ModuleType

import pytest

from sugarbush.core import boiling, sugar

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def coolprop() -> ModuleType:
    return import_module("CoolProp.CoolProp")


@pytest.mark.parametrize("pressure_pa", range(50_000, 200_001, 5_000))
def test_water_boils_where_coolprop_says(coolprop: ModuleType, pressure_pa: int) -> None:
    # CoolProp uses IAPWS-95, ours is the IF97 equation: they agree to 0.002 C over the whole range.
    theirs_c = coolprop.PropsSI("T", "P", pressure_pa, "Q", 0, "Water") - 273.15
    assert boiling.water_boils_c(pressure_pa) == pytest.approx(theirs_c, abs=0.002)


@pytest.mark.parametrize("boils_c", range(82, 121))
def test_a_pot_is_the_barometer_coolprop_says(coolprop: ModuleType, boils_c: int) -> None:
    theirs_pa = coolprop.PropsSI("P", "T", boils_c + 273.15, "Q", 0, "Water")
    assert boiling.pressure_from_boiling_pa(boils_c) == pytest.approx(theirs_pa, rel=1e-4)


def test_the_heat_of_steam_is_coolprops(coolprop: ModuleType) -> None:
    steam, water = (coolprop.PropsSI("H", "T", 373.15, "Q", quality, "Water") for quality in (1, 0))
    assert (steam - water) / 1000 == pytest.approx(boiling.STEAM_KJ_KG, abs=0.5)


@pytest.mark.parametrize("temperature_c", [0.1, *range(2, 99, 4), 99])
def test_water_is_as_dense_as_coolprop_says(coolprop: ModuleType, temperature_c: float) -> None:
    # Trade-facts item 2: within 0.006 kg/m3 of IAPWS-95 up to 80 C; above, 0.02 is found.
    theirs = coolprop.PropsSI("D", "T", temperature_c + 273.15, "P", 101_325, "Water")
    allowed = 0.006 if temperature_c <= 80 else 0.02
    assert sugar.water_density_kg_m3(temperature_c) == pytest.approx(theirs, abs=allowed)
