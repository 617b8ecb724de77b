"""Density of sugar solution, pooling by mass, and a tank followed through its movements.

Brix is grams of sucrose in 100 g of solution. Masses are true (vacuum) masses.
The coefficients stand in several public programs; they agree but for one last digit, -3.9643 in one and -3.9646 in
another, which is 0.0002 kg/m3 at 85 Brix [C]. The standard itself was not found to read.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from sugarbush.core.errors import OutOfRange, check_range

_B = (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890)
_C1 = (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254)
_C2 = (59.7712, 7.2491, 12.3630, -35.4791)
_C3 = (-47.2207, -21.6977, 27.6301)
_C4 = (18.3184, 12.3081)
_WATER = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)

REFERENCE_C = 20.0

Brix = float | Decimal  # a ledger's readings are decimals


def _rising(coefficients: tuple[float, ...], w: float) -> float:
    """c1 w + c2 w^2 + ..., by Horner's rule."""
    total = 0.0
    for coefficient in reversed(coefficients):
        total = (total + coefficient) * w
    return total


def water_density_kg_m3(temperature_c: float) -> float:
    """Density of air-free water at ordinary pressure.

    temperature_c: 0 to 100 °C.  Raises OutOfRange.
    Source: the water term of ICUMSA SPS-4, coefficients [R2]; within 0.006 kg/m3 of IAPWS-95 from 0 to 80 °C [C].

    >>> round(water_density_kg_m3(20), 3)
    998.203
    """
    check_range(temperature_c, low=0, high=100, quantity="temperature", unit="°C")
    t = temperature_c
    top = _WATER[0] + _rising(_WATER[1:], t)
    return top / (1 + 16.887236e-3 * t)


_WATER_20 = water_density_kg_m3(REFERENCE_C)


def density_kg_m3(brix: float, temperature_c: float = REFERENCE_C) -> float:
    """Density of a pure sucrose solution.

    brix: 0 to 85.  temperature_c: 0 to 100 °C (above 80 believed outside the formula's stated range [M]).
    Raises OutOfRange.  Source: ICUMSA SPS-4 form, coefficients [R2]; checked against handbook tables [C].

    >>> round(density_kg_m3(66), 3), round(density_kg_m3(2), 3)
    (1322.662, 1005.961)
    """
    check_range(brix, low=0, high=85, quantity="sugar", unit="Brix")
    w = brix / 100
    if temperature_c == REFERENCE_C:
        return _WATER_20 + _rising(_B, w)
    t = (temperature_c - REFERENCE_C) / 100
    warmed = t * (_rising(_C1, w) + t * (_rising(_C2, w) + t * (_rising(_C3, w) + t * _rising(_C4, w))))
    return water_density_kg_m3(temperature_c) + _rising(_B, w) + warmed


def brix_from_density(density: float, temperature_c: float = REFERENCE_C) -> float:
    """The Brix of a solution of this density: the inverse of density_kg_m3.

    density: kg/m3, from that of water to that of 85 Brix at this temperature.  temperature_c: 0 to 100 °C.
    Raises OutOfRange.  Source: as density_kg_m3; solved by halving to 1e-10 Brix.

    >>> round(brix_from_density(1322.662), 3)
    66.0
    """
    low, high = 0.0, 85.0
    lightest, heaviest = density_kg_m3(low, temperature_c), density_kg_m3(high, temperature_c)
    check_range(density, low=lightest, high=heaviest, quantity="density", unit="kg/m3")
    while high - low > 1e-10:
        middle = (low + high) / 2
        if density_kg_m3(middle, temperature_c) < density:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def mass_kg(*, volume_ml: float, brix: float, temperature_c: float = REFERENCE_C) -> float:
    """Mass of a volume of solution.  volume_ml: 0 or more.  brix, temperature_c: as density_kg_m3.

    Raises OutOfRange.

    >>> round(mass_kg(volume_ml=18_927, brix=1.5, temperature_c=4), 2)
    19.04
    """
    check_range(volume_ml, low=0, high=float("inf"), quantity="volume", unit="mL")
    return volume_ml * density_kg_m3(brix, temperature_c) / 1e6


def sugar_kg(*, volume_ml: float, brix: float, temperature_c: float = REFERENCE_C) -> float:
    """Sugar in a volume of solution.  Arguments and errors as mass_kg.

    >>> round(sugar_kg(volume_ml=1000, brix=2), 6)
    0.020119
    """
    return mass_kg(volume_ml=volume_ml, brix=brix, temperature_c=temperature_c) * brix / 100


@dataclass(frozen=True, slots=True, kw_only=True)
class SapState:
    """What a vessel holds.

    volume_ml: all of it.  unmeasured_ml: the part whose sugar nobody measured (rounded to the millilitre).
    mass_kg, sugar_kg: of the part that counts; without an assumed Brix the unmeasured part does not.
    sugar_brix: 100 sugar / mass, None where nothing counts.
    """

    volume_ml: int
    unmeasured_ml: int
    mass_kg: float
    sugar_kg: float

    @property
    def sugar_brix(self) -> float | None:
        """Percent sugar by mass of what counts."""
        return 100 * self.sugar_kg / self.mass_kg if self.mass_kg > 0 else None


class TankFold:
    """A tank followed movement by movement; what goes out is taken from the mixture.

    Mass and sugar add, Brix does not. The volume is the ledger's own sum of millilitres.
    assumed_brix: what to take for sap nobody measured, 0 to 85, or None to leave it out of sugar and Brix.

    >>> tank = TankFold()
    >>> for volume_ml, brix in ((12_000, 1.8), (8_000, 2.6), (20_000, 2.1)):
    ...     tank.add(volume_ml, brix)
    >>> tank.take(20_000)
    >>> state = tank.state()
    >>> state.volume_ml, round(state.sugar_kg, 5), round(state.sugar_brix, 4)
    (20000, 0.42476, 2.1103)
    """

    __slots__ = ("_densities", "_mass_kg", "_sugar_kg", "_unmeasured_ml", "_volume_ml", "assumed_brix")

    def __init__(self, *, assumed_brix: Brix | None = None) -> None:
        if assumed_brix is not None:
            check_range(float(assumed_brix), low=0, high=85, quantity="sugar", unit="Brix")
        self.assumed_brix = assumed_brix
        self._volume_ml = 0
        self._unmeasured_ml = 0.0
        self._mass_kg = 0.0
        self._sugar_kg = 0.0
        self._densities: dict[float, float] = {}

    def _part(self, volume_ml: int, brix: Brix | None) -> tuple[float, float]:
        """Mass and sugar of a part. Readings repeat, so each density is worked out once."""
        counted = self.assumed_brix if brix is None else brix
        if counted is None:
            return 0.0, 0.0
        counted = float(counted)
        density = self._densities.get(counted)
        if density is None:
            density = self._densities[counted] = density_kg_m3(counted)
        mass = volume_ml * density / 1e6
        return mass, mass * counted / 100

    def add(self, volume_ml: int, brix: Brix | None = None) -> None:
        """Pour in.  volume_ml: 0 or more.  brix: its reading, None = not measured.  Raises OutOfRange."""
        if volume_ml < 0:
            raise OutOfRange(quantity="volume", value=volume_ml, low=0, high="any", unit="mL")
        mass, sugar = self._part(volume_ml, brix)
        self._volume_ml += volume_ml
        self._mass_kg += mass
        self._sugar_kg += sugar
        if brix is None:
            self._unmeasured_ml += volume_ml

    def take(self, volume_ml: int) -> None:
        """Draw from the mixture.  volume_ml: 0 to what the tank holds.  Raises OutOfRange."""
        if not 0 <= volume_ml <= self._volume_ml:
            raise OutOfRange(quantity="volume", value=volume_ml, low=0, high=self._volume_ml, unit="mL")
        if volume_ml == self._volume_ml:
            # Empty is empty: no rounding dust of sugar stays behind.
            self._volume_ml, self._unmeasured_ml, self._mass_kg, self._sugar_kg = 0, 0.0, 0.0, 0.0
            return
        left = 1 - volume_ml / self._volume_ml
        self._volume_ml -= volume_ml
        self._unmeasured_ml *= left
        self._mass_kg *= left
        self._sugar_kg *= left

    def undo_add(self, volume_ml: int, brix: Brix | None = None) -> None:
        """Take back a part that should never have been poured in, with its own sugar, not the mixture's.

        volume_ml: 0 to what the tank holds.  brix: as it was added. Where the tank no longer holds so much sugar
        (some was drawn since), the mixture is taken instead.  Raises OutOfRange.

        >>> tank = TankFold()
        >>> tank.add(1000, 2.0)
        >>> tank.add(1000, 4.0)
        >>> tank.undo_add(1000, 4.0)
        >>> round(tank.state().sugar_brix, 9)
        2.0
        """
        mass, sugar = self._part(volume_ml, brix)
        unmeasured = volume_ml if brix is None else 0
        whole = volume_ml >= self._volume_ml
        if whole or mass > self._mass_kg or sugar > self._sugar_kg or unmeasured > self._unmeasured_ml:
            self.take(volume_ml)
            return
        if volume_ml < 0:
            raise OutOfRange(quantity="volume", value=volume_ml, low=0, high=self._volume_ml, unit="mL")
        self._volume_ml -= volume_ml
        self._mass_kg -= mass
        self._sugar_kg -= sugar
        self._unmeasured_ml -= unmeasured

    def state(self) -> SapState:
        """What the tank holds now."""
        return SapState(
            volume_ml=self._volume_ml,
            unmeasured_ml=round(self._unmeasured_ml),
            mass_kg=self._mass_kg,
            sugar_kg=self._sugar_kg,
        )


def fold_tank(movements: Iterable[tuple[int, Brix | None]], *, assumed_brix: Brix | None = None) -> SapState:
    """Fold movements in posting order: (volume_ml, brix), in above 0, out below 0 (its brix is not used).

    Raises OutOfRange, also when more goes out than is in.

    >>> fold_tank([(10_000, 2.0), (-4_000, None)]).volume_ml
    6000
    """
    tank = TankFold(assumed_brix=assumed_brix)
    for volume_ml, brix in movements:
        if volume_ml < 0:
            tank.take(-volume_ml)
        else:
            tank.add(volume_ml, brix)
    return tank.state()


def pool(parts: Iterable[tuple[int, Brix | None]], *, assumed_brix: Brix | None = None) -> SapState:
    """Sap poured together: (volume_ml, brix) of each part, brix None = not measured. By mass, as TankFold.

    volume_ml: 0 or more.  brix: 0 to 85.  Raises OutOfRange.

    >>> state = pool([(12_000, 1.8), (8_000, 2.6), (20_000, 2.1)])
    >>> round(state.mass_kg, 4), round(state.sugar_kg, 5), round(state.sugar_brix, 4)
    (40.2557, 0.84952, 2.1103)
    """
    tank = TankFold(assumed_brix=assumed_brix)
    for volume_ml, brix in parts:
        tank.add(volume_ml, brix)
    return tank.state()
