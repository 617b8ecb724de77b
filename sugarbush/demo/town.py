"""The invented town of Quillhaven in one place: everything a demo, a walk-through or a test asks for.

All of it is made from a seed and comes out the same, byte for byte, every time.

>>> from sugarbush.demo import town
>>> town.streets_geojson()["features"][0]["geometry"]["type"]
'LineString'
"""

from __future__ import annotations

import json
from pathlib import Path

from sugarbush.demo.bigtown import iter_inventory
from sugarbush.demo.ground import to_degrees, to_metres
from sugarbush.demo.inventory import (
    BLANK_LINES,
    COLUMNS,
    COMMA_ONLY_LINES,
    MESS,
    NOT_TAKEN,
    NOT_TAKEN_ROWS,
    SEED,
    TAKEN_ROWS,
    TOTAL_ROWS,
    Inventory,
    Row,
    inventory,
    inventory_rows,
    write_inventory_csv,
    write_inventory_geojson,
)
from sugarbush.demo.people import (
    GROUPS,
    PLACE,
    PROGRAMME,
    TIME_ZONE,
    DemoDepot,
    DemoOwner,
    DemoPerson,
    depots,
    owners,
    people,
)
from sugarbush.demo.programme import (
    DEMO_DAY_INDEX,
    STATES,
    DemoPermission,
    DemoTree,
    permissions,
    programme_trees,
    stop_day,
)
from sugarbush.demo.records import DemoSeason
from sugarbush.demo.season import demo_season
from sugarbush.demo.streets import group_area_geojson, plan, streets_geojson
from sugarbush.demo.weather import WeatherDay, first_day_of, weather_days

__all__ = [
    "BLANK_LINES", "COLUMNS", "COMMA_ONLY_LINES", "DEMO_DAY_INDEX", "GROUPS", "MESS", "NOT_TAKEN", "NOT_TAKEN_ROWS",
    "PLACE", "PROGRAMME", "SEED", "STATES", "TAKEN_ROWS", "TIME_ZONE", "TOTAL_ROWS", "DemoDepot", "DemoOwner",
    "DemoPermission", "DemoPerson", "DemoSeason", "DemoTree", "Inventory", "Row", "WeatherDay", "box_deg",
    "demo_season", "depots", "first_day_of", "group_area_geojson", "inventory", "inventory_rows", "iter_inventory",
    "owners", "people", "permissions", "plan", "programme_trees", "stop_day", "streets_geojson", "to_degrees",
    "to_metres", "weather_days", "write_inventory_csv", "write_inventory_geojson", "write_streets_geojson",
]  # fmt: skip


def box_deg() -> tuple[float, float, float, float]:
    """West, south, east and north of the town: its streets, river and roads, and a little over."""
    points = [to_degrees(point) for street in plan().streets for point in street.line]
    west, east = min(p[0] for p in points), max(p[0] for p in points)
    south, north = min(p[1] for p in points), max(p[1] for p in points)
    return round(west - 0.002, 4), round(south - 0.002, 4), round(east + 0.002, 4), round(north + 0.002, 4)


def write_streets_geojson(path: Path) -> int:
    """Write the street file and return how many lines it holds."""
    collection = streets_geojson()
    path.write_text(json.dumps(collection, ensure_ascii=False, indent=None) + "\n", encoding="utf-8")
    return len(collection["features"])
