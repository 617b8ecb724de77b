"""The box of longitudes and latitudes a programme works in."""

from collections.abc import Iterable
from dataclasses import dataclass

# No town with street trees stands beyond these, so a latitude out there is a longitude in the wrong column.
NORTHERNMOST_TOWN_DEG = 72.0
SOUTHERNMOST_TOWN_DEG = -60.0


@dataclass(frozen=True, slots=True)
class Box:
    """West, south, east and north edge in degrees, edges included."""

    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float

    def __post_init__(self) -> None:
        if not (-180 <= self.west_deg <= self.east_deg <= 180 and -90 <= self.south_deg <= self.north_deg <= 90):
            raise ValueError(f"not a box of west, south, east, north: {self}")

    def holds(self, longitude_deg: float, latitude_deg: float) -> bool:
        """Whether a place is inside.

        >>> Box(-1, 50, 1, 52).holds(0.5, 51)
        True
        """
        return self.west_deg <= longitude_deg <= self.east_deg and self.south_deg <= latitude_deg <= self.north_deg


def draw_box(places: Iterable[tuple[float, float]], *, margin_deg: float = 0.02) -> Box | None:
    """The box most of the places lie in, for a programme that has none yet; None without places.

    Built around the median, so that a few swapped or stray rows do not stretch it over the globe:
    a place counts when it is no further from the median than eight times the usual distance.

    places: (longitude, latitude) in degrees.  margin_deg is added on every side (0.02 is about 2 km).
    """
    taken = [(lon, lat) for lon, lat in places if -180 <= lon <= 180 and -90 <= lat <= 90 and (lon or lat)]
    if not taken:
        return None
    west, east = _usual_span([lon for lon, _ in taken])
    south, north = _usual_span([lat for _, lat in taken])
    return Box(
        max(-180.0, west - margin_deg),
        max(-90.0, south - margin_deg),
        min(180.0, east + margin_deg),
        min(90.0, north + margin_deg),
    )


def _usual_span(values: list[float]) -> tuple[float, float]:
    values.sort()
    middle = values[len(values) // 2]
    distances = sorted(abs(value - middle) for value in values)
    reach = max(8 * distances[len(distances) // 2], 0.01)
    near = [value for value in values if abs(value - middle) <= reach]
    return near[0], near[-1]
