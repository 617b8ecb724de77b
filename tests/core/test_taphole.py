"""The hole, the zones to keep free, and where to drill next."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import OutOfRange
from sugarbush.core.taphole import (
    OLD_HOLES,
    OPEN_HOLES,
    Hole,
    KeepOut,
    clashes,
    free_bark,
    hole_volume_cm3,
    side_distance_mm,
    suggest_holes,
)

TRUNK_UM = 400_000
ZONE = KeepOut(side_mm=100, up_down_mm=300)
HOLES = st.builds(
    Hole,
    aspect_deg=st.floats(0, 360),
    height_mm=st.integers(300, 1_500),
    diameter_um=st.integers(305_000, 900_000),
    this_season=st.booleans(),
)


def hole(aspect_deg: float = 180, height_mm: int = 900, *, this_season: bool = False) -> Hole:
    return Hole(aspect_deg=aspect_deg, height_mm=height_mm, diameter_um=TRUNK_UM, this_season=this_season)


@pytest.mark.parametrize(
    ("bit_in", "depth_in", "cm3", "in3"),
    [
        # Trade-facts item 1.3, V = pi/4 d^2 L [C]; tolerance 0.005 cm3, 0.0005 in3.
        (19 / 64, 1.5, 1.701, 0.1038), (19 / 64, 2.0, 2.269, 0.1384), (19 / 64, 2.5, 2.836, 0.1731),
        (5 / 16, 1.5, 1.885, 0.1150), (5 / 16, 2.0, 2.514, 0.1534), (5 / 16, 2.5, 3.142, 0.1917),
        (7 / 16, 1.5, 3.695, 0.2255), (7 / 16, 2.0, 4.927, 0.3007), (7 / 16, 2.5, 6.159, 0.3758),
    ],
)  # fmt: skip
def test_a_hole_takes_out_so_much_wood(bit_in: float, depth_in: float, cm3: float, in3: float) -> None:
    volume_cm3 = hole_volume_cm3(bit_um=bit_in * 25_400, depth_mm=depth_in * 25.4)
    assert volume_cm3 == pytest.approx(cm3, abs=0.005)
    assert volume_cm3 / 2.54**3 == pytest.approx(in3, abs=0.0005)


def test_todays_bit_takes_half_the_wood_of_the_old_one() -> None:
    # Trade-facts item 1.3: 51.0 % at equal depth.
    today = hole_volume_cm3(bit_um=7_937.5, depth_mm=38.1)
    old = hole_volume_cm3(bit_um=11_112.5, depth_mm=38.1)
    assert today / old == pytest.approx(0.510, abs=0.0005)


def test_the_distance_goes_the_shorter_way_round() -> None:
    assert side_distance_mm(hole(350), hole(10)) == pytest.approx(20 / 360 * 3.14159265 * 400)
    assert side_distance_mm(hole(0), hole(360)) == 0


def test_a_trunk_that_has_grown_keeps_the_distance_of_the_older_smaller_trunk() -> None:
    older = Hole(aspect_deg=0, height_mm=900, diameter_um=400_000)
    newer = Hole(aspect_deg=90, height_mm=900, diameter_um=800_000)
    assert side_distance_mm(older, newer) == pytest.approx(314.16, abs=0.01)


@pytest.mark.parametrize(
    ("side_mm", "up_down_mm", "inside"),
    [
        (99, 299, True), (100, 299, False), (101, 299, False), (99, 300, False), (99, 301, False), (0, 0, True),
        (0, 300, False), (100, 0, False),
    ],
)  # fmt: skip
def test_a_zone_ends_exactly_at_its_distance(side_mm: int, up_down_mm: int, inside: bool) -> None:
    assert ZONE.holds(side_mm=side_mm, up_down_mm=up_down_mm) is inside


def test_the_zone_of_an_open_hole_runs_the_whole_height() -> None:
    assert KeepOut(side_mm=100, up_down_mm=None).holds(side_mm=99, up_down_mm=5_000)


def test_the_usual_zones_are_no_narrower_than_the_advice_they_come_from() -> None:
    # Old holes: 4 in to the side and 12 in up or down, the wide end of UVM tips as quoted [R2]; open holes: 6 in to
    # the side, UVM Extension slides [R]. Trade-facts item 1.3.
    assert OLD_HOLES.side_mm >= 4 * 25.4
    assert OLD_HOLES.up_down_mm is not None
    assert OLD_HOLES.up_down_mm >= 12 * 25.4
    assert OPEN_HOLES.side_mm >= 6 * 25.4


def test_a_hole_near_an_old_one_clashes_and_names_it() -> None:
    found = clashes(hole(190, 950), [hole(0), hole(180)], old_zone=ZONE)
    assert [(clash.index, clash.up_down_mm, clash.this_season) for clash in found] == [(1, 50, False)]
    assert found[0].side_mm == pytest.approx(34.9, abs=0.05)


def test_a_hole_across_north_clashes_too() -> None:
    assert len(clashes(hole(355), [hole(5)], old_zone=ZONE)) == 1


def test_a_hole_of_this_season_keeps_its_wider_zone() -> None:
    # 40 degrees on a 40 cm trunk are 139.6 mm along the bark: past 102 mm, within 153 mm.
    assert clashes(hole(220), [hole(180)]) == []
    assert [clash.this_season for clash in clashes(hole(220), [hole(180, this_season=True)])] == [True]


def test_the_free_bark_is_the_whole_ring_on_a_trunk_without_holes() -> None:
    arcs = free_bark([], height_mm=900, diameter_um=TRUNK_UM)
    assert [(arc.from_deg, arc.to_deg) for arc in arcs] == [(0, 360)]


def test_two_holes_leave_two_stretches_of_bark() -> None:
    arcs = free_bark([hole(90), hole(270)], height_mm=900, diameter_um=TRUNK_UM, old_zone=ZONE)
    half = 100 / (3.14159265 * 400) * 360
    edges = [edge for arc in arcs for edge in (arc.from_deg, arc.to_deg)]
    assert edges == pytest.approx([90 + half, 270 - half, 270 + half, 450 - half])


def test_a_hole_higher_up_than_its_zone_takes_no_bark() -> None:
    assert len(free_bark([hole(90, 1_300)], height_mm=900, diameter_um=TRUNK_UM, old_zone=ZONE)) == 1
    assert free_bark([hole(90, 1_200)], height_mm=900, diameter_um=TRUNK_UM, old_zone=ZONE)[0].width_deg == 360
    assert free_bark([hole(90, 1_199)], height_mm=900, diameter_um=TRUNK_UM, old_zone=ZONE)[0].width_deg < 360


def test_a_ring_of_holes_leaves_no_bark() -> None:
    ring = [hole(deg) for deg in range(0, 360, 20)]
    assert free_bark(ring, height_mm=900, diameter_um=TRUNK_UM, old_zone=ZONE) == []


@given(st.lists(HOLES, max_size=8), st.floats(0, 359.9), st.integers(300, 1_500), st.integers(305_000, 900_000))
def test_the_free_bark_and_the_clashes_tell_the_same_story(
    old: list[Hole], aspect_deg: float, height_mm: int, diameter_um: int
) -> None:
    new = Hole(aspect_deg=aspect_deg, height_mm=height_mm, diameter_um=diameter_um)
    arcs = free_bark(old, height_mm=height_mm, diameter_um=diameter_um)
    edge = 1e-6
    inside = any(
        arc.from_deg + edge < turned < arc.to_deg - edge for arc in arcs for turned in (aspect_deg, aspect_deg + 360)
    )
    outside = not any(
        arc.from_deg - edge <= turned <= arc.to_deg + edge for arc in arcs for turned in (aspect_deg, aspect_deg + 360)
    )
    if inside:
        assert clashes(new, old) == []
    if outside:
        assert clashes(new, old) != []


def test_the_next_hole_goes_on_round_the_trunk_and_changes_height() -> None:
    # OSU Mansfield [R]: for example 3 in (76 mm) over and 6 in up or down. Ours steps 120 mm.
    first = suggest_holes([hole(180)], diameter_um=TRUNK_UM, count=1)[0]
    assert side_distance_mm(first, hole(180)) == pytest.approx(120)
    assert 180 < first.aspect_deg < 270
    assert first.height_mm != 900


@given(st.lists(HOLES, max_size=10), st.integers(305_000, 900_000), st.integers(1, 2))
def test_a_suggested_hole_never_clashes_with_an_old_one_or_with_the_other(
    old: list[Hole], diameter_um: int, count: int
) -> None:
    suggested = suggest_holes(old, diameter_um=diameter_um, count=count)
    assert len(suggested) <= count
    for place, new in enumerate(suggested):
        assert clashes(new, [*old, *suggested[:place]]) == []


def test_a_trunk_without_room_gets_no_suggestion() -> None:
    ring = [hole(deg, height) for deg in range(0, 360, 20) for height in (750, 900, 1_100)]
    assert suggest_holes(ring, diameter_um=TRUNK_UM, count=1) == []


def test_a_hole_beyond_reach_or_beside_the_compass_is_refused() -> None:
    for aspect_deg, height_mm in ((-1, 900), (361, 900), (0, -1), (0, 6_001)):
        with pytest.raises(OutOfRange):
            hole(aspect_deg, height_mm)
