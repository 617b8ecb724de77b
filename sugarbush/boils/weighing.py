"""Weighed sap as litres: by its density at its own sugar and temperature, and what stands in where nobody measured."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from sugarbush.core.sugar import density_kg_m3
from sugarbush.parts.worked import Working, working

# Where nobody measured: usual sap, just out of the cold. Between 0 and 10 °C and 1 and 3 Brix the litres differ by
# less than half a per cent.
USUAL_BRIX = Decimal("2.0")
USUAL_C = Decimal("4.0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Litres of weighed sap, and what they were reckoned with."""

    mass_g: int
    volume_ml: int
    density_kg_m3: float
    sugar_brix: Decimal
    temperature_c: Decimal
    sugar_taken: bool
    temperature_taken: bool

    @property
    def density_words(self) -> str:
        """The density as a keeper reads it: "1.008 kg/L"."""
        return f"{self.density_kg_m3 / 1000:.4f}\u00a0kg/L"

    def worked(self, units: str, of: str = "") -> Working:
        taken = []
        if self.sugar_taken:
            taken.append(_("Nobody measured its sugar; usual sap stands in."))
        if self.temperature_taken:
            taken.append(_("Nobody measured its temperature; cold sap stands in."))
        kilograms = f"{self.mass_g / 1000:.3f}"
        return working(
            "sugar.density_kg_m3",
            of=of,
            units=units,
            inputs={"brix": self.sugar_brix, "temperature_c": self.temperature_c},
            sums=[f"{kilograms} kg ÷ {self.density_kg_m3 / 1000:.4f} kg/L = {self.volume_ml / 1000:.2f} L"],
            notes=taken,
        )


def weighed(mass_g: int, sugar_brix: Decimal | None, temperature_c: Decimal | None) -> Weighed:
    """Litres of this much sap by weight."""
    brix = USUAL_BRIX if sugar_brix is None else sugar_brix
    # Sap is no colder than its freezing point while it can be poured; a warmer reading than 40 °C is no sap.
    celsius = min(max(USUAL_C if temperature_c is None else temperature_c, Decimal(0)), Decimal(40))
    density = density_kg_m3(float(brix), float(celsius))
    return Weighed(
        mass_g=mass_g,
        volume_ml=round(mass_g / density * 1000),
        density_kg_m3=density,
        sugar_brix=brix,
        temperature_c=celsius,
        sugar_taken=sugar_brix is None,
        temperature_taken=temperature_c is None,
    )
