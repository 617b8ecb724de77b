"""GeoJSON, GPX, calendars and address cards, read back by programs of other people."""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import gpxpy
import icalendar
import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st

from sugarbush.parts.contentlines import escaped, folded
from sugarbush.parts.ics import Event, calendar
from sugarbush.parts.places import Spot, geo_address, geojson, gpx
from sugarbush.parts.vcard import Card, cards

pytestmark = pytest.mark.pure

SPOTS = [
    Spot(
        key="QH-0042",
        longitude_deg=-87.35,
        latitude_deg=47.05,
        name="QH-0042",
        words="Zoë’s <yard> & gate",
        more={"group": None},
    ),
    Spot(
        key="QH-1", longitude_deg=-87.3500001, latitude_deg=47.0512345, name="=1+1", more={"group": "Mill; Race, “end”"}
    ),
]
NASTY = "Łódź; yard, \\back\nsecond “line”: " + "ü" * 60
TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=120)


def test_geojson_holds_places_in_order_longitude_first() -> None:
    got = json.loads(b"".join(geojson(iter(SPOTS), line=True)))
    assert got["type"] == "FeatureCollection"
    first, second, way = got["features"]
    assert first["geometry"] == {"type": "Point", "coordinates": [-87.35, 47.05]}
    assert first["id"] == "QH-0042"
    assert second["properties"] == {"name": "=1+1", "group": "Mill; Race, “end”"}
    assert way["geometry"]["coordinates"] == [[-87.35, 47.05], [-87.3500001, 47.0512345]]
    assert json.loads(b"".join(geojson([])))["features"] == []


def test_gpx_holds_waypoints_and_the_way_as_a_route() -> None:
    got = gpxpy.parse(b"".join(gpx("Round “A” & B", iter(SPOTS), route=True)).decode())
    assert got.version == "1.1"
    assert got.name == "Round “A” & B"
    assert [(one.latitude, one.longitude, one.name) for one in got.waypoints] == [
        (47.05, -87.35, "QH-0042"),
        (47.0512345, -87.3500001, "=1+1"),
    ]
    assert got.waypoints[0].description == "Zoë’s <yard> & gate"
    assert [point.name for point in got.routes[0].points] == ["QH-0042", "=1+1"]
    assert gpxpy.parse(b"".join(gpx("x", SPOTS)).decode()).routes == []


def test_a_place_opens_in_the_phones_map() -> None:
    # RFC 5870, 3.3 and 3.4.2: latitude first, no blank, no exponent.
    assert geo_address(-87.3500001, 0.00002) == "geo:0.00002,-87.3500001"


@pytest.mark.slow
def test_ogrinfo_and_gpsbabel_read_both(tmp_path: Path) -> None:
    missing = [name for name in ("ogrinfo", "gpsbabel") if shutil.which(name) is None]
    if missing:
        if os.environ.get("CI"):
            pytest.fail(f"{missing} must be there in CI.")
        pytest.skip(f"{', '.join(missing)} not found: places are read by other programs only.")
    (tmp_path / "round.geojson").write_bytes(b"".join(geojson(SPOTS, line=True)))
    (tmp_path / "round.gpx").write_bytes(b"".join(gpx("Round", SPOTS, route=True)))

    def said(*words: str) -> str:
        return subprocess.run(words, check=True, capture_output=True, text=True, timeout=60).stdout

    told = said("ogrinfo", "-al", str(tmp_path / "round.geojson"))
    assert "Feature Count: 3" in told
    assert "POINT (-87.35 47.05)" in told
    assert "Mill; Race, “end”" in told
    told = said("ogrinfo", "-al", str(tmp_path / "round.gpx"), "waypoints", "routes")
    assert "name (String) = QH-0042" in told
    assert "LINESTRING (-87.35 47.05,-87.3500001 47.0512345)" in told
    table = said("gpsbabel", "-i", "gpx", "-f", str(tmp_path / "round.gpx"), "-o", "unicsv", "-F", "-")
    assert "47.05" in table
    assert "QH-0042" in table


def event(**fields: Any) -> Event:
    defaults: dict[str, Any] = {
        "uid": "run-1@sugarbush.invalid",
        "summary": "Round",
        "begins": dt.date(2026, 3, 8),
        "ends": dt.date(2026, 3, 9),
        "changed_at": dt.datetime(2026, 3, 1, 12, 0, 59, 9, tzinfo=dt.UTC),
    }
    return Event(**{**defaults, **fields})


def read(*events: Event) -> list[Any]:
    found = icalendar.Calendar.from_ical(calendar("Quillhaven", events, again_after_h=4))
    assert [error for one in found.walk() for error in getattr(one, "errors", [])] == []
    return list(found.walk("VEVENT"))


def test_icalendar_reads_days_moments_and_what_is_called_off() -> None:
    zone = ZoneInfo("America/Detroit")
    # The clocks went from two to three that night: seven hours of the wall are six.
    begins, ends = (dt.datetime(2026, 3, 8, hour, 30, tzinfo=zone) for hour in (1, 8))
    days, shift, off = read(
        event(sequence=3),
        event(begins=begins, ends=ends, location="Mill Race yard", busy=True),
        event(status="CANCELLED", busy=True, url="https://quillhaven.example/rounds/run/1/"),
    )
    assert days.decoded("DTSTART") == dt.date(2026, 3, 8)
    assert days.decoded("DTEND") == dt.date(2026, 3, 10)  # the day after the last
    assert (days["SEQUENCE"], str(days["TRANSP"])) == (3, "TRANSPARENT")
    assert days.decoded("DTSTAMP") == days.decoded("LAST-MODIFIED") == dt.datetime(2026, 3, 1, 12, 0, 59, tzinfo=dt.UTC)
    assert shift.decoded("DTSTART") == begins.astimezone(dt.UTC)
    assert shift.decoded("DTEND") - shift.decoded("DTSTART") == dt.timedelta(hours=6)
    assert (str(shift["TRANSP"]), str(shift["LOCATION"])) == ("OPAQUE", "Mill Race yard")
    assert (str(off["STATUS"]), str(off["TRANSP"])) == ("CANCELLED", "TRANSPARENT")


@settings(max_examples=60)
@given(TEXT)
def test_any_words_come_back_from_a_calendar_and_a_card(words: str) -> None:
    (one,) = read(event(summary=words, description=NASTY))
    assert str(one["SUMMARY"]) == words
    assert str(one["DESCRIPTION"]) == NASTY
    line = folded("NOTE:" + escaped(words * 3))
    pieces = line.removesuffix(b"\r\n").split(b"\r\n")
    assert all(len(piece) <= 75 and piece.decode() for piece in pieces)
    assert all(piece.startswith(b" ") for piece in pieces[1:])


def test_vobject_reads_people_and_bodies() -> None:
    made = [
        Card(
            uid="urn:uuid:1",
            name="Zoë “Z” O’Hara, jr.",
            organisation="North Bank",
            title="group lead",
            email="zoe@quillhaven.example",
        ),
        Card(
            uid="owner-2",
            name="Parks; and Streets",
            is_body=True,
            phone="555-0142",
            address="3 Mill Lane, Quillhaven",
            note=NASTY,
        ),
    ]
    person, body = vobject.readComponents(b"".join(cards(made)).decode())
    assert person.fn.value == "Zoë “Z” O’Hara, jr."
    assert (person.email.value, person.title.value, person.org.value) == (
        "zoe@quillhaven.example",
        "group lead",
        ["North Bank"],
    )
    assert body.fn.value == "Parks; and Streets"
    assert body.org.value == ["Parks; and Streets"]
    assert body.tel.value == "555-0142"
    assert body.adr.value.street == "3 Mill Lane, Quillhaven"
    assert body.note.value == NASTY
