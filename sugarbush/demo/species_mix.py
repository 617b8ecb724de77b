"""Which trees stand in Quillhaven, how many of each, and how thick they are.

Shares and sizes are invented so as to look like a northern town's list; they are no survey of anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """A kind of tree as the town's list writes it."""

    botanical: str
    common: str
    weight: float
    """Share of the town's trees, in per cent."""
    usual_in: float
    """The middle trunk diameter, in inches."""
    spread: float = 0.38
    """Standard deviation of the logarithm of the diameter."""
    cultivars: tuple[str, ...] = ()


MAPLES = (
    Kind("Acer platanoides", "Norway maple", 13.0, 16.0, 0.36, ("Crimson King", "Deborah")),
    Kind("Acer saccharinum", "silver maple", 7.5, 22.0, 0.40),
    Kind("Acer rubrum", "red maple", 7.2, 12.5, 0.42, ("October Glory",)),
    Kind("Acer saccharum", "sugar maple", 6.6, 16.5, 0.40, ("Green Mountain",)),
    Kind("Acer negundo", "boxelder", 2.1, 13.5),
    Kind("Acer nigrum", "black maple", 0.8, 15.0),
    Kind("Acer grandidentatum", "bigtooth maple", 0.4, 8.0),
    Kind("Acer macrophyllum", "bigleaf maple", 0.4, 14.0),
)
OTHERS = (
    Kind("Fraxinus pennsylvanica", "green ash", 7.6, 15.0),
    Kind("Gleditsia triacanthos", "honeylocust", 6.6, 13.0, 0.34, ("Skyline",)),
    Kind("Tilia cordata", "littleleaf linden", 6.0, 13.5),
    Kind("Malus sp.", "crabapple", 5.8, 7.0, 0.34),
    Kind("Quercus rubra", "red oak", 3.9, 16.0),
    Kind("Ulmus americana", "American elm", 3.0, 19.0),
    Kind("Fraxinus americana", "white ash", 3.0, 14.0),
    Kind("Tilia americana", "American basswood", 2.8, 16.0),
    Kind("Platanus x acerifolia", "London plane", 2.6, 17.0),
    Kind("Quercus macrocarpa", "bur oak", 2.4, 17.0),
    Kind("Picea glauca", "white spruce", 2.4, 12.0),
    Kind("Celtis occidentalis", "hackberry", 2.1, 13.0),
    Kind("Syringa reticulata", "Japanese tree lilac", 2.0, 5.0, 0.30),
    Kind("Picea pungens", "blue spruce", 1.9, 12.0),
    Kind("Betula papyrifera", "paper birch", 1.8, 9.0),
    Kind("Aesculus hippocastanum", "horse chestnut", 1.6, 18.0),
    Kind("Quercus palustris", "pin oak", 1.5, 15.0),
    Kind("Ulmus pumila", "Siberian elm", 1.4, 17.0),
    Kind("Betula nigra", "river birch", 1.0, 9.0),
    Kind("Ginkgo biloba", "ginkgo", 0.9, 9.0),
    Kind("Pinus strobus", "white pine", 0.9, 15.0),
    Kind("Amelanchier laevis", "serviceberry", 0.9, 4.0, 0.30),
    Kind("Liquidambar styraciflua", "sweetgum", 0.8, 10.0),
    Kind("Juglans nigra", "black walnut", 0.7, 15.0),
    Kind("Sorbus americana", "American mountain ash", 0.7, 7.0),
    Kind("Catalpa speciosa", "northern catalpa", 0.6, 18.0),
    Kind("Ostrya virginiana", "hophornbeam", 0.5, 6.0),
    Kind("Gymnocladus dioicus", "Kentucky coffeetree", 0.5, 8.0),
)
ALL_KINDS = (*MAPLES, *OTHERS)
