"""What the streets of Quillhaven are called. All names are invented for this town."""

from __future__ import annotations

# South to north. West and east of Tannery Brook where the brook is not crossed, else the same name.
ROWS_WEST = (
    "Sluice Lane", "Miller's Rest", "Cooper Street", "Barley Lane", "Mill Street", "Tenter Row", "Race Bank",
    "Quay Street", "Cordwain Lane", "Salter Lane", "Quill High Street", "Candlewick Row", "Bellfounder Lane",
    "Larkspur Street", "Wren Lane", "Heron Row", "Juniper Street", "Starling Lane", "Northgate Road",
    "Hawthorn Lane", "Larch Hill", "Windmill Lane",
)  # fmt: skip
ROWS_EAST = (
    "Sluice Lane", "Miller's Rest", "Cooper Street", "Barley Lane", "Mill Street", "Tenter Row", "Race Bank",
    "Quay Street", "Netmaker Lane", "Plover Street", "Quill High Street", "Sorrel Lane", "Tansy Lane",
    "Larkspur Street", "Thimble Row", "Heron Row", "Coldwell Street", "Bramble Lane", "Northgate Road",
    "Skylark Lane", "Gorse Hill", "Cloudberry Lane",
)  # fmt: skip
# West to east, north of the river and south of it. A column with a bridge keeps one name.
COLUMNS_NORTH = (
    "Outfield Lane", "Westmere Street", "Alder Lane", "Kiln Street", "Ferry Road", "Foundry Lane", "Tinker's Row",
    "Lamplighter Street", "Vesper Lane", "Bridge Street", "Orchard Bank", "Dyer's Walk", "Chandler's Walk",
    "Marten Street", "Saltbox Road", "Quince Street", "Teasel Lane", "Eastmere Lane",
)  # fmt: skip
COLUMNS_SOUTH = (
    "Hurdle Lane", "Osier Street", "Fuller Lane", "Hopper Street", "Ferry Road", "Grindstone Lane", "Bolter Street",
    "Flax Row", "Wheelwright Lane", "Bridge Street", "Sheaf Street", "Winnow Lane", "Meadowsweet Row",
    "Otter Street", "Saltbox Road", "Sallow Street", "Kestrel Lane", "Pebble Lane",
)  # fmt: skip
MAIN_STREETS = frozenset({"Heron Row", "Race Bank", "Orchard Bank"})

# Dead ends: name, the two crossings (column, row) of the piece they leave from, and how deep they reach in metres
# (to the left of the way from the first crossing to the second; below zero, to the right).
CLOSES = (
    ("Thistle Close", (1, 14), (1, 15), 85.0),
    ("Finch Close", (15, 14), (15, 15), 80.0),
    ("Acorn Close", (15, 10), (15, 11), -90.0),
    ("Shuttle Close", (13, 2), (13, 3), 80.0),
    ("Lantern Yard", (7, 12), (7, 13), -60.0),
    ("Bobbin Close", (2, 3), (2, 4), -80.0),
)

# Roads that leave the town: name, the row (None: any) and column (None: any) they go on from, whether from its first
# or its last crossing, which way (east, north), and how far in metres.
WAYS_OUT = (
    ("Westering Road", 10, None, 0, (-1.0, 0.1), 330.0),
    ("Northing Road", None, 9, -1, (0.1, 1.0), 330.0),
    ("Lakeward Road", 13, None, -1, (1.0, 0.25), 300.0),
    ("Weir Road", None, 9, 0, (-0.1, -1.0), 260.0),
)
