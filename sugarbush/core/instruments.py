"""What the refractometer and the hydrometer read, and what it means.

True = reading + correction. Ask first whether the instrument compensates by itself, or was set to zero on cold water:
then nothing may be added. Below 10 °C a warmed sample is better than any formula.
"""

from sugarbush.core.errors import OutOfRange, check_range
from sugarbush.core.sugar import brix_from_density, density_kg_m3

SAP_HYDROMETER_C = (38 - 32) / 1.8
SYRUP_HYDROMETER_C = (60 - 32) / 1.8
# Cubic expansion of glass, the conventional value of ISO 1768:1975 [R].
GLASS_PER_C = 25e-6
BAUME_MODULUS = 145.0


def sap_refractometer_correction(*, reading_brix: float, temperature_c: float) -> float:
    """Brix to add to a sap reading of a refractometer that does not compensate (set for 20 °C).

    reading_brix: 0 to 12.  temperature_c: 0 to 30 °C, of the drop on the prism. Below 8 °C good to 0.05 only.
    Raises OutOfRange.
    Source: formula fitted to a mixing-rule model of the refractive index [C]; within 0.014 of the printed
    international table of 1936 from 10 to 19 °C [R].

    >>> round(sap_refractometer_correction(reading_brix=2, temperature_c=10), 2)
    -0.51
    """
    check_range(reading_brix, low=0, high=12, quantity="sugar of the sap", unit="Brix")
    check_range(temperature_c, low=0, high=30, quantity="temperature", unit="°C")
    d, r = temperature_c - 20, reading_brix
    return (
        d * (0.06295040 + 7.429633e-4 * r - 5.66933e-6 * r**2)
        + d**2 * (1.268755e-3 - 2.264818e-5 * r)
        - 9.689411e-6 * d**3
    )


def sap_brix_from_refractometer(*, reading_brix: float, temperature_c: float, compensates: bool) -> float:
    """True sugar of sap from a refractometer reading; a compensating one is taken at its word.

    reading_brix: 0 to 12.  temperature_c: 0 to 30 °C (not used when it compensates).  Never below 0.
    Raises OutOfRange.  Source: as sap_refractometer_correction.

    >>> round(sap_brix_from_refractometer(reading_brix=2.52, temperature_c=10, compensates=False), 2)
    2.0
    """
    check_range(reading_brix, low=0, high=12, quantity="sugar of the sap", unit="Brix")
    if compensates:
        return reading_brix
    return max(0.0, reading_brix + sap_refractometer_correction(reading_brix=reading_brix, temperature_c=temperature_c))


def syrup_refractometer_correction(*, reading_brix: float, temperature_c: float) -> float:
    """Brix to add to a syrup reading of a refractometer that does not compensate (set for 20 °C).

    reading_brix: 10 to 75.  temperature_c: 10 to 30 °C; above 20 °C an extrapolation.  Raises OutOfRange.
    Source: our fit to OIV method MA-AS2-02 table I [R] (rows 10 to 16 °C), largest misfit 0.010 [C]; not ICUMSA
    SPS-3 (2000), of which only the scope was read: the text is sold by its publisher.

    >>> round(syrup_refractometer_correction(reading_brix=66, temperature_c=15), 2)
    -0.38
    """
    check_range(reading_brix, low=10, high=75, quantity="sugar of the syrup", unit="Brix")
    check_range(temperature_c, low=10, high=30, quantity="temperature", unit="°C")
    d, b = temperature_c - 20, reading_brix
    return d * (0.062474600 + 5.73818264e-4 * b - 5.15228616e-6 * b**2) + d**2 * (
        1.17745445e-3 - 2.29549386e-5 * b + 1.39303854e-7 * b**2
    )


def syrup_brix_from_refractometer(*, reading_brix: float, temperature_c: float, compensates: bool) -> float:
    """True sugar of syrup from a refractometer reading; a compensating one is taken at its word.

    reading_brix: 10 to 75.  temperature_c: 10 to 30 °C (not used when it compensates).  Raises OutOfRange.

    >>> round(syrup_brix_from_refractometer(reading_brix=66.38, temperature_c=15, compensates=False), 1)
    66.0
    """
    check_range(reading_brix, low=10, high=75, quantity="sugar of the syrup", unit="Brix")
    if compensates:
        return reading_brix
    return reading_brix + syrup_refractometer_correction(reading_brix=reading_brix, temperature_c=temperature_c)


def hydrometer_reads_brix(*, true_brix: float, temperature_c: float, made_for_c: float = SYRUP_HYDROMETER_C) -> float:
    """Where a Brix hydrometer floats in a solution of this sugar: the mark for the hot test.

    true_brix: 0 to 80.  temperature_c: of the liquid, 0 to 100 °C (above 80 °C supported by printed charts only).
    made_for_c: what the instrument is marked for, 0 to 30 °C (syrup ones 60 °F, some 68 °F; sap ones 38 °F).
    Raises OutOfRange, also when it would sink below its scale.
    Source: floating balance with the glass's expansion [C]; 0.16 above a printed chart on average [R2], so allow 0.25.

    >>> round(hydrometer_reads_brix(true_brix=66.9, temperature_c=(211 - 32) / 1.8), 2)
    59.0
    """
    check_range(true_brix, low=0, high=80, quantity="sugar", unit="Brix")
    check_range(made_for_c, low=0, high=30, quantity="temperature", unit="°C")
    glass = 1 + GLASS_PER_C * (temperature_c - made_for_c)
    return brix_from_density(density_kg_m3(true_brix, temperature_c) * glass, made_for_c)


def brix_from_hydrometer(*, reading_brix: float, temperature_c: float, made_for_c: float = SYRUP_HYDROMETER_C) -> float:
    """True sugar from a hydrometer's reading at the liquid's temperature.

    reading_brix: 0 to 80.  temperature_c: 0 to 100 °C.  made_for_c: 0 to 30 °C.  Raises OutOfRange.
    Source: as hydrometer_reads_brix, turned round.

    >>> round(brix_from_hydrometer(reading_brix=59.0, temperature_c=(211 - 32) / 1.8), 1)
    66.9
    """
    check_range(reading_brix, low=0, high=80, quantity="sugar", unit="Brix")
    check_range(made_for_c, low=0, high=30, quantity="temperature", unit="°C")
    glass = 1 + GLASS_PER_C * (temperature_c - made_for_c)
    return brix_from_density(density_kg_m3(reading_brix, made_for_c) / glass, temperature_c)


def baume_from_brix(brix: float, *, reference_c: float = 20.0) -> float:
    """Degrees Baumé (modulus 145) of a sugar solution.

    brix: 0 to 85.  reference_c: the temperature of the specific gravity, 20 °C or 60 °F (15.56 °C), 0 to 30.
    Raises OutOfRange.  Source: Bé = 145 - 145 / SG.

    >>> round(baume_from_brix(66.9), 2), round(baume_from_brix(66.9, reference_c=SYRUP_HYDROMETER_C), 2)
    (36.03, 36.12)
    """
    check_range(reference_c, low=0, high=30, quantity="temperature", unit="°C")
    gravity = density_kg_m3(brix, reference_c) / density_kg_m3(0, reference_c)
    return BAUME_MODULUS - BAUME_MODULUS / gravity


def brix_from_baume(baume: float, *, reference_c: float = 20.0) -> float:
    """Sugar of a solution of this many degrees Baumé (modulus 145).

    baume: 0 to that of 85 Brix (about 45).  reference_c: as baume_from_brix.  Raises OutOfRange.

    >>> round(brix_from_baume(36.03), 1)
    66.9
    """
    most = baume_from_brix(85, reference_c=reference_c)
    if not 0 <= baume <= most:
        raise OutOfRange(quantity="density", value=baume, low=0, high=round(most, 2), unit="°Bé")
    gravity = BAUME_MODULUS / (BAUME_MODULUS - baume)
    # A hair of rounding at either end of the scale must not carry the density off it.
    lightest, heaviest = density_kg_m3(0, reference_c), density_kg_m3(85, reference_c)
    return brix_from_density(min(max(gravity * lightest, lightest), heaviest), reference_c)
