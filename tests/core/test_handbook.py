"""The handbook holds every public function of the core, marks nothing checked that is not, and its ranges are real."""

import ast
import importlib
import inspect
import pkgutil
import textwrap
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

import sugarbush.core
from sugarbush.core import boiling, handbook, keeping, roundplan, rounds, shares, taphole, trunk, wounding
from sugarbush.core.boilplan import Pan
from sugarbush.core.errors import CoreError, OutOfRange
from sugarbush.core.handbook import ENTRIES, Entry, Input
from sugarbush.core.sharerules import Claim, Part

# Machinery, no numbers of the trade: the errors, and the handbook itself.
NOT_IN_IT = {"errors", "handbook"}


def public_functions() -> dict[str, Callable[..., Any]]:
    found: dict[str, Callable[..., Any]] = {}
    for module in pkgutil.iter_modules(sugarbush.core.__path__):
        if module.name in NOT_IN_IT:
            continue
        loaded = importlib.import_module(f"sugarbush.core.{module.name}")
        for name, one in vars(loaded).items():
            if inspect.isfunction(one) and one.__module__ == loaded.__name__ and not name.startswith("_"):
                found[f"{module.name}.{name}"] = one
    return found


FUNCTIONS = public_functions()


def test_every_public_function_is_in_the_handbook_once() -> None:
    listed = [where for entry in ENTRIES for where in entry.where]
    assert sorted(listed) == sorted(FUNCTIONS)
    assert len(FUNCTIONS) > 90


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.where[0])
def test_an_entry_tells_all_a_stranger_needs(entry: Entry) -> None:
    texts = (entry.title, entry.words, entry.gives, entry.source, entry.changes, entry.standing)
    assert all(text.strip() for text in texts)
    parameters = inspect.signature(FUNCTIONS[entry.where[0]]).parameters
    assert {given.name for given in entry.inputs} <= set(parameters)


@pytest.mark.parametrize("where", FUNCTIONS)
def test_nothing_second_hand_or_from_memory_is_marked_checked(where: str) -> None:
    # By the function's own docstring, written apart from the handbook.
    said = inspect.getdoc(FUNCTIONS[where]) or ""
    if "[M]" in said or "[R2]" in said:
        assert not handbook.entry_for(where).checked


def called(function: Callable[..., Any]) -> set[str]:
    """Functions of the core that a function names in its body, as "module.function"."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    there = inspect.getmodule(function)
    found = (getattr(there, name, None) for name in names)
    spots = {one: where for where, one in FUNCTIONS.items()}
    return {spots[one] for one in found if inspect.isfunction(one) and one in spots}


@pytest.mark.parametrize("where", FUNCTIONS)
def test_nothing_checked_rests_on_something_unchecked(where: str) -> None:
    if handbook.entry_for(where).checked:
        assert all(handbook.entry_for(other).checked for other in called(FUNCTIONS[where]))


def test_the_net_above_catches_what_rests_on_second_hand_density() -> None:
    assert "sugar.density_kg_m3" in called(FUNCTIONS["syrup.sap_per_syrup"])


# Values every function takes; the ranges below are tried around them.
GROWTH = wounding.ring_growth(first_girth_mm=1_000, second_girth_mm=1_020, years=2)
EXAMPLES: dict[str, dict[str, Any]] = {
    "trunk.diameter_from_girth_um": {"girth_um": 1_400_000},
    "trunk.allowed_taps": {"diameter_um": 400_000},
    "taphole.hole_volume_cm3": {"bit_um": 7_938, "depth_mm": 38},
    "taphole.suggest_holes": {"old_holes": [], "diameter_um": 400_000, "count": 1, "step_mm": 120},
    "wounding.zone_volume_cm3": {"diameter_mm": 400, "depth_mm": 20, "band_mm": 600},
    "wounding.column_volume_cm3": {"hole_cm3": 2, "times": 50.0},
    "wounding.ring_from_area_mm": {"diameter_mm": 400, "area_growth_cm2": 1.0},
    "wounding.ring_growth": {"first_girth_mm": 1_000, "second_girth_mm": 1_020, "years": 2.0, "tape_mm": 1.0},
    "wounding.dead_share": {"diameter_mm": 400, "ring_mm": 2.0, "hole_cm3": 2, "taps": 1, "times": 50.0},
    "wounding.growth_advice": {"growth": GROWTH, "limit_mm": 2.0},
    "wounding.hole_closure": {"seasons": 2, "closed": False},
    "health.health_verdict": {
        "crown_dieback_pct": 5.0, "road_salt": "none",
        **dict.fromkeys(
            ("cavity", "conks", "cracks", "large_dead_limbs", "root_or_construction_work", "old_holes_open",
             "topped_or_defoliated"), False,
        ),
    },
    "sugar.water_density_kg_m3": {"temperature_c": 20.5},
    "sugar.density_kg_m3": {"brix": 20.0, "temperature_c": 20.5},
    "sugar.brix_from_density": {"density": 1_100.0, "temperature_c": 20.5},
    "sugar.mass_kg": {"volume_ml": 1_000.0, "brix": 20.0, "temperature_c": 20.5},
    "instruments.sap_refractometer_correction": {"reading_brix": 2.0, "temperature_c": 10.0},
    "instruments.syrup_refractometer_correction": {"reading_brix": 66.0, "temperature_c": 15.0},
    "instruments.hydrometer_reads_brix": {"true_brix": 66.0, "temperature_c": 20.0, "made_for_c": 20.0},
    "instruments.baume_from_brix": {"brix": 66.0, "reference_c": 20.0},
    "syrup.sap_per_syrup": {"sap_brix": 2.0, "syrup_brix": 66.0},
    "syrup.colour_class": {"light_pct": Decimal(60)},
    "syrup.density_in_range": {"syrup_brix": Decimal(66)},
    "keeping.boil_by": {
        "age": keeping.SapAge(), "now": importlib.import_module("datetime").datetime(2026, 3, 1), "temperature_c": 4.0
    },
    "keeping.growth_weight": {"temperature_c": 4.0},
    "keeping.history_spells": {
        "readings": [], "usual_c": 4.0,
        **dict.fromkeys(("collected_at", "until"), importlib.import_module("datetime").datetime(2026, 3, 1)),
    },
    "figures.figure": {"kind": "sap_brix", "own": 2.0, "own_readings": 5},
    "boiling.standard_pressure_pa": {"elevation_m": 250.0},
    "boiling.station_pressure_pa": {"reported_hpa": 1_013.0, "elevation_m": 250.0},
    "boiling.water_boils_c": {"pressure_pa": 100_000.0},
    "boiling.pressure_from_boiling_pa": {"water_boils_at_c": 99.0},
    "boiling.water_activity": {"brix": 66.0, "temperature_c": 104.0},
    "boiling.boils_above_water_c": {"brix": 66.0, "pressure_pa": 100_000.0},
    "boiling.finished_at_c": {"syrup_brix": 66.0, "water_boils_at_c": 99.0},
    "boiling.heat_capacity_kj_kg_k": {"brix": 2.0, "temperature_c": 50.0},
    "boiling.boil_need": {"sap_ml": 1_000.0, "sap_brix": 2.0, "syrup_brix": 66.0, "sap_c": 4.0, "boil_c": 100.0},
    "boiling.boil_hours": {
        "need": boiling.boil_need(sap_ml=1_000, sap_brix=2), "pan_area_m2": 0.6, "rate_l_h_m2": 40.0
    },
    "boiling.fuel_needed": {"heat_mj": 100.0, "fuel": boiling.PROPANE_L, "efficiency": 0.5},
    "boilplan.still_to_go": {
        "volume_ml": 1_000.0, "brix": 20.0, "volume_c": 20.0, "pan_area_m2": 0.6, "syrup_brix": 66.0,
        "rate_l_h_m2": 40.0,
    },
    "boilplan.boil_plan": {
        "sap_ml": 100_000, "sap_brix": 2.0, "pans": [Pan(name="Long", area_m2=0.6)], "shift_h": 4.0, "ready_h": 1.0,
        "people_each": 2,
    },
    "boilplan.tap_plan": {
        "taps": 100, "store_l": 200.0, "pan_area_m2": 0.6, "boil_h_week": 24.0, "days_between_boils": 2,
        "litres_per_tap_day": 4.0, "running_days": 4, "sap_brix": 2.0,
    },
    "weather.degree_day_c": {"low_c": -5.0, "high_c": 6.0, "base_c": 5.0},
    "weather.weekly_outlook": {"freeze_thaw_count": 9, "degree_days": 10.0},
    "outlook.run_rating": {"low_c": -5.0, "high_c": 6.0},
    "outlook.hours_to_full": {"capacity_ml": 8_000, "held_ml": 0, "ml_an_hour": 100.0},
    "outlook.order_of_endings": {"species": ["Acer rubrum"], "degree_days_f": 20.0},
    "shares.largest_remainder": {"pool_units": 10, "weights": {"a": 1, "b": 2}, "floor_units": 1},
    "shares.sap_weight": {"volume_ml": 1_000, "sugar_brix": Decimal(2)},
    "sharerules.share_out": {"pool_units": 10, "claims": [Claim(key="a")], "rule": [Part(measure="equal")]},
    "roundplan.split_into_rounds": {
        "trees": [rounds.Place(longitude_deg=-72, latitude_deg=44)],
        "start": rounds.Place(longitude_deg=-72, latitude_deg=44), "most_stops": 20,
    },
    "roundplan.with_drop_offs": {
        "order": [], "trees": [], "masses_g": [], "carry_limit_g": 15_000,
        **dict.fromkeys(("start",), rounds.Place(longitude_deg=-72, latitude_deg=44)),
        "drop_offs": [rounds.Place(longitude_deg=-72, latitude_deg=44)],
    },
    "units.to_ml": {"value": Decimal(5), "unit": "L"},
}  # fmt: skip
# What else has to give way at a limit: the shallowest trunk, sap as thick as syrup.
BESIDE: dict[tuple[str, str, float], dict[str, Any]] = {
    ("wounding.zone_volume_cm3", "depth_mm", 150): {"diameter_mm": 400},
    ("wounding.dead_share", "diameter_mm", 50): {"depth_mm": 20},
    ("shares.largest_remainder", "pool_units", 0): {"floor_units": 0},
    ("figures.figure", "own_readings", 0): {"own": None},
}


def limits() -> list[tuple[str, Input, float, float]]:
    """Every limit of the handbook: function, input, the limit, and which way is out."""
    found = []
    for entry in ENTRIES:
        for given in entry.inputs:
            for limit, way in ((given.low, -1.0), (given.high, 1.0)):
                if limit is not None:
                    found.append((entry.where[0], given, limit, way))
    return found


@pytest.mark.parametrize(
    ("where", "given", "limit", "way"), limits(), ids=lambda one: one.name if isinstance(one, Input) else str(one)
)
def test_a_range_holds_just_inside_and_is_refused_just_outside(
    where: str, given: Input, limit: float, way: float
) -> None:
    values = {**EXAMPLES[where], **BESIDE.get((where, given.name, limit), {})}
    example = values[given.name]
    exact: Any = Decimal(str(limit)) if isinstance(example, Decimal) else type(example)(limit)
    step: Any = 1 if isinstance(example, int) else type(example)(str(max(abs(limit), 1.0) * 1e-6))
    FUNCTIONS[where](**{**values, given.name: exact})
    with pytest.raises(OutOfRange) as caught:
        FUNCTIONS[where](**{**values, given.name: exact + step * int(way)})
    assert caught.value.quantity


def test_every_numeric_limit_is_tried() -> None:
    assert {where for where, *_ in limits()} <= set(EXAMPLES)
    assert len(limits()) > 150


@pytest.mark.parametrize(
    ("build", "inside", "outside"),
    [
        # The ranges of the small records, each at its limit and a step past it.
        (lambda v: taphole.Hole(aspect_deg=v, height_mm=900, diameter_um=400_000), (0, 360), (-0.01, 360.01)),
        (lambda v: taphole.Hole(aspect_deg=0, height_mm=v, diameter_um=400_000), (0, 6_000), (-1, 6_001)),
        (lambda v: taphole.Hole(aspect_deg=0, height_mm=9, diameter_um=v), (1, 10_000_000), (0, 10_000_001)),
        (lambda v: rounds.Place(longitude_deg=v, latitude_deg=0), (-180, 180), (-180.01, 180.01)),
        (lambda v: rounds.Place(longitude_deg=0, latitude_deg=v), (-90, 90), (-90.01, 90.01)),
        (lambda v: Pan(name="x", area_m2=v), (0.01, 100), (0.009, 100.1)),
        (lambda v: Pan(name="x", area_m2=1, rate_l_h_m2=v), (1, 500), (0.9, 501)),
        (lambda v: keeping.Policy(limit_h=v, soon_h=1), (24, 168), (23.9, 168.1)),
        (lambda v: keeping.Policy(warm_limit_h=v), (0, 24), (-0.1, 24.1)),
        (lambda v: keeping.Policy(no_growth_c=v), (-5, 2), (-5.1, 2.1)),
        (lambda v: trunk.stricter_guideline(name="x", first_um=v), (304_800, 9_999_999), (304_799, 10_000_000)),
        (lambda v: keeping.sap_age([keeping.Spell(hours=v, temperature_c=4)]), (0, 100_000), (-1, 100_001)),
        (
            lambda v: rounds.trips([0], [1], carry_limit_g=v), (1, 1_000_000), (0, 1_000_001)
        ),
        (lambda v: shares.largest_remainder(1, {"a": v}), (1,), (0, -1)),
        (
            lambda v: roundplan.split_into_rounds(
                [], start=rounds.Place(longitude_deg=0, latitude_deg=0), most_stops=v
            ), (1, 200), (0, 201),
        ),
    ],
)  # fmt: skip
def test_a_record_holds_at_its_limits_and_is_refused_past_them(
    build: Callable[[Any], object], inside: tuple[float, ...], outside: tuple[float, ...]
) -> None:
    for value in inside:
        build(value)
    for value in outside:
        with pytest.raises(CoreError):
            build(value)


# The ranges of functions that share an entry: function, values it takes, the argument, its limits (None: not fixed).
MORE: tuple[tuple[str, dict[str, Any], str, float | None, float | None], ...] = (
    ("trunk.girth_from_diameter_um", {"diameter_um": 400_000}, "diameter_um", 1, 9_999_999),
    ("trunk.size_as_diameter_um", {"length_um": 400_000, "measured": "across"}, "length_um", 1, 9_999_999),
    ("trunk.size_as_diameter_um", {"length_um": 400_000, "measured": "round"}, "length_um", 1, 31_415_926),
    ("trunk.stricter_guideline", {"name": "x", "first_um": 304_800}, "second_um", 457_200, 9_999_999),
    ("wounding.area_growth_cm2", {"diameter_mm": 400, "ring_mm": 1.0}, "diameter_mm", 50, 10_000),
    ("wounding.area_growth_cm2", {"diameter_mm": 400, "ring_mm": 1.0}, "ring_mm", 0, 200),
    ("wounding.dead_share", EXAMPLES["wounding.dead_share"], "ring_mm", 0, 200),
    ("sugar.sugar_kg", {"volume_ml": 1.0, "brix": 2.0}, "volume_ml", 0, None),
    ("sugar.sugar_kg", {"volume_ml": 1.0, "brix": 2.0}, "brix", 0, 85),
    (
        "instruments.sap_brix_from_refractometer",
        {"reading_brix": 2.0, "temperature_c": 10.0, "compensates": False}, "reading_brix", 0, 12,
    ),
    (
        "instruments.sap_brix_from_refractometer",
        {"reading_brix": 2.0, "temperature_c": 10.0, "compensates": False}, "temperature_c", 0, 30,
    ),
    (
        "instruments.syrup_brix_from_refractometer",
        {"reading_brix": 66.0, "temperature_c": 15.0, "compensates": False}, "reading_brix", 10, 75,
    ),
    (
        "instruments.syrup_brix_from_refractometer",
        {"reading_brix": 66.0, "temperature_c": 15.0, "compensates": False}, "temperature_c", 10, 30,
    ),
    (
        "instruments.brix_from_hydrometer",
        {"reading_brix": 59.0, "temperature_c": 20.0, "made_for_c": 20.0}, "reading_brix", 0, 80,
    ),
    (
        "instruments.brix_from_hydrometer",
        {"reading_brix": 59.0, "temperature_c": 20.0, "made_for_c": 20.0}, "temperature_c", 0, 100,
    ),
    ("instruments.brix_from_baume", {"baume": 36.0, "reference_c": 20.0}, "baume", 0, None),
    ("instruments.brix_from_baume", {"baume": 36.0, "reference_c": 20.0}, "reference_c", 0, 30),
    ("syrup.sap_per_syrup", {"sap_brix": 2.0, "syrup_brix": 66.0}, "sap_brix", 0.01, 66),
    ("syrup.syrup_ml", {"sap_ml": 1.0, "sap_brix": 2.0, "sap_c": 4.0}, "sap_ml", 0, None),
    ("syrup.syrup_ml", {"sap_ml": 1.0, "sap_brix": 2.0, "sap_c": 4.0}, "sap_brix", 0, 66),
    ("syrup.syrup_ml", {"sap_ml": 1.0, "sap_brix": 2.0, "sap_c": 4.0}, "sap_c", 0, 100),
    ("syrup.syrup_from_sugar_ml", {"sugar_kg": 1.0}, "sugar_kg", 0, None),
    ("syrup.syrup_from_sugar_ml", {"sugar_kg": 1.0, "syrup_brix": 66.0}, "syrup_brix", 50, 85),
    ("syrup.concentrate_left", {"sap_brix": 0.01, "concentrate_brix": 8.0}, "concentrate_brix", 0.01, 85),
    ("syrup.concentrate_left", {"sap_brix": 2.0, "concentrate_brix": 8.0}, "sap_brix", 0, 8),
    ("boiling.norrish_above_water_c", {"brix": 66.0, "pressure_pa": 1e5}, "brix", 0, 70),
    ("boiling.norrish_above_water_c", {"brix": 66.0, "pressure_pa": 1e5}, "pressure_pa", 60_000, 120_000),
    ("boiling.finished_at_c", {"pressure_pa": 1e5}, "pressure_pa", 60_000, 120_000),
    ("keeping.hours_left", {"age": keeping.SapAge(), "temperature_c": 4.0}, "temperature_c", -40, 60),
    ("weather.degree_day_f", {"low_f": 30.0, "high_f": 50.0}, "low_f", -112, None),
    ("weather.degree_day_f", {"low_f": 30.0, "high_f": 50.0}, "high_f", None, 140),
    ("shares.shares_ml", {"pool_ml": 10, "weights": {"a": 1}}, "pool_ml", 0, None),
    ("shares.shares_jars", {"jars": 10, "weights": {"a": 1}, "floor_jars": 1}, "floor_jars", 0, 10),
    ("units.to_mm", {"value": Decimal(1), "unit": "mm"}, "value", 0, 1_000_000),
    ("units.to_um", {"value": Decimal(1), "unit": "mm"}, "value", 0, 1_000_000),
    ("units.to_ml", {"value": Decimal(1), "unit": "mL"}, "value", 0, 1_000_000_000),
    ("units.to_g", {"value": Decimal(1), "unit": "g"}, "value", 0, 1_000_000_000),
    ("units.to_c", {"value": Decimal(1), "unit": "°C"}, "value", -80, 200),
)  # fmt: skip


@pytest.mark.parametrize(("where", "values", "name", "low", "high"), MORE)
def test_a_range_without_an_entry_of_its_own_holds_too(
    where: str, values: dict[str, Any], name: str, low: float | None, high: float | None
) -> None:
    for limit, way in ((low, -1), (high, 1)):
        if limit is None:
            continue
        example = values.get(name, 1)
        exact: Any = Decimal(str(limit)) if isinstance(example, Decimal) else type(example)(limit)
        step: Any = 1 if isinstance(example, int | Decimal) else max(abs(limit), 1.0) * 1e-6
        FUNCTIONS[where](**{**values, name: exact})
        with pytest.raises(CoreError):
            FUNCTIONS[where](**{**values, name: exact + step * way})
