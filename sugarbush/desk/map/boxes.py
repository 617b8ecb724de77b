"""Boxes and tiles of the map: which degrees, which span of tile numbers, which square of the survey sheet."""

from __future__ import annotations

from dataclasses import dataclass

from sugarbush.trees.tiles import ZOOM, interleave

SQUARES = "ABCD"


@dataclass(frozen=True, kw_only=True)
class Box:
    """A piece of the map, in degrees."""

    west: float
    south: float
    east: float
    north: float

    @property
    def is_sound(self) -> bool:
        return -180 <= self.west <= self.east <= 180 and -90 <= self.south <= self.north <= 90

    def sides(self) -> dict[str, float]:
        return {"west": self.west, "south": self.south, "east": self.east, "north": self.north}

    def with_room(self, share: float = 0.04, least_deg: float = 0.0004) -> Box:
        """A little larger all round, so that nothing stands on the edge of the paper."""
        across = max((self.east - self.west) * share, least_deg)
        up = max((self.north - self.south) * share, least_deg)
        return Box(
            west=max(-180.0, self.west - across),
            south=max(-90.0, self.south - up),
            east=min(180.0, self.east + across),
            north=min(90.0, self.north + up),
        )

    def square(self, *, longitude_deg: float, latitude_deg: float) -> str:
        """The square of the survey sheet, A1 top left to D4, as people say it on the telephone.

        Within one view a degree of latitude is near enough as tall everywhere.

        >>> Box(west=0, south=0, east=4, north=4).square(longitude_deg=1.5, latitude_deg=0.5)
        'B4'
        """
        column = _quarter(longitude_deg - self.west, self.east - self.west)
        row = _quarter(self.north - latitude_deg, self.north - self.south)
        return f"{SQUARES[column]}{row + 1}"


def _quarter(part: float, whole: float) -> int:
    return max(0, min(3, int(4 * part / whole))) if whole > 0 else 0


def around(*, longitude_deg: float, latitude_deg: float, reach_deg: float = 0.0012) -> Box:
    """A box of a few houses round a place."""
    middle = Box(west=longitude_deg, south=latitude_deg, east=longitude_deg, north=latitude_deg)
    return middle.with_room(least_deg=reach_deg)


def span_of_tile(*, zoom: int, column: int, row: int) -> tuple[int, int]:
    """First and last zoom-17 tile number inside a tile of this zoom: interleaved numbers lie side by side.

    >>> span_of_tile(zoom=16, column=1, row=0)
    (4, 7)
    """
    shift = 2 * (ZOOM - zoom)
    number = interleave(column, row)
    return number << shift, (number + 1 << shift) - 1


def _gather(value: int) -> int:
    """Take the zero bits out again that interleaving put between the bits."""
    value &= 0x5555555555555555
    value = (value | value >> 1) & 0x3333333333333333
    value = (value | value >> 2) & 0x0F0F0F0F0F0F0F0F
    value = (value | value >> 4) & 0x00FF00FF00FF00FF
    value = (value | value >> 8) & 0x0000FFFF0000FFFF
    return (value | value >> 16) & 0xFFFFFFFF


def column_and_row(number: int) -> tuple[int, int]:
    """Column and row of an interleaved tile number, at whatever zoom it was made.

    >>> column_and_row(interleave(65_537, 44_021))
    (65537, 44021)
    """
    return _gather(number), _gather(number >> 1)
