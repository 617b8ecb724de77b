"""The geometry of the pictures against a second reckoning: numpy's quantiles and bins, and plain sums of widths."""

from __future__ import annotations

import random
from itertools import pairwise
from math import cos, hypot, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sugarbush.core.units import ML_PER
from sugarbush.parts.drawing import bars, scale, spread, staircase, waymap
from sugarbush.parts.drawing.staircase import Branch, Stage


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 200_000), min_size=1, max_size=60).filter(any), st.sampled_from(["metric", "us"]))
def test_a_spread_has_numpys_quartiles_and_bins(volumes_ml, units):
    found = spread.of_volumes(volumes_ml, units)
    assert found is not None
    quartiles = np.quantile(volumes_ml, [0.25, 0.5, 0.75])
    assert (found.lower_ml, found.median_ml, found.upper_ml) == pytest.approx(quartiles, abs=0.51)
    edges = [found.columns[0].from_ml, *(column.to_ml for column in found.columns)]
    counts, _edges = np.histogram(volumes_ml, bins=edges)
    assert [column.count for column in found.columns] == list(counts)
    assert sum(column.count for column in found.columns) == len(volumes_ml)
    # Columns from nothing, as high as they are many, none out of the sheet.
    assert edges[0] == 0
    tallest = max(found.columns, key=lambda column: column.count)
    for column in found.columns:
        assert column.height_px == pytest.approx(tallest.height_px * column.count / tallest.count, abs=0.02)
        assert 0 <= column.x_pct <= column.x_pct + column.width_pct <= 100
    assert found.median_pct == pytest.approx(100 * np.median(volumes_ml) / edges[-1], abs=0.01)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 10**9), st.sampled_from(["metric", "us"]))
def test_ticks_are_round_in_the_readers_unit_and_few(largest_ml, units):
    unit = scale.volume_unit(units)
    ticks = scale.volume_ticks(largest_ml, units)
    assert len(ticks) <= scale.MOST_LINES
    for n, tick in enumerate(ticks, start=1):
        assert tick.at <= largest_ml * (1 + 1e-9)
        mantissa = f"{tick.at / n / float(ML_PER[unit]):.6e}"[0]
        assert mantissa in "125"
    # In anything from 3 thousandths of a unit on there are at least two lines, and the last names the unit.
    if largest_ml >= 0.003 * float(ML_PER[unit]):
        assert len(ticks) >= 2
        assert ticks[-1].words.endswith(unit)
        assert not any(tick.words.endswith(unit) for tick in ticks[:-1])


def random_stages(seed: int) -> list[Stage]:
    """Four balanced places with made-up branches; the last lets everything go."""
    dice, came, stages = random.Random(seed), 0, []
    for n in range(4):
        joins = tuple(Branch(name=f"in {k}", volume_ml=dice.randrange(1, 90_000), kind="came") for k in range(3 - n))
        rest, leaves = came + sum(branch.volume_ml for branch in joins), []
        for k in range(dice.randrange(4)):
            gone = dice.randrange(rest + 1)
            leaves.append(Branch(name=f"out {k}", volume_ml=gone, kind="lost"))
            rest -= gone
        if n == 3:
            leaves.append(Branch(name="end", volume_ml=rest, kind="held"))
            rest = 0
        stages.append(Stage(name=str(n), joins=joins, leaves=tuple(leaves), goes_on_ml=rest))
        came = rest
    return stages


@pytest.mark.parametrize("seed", range(12))
def test_every_width_of_the_stream_is_its_volume_and_widths_in_are_widths_out(seed):
    stages = random_stages(seed)
    found = staircase.draw(stages, width_px=560, stream_px=300)
    assert found is not None
    for band in found.bands:
        assert band.width_px == pytest.approx(band.volume_ml * found.px_per_ml, abs=0.01)
    for node in found.nodes:
        bottom = node.y_px + staircase.NODE_PX
        into = sum(band.width_px for band in found.bands if band.y_px + band.height_px == pytest.approx(node.y_px))
        out = sum(band.width_px for band in found.bands if band.y_px == pytest.approx(bottom))
        assert into == pytest.approx(node.width_px, abs=0.06)
        assert out == pytest.approx(node.width_px, abs=0.06)
    assert max(node.width_px for node in found.nodes) == pytest.approx(300)
    # Words (two lines of 16 px, where the template puts them) never touch, and no two bands cover each other.
    words = [(node.middle_px - 14, node.middle_px + 16) for node in found.nodes]
    for band in found.bands:
        if band.step_y_px:
            up = 1 if band.kind == "came" else 23
            words.append((band.step_y_px - up, band.step_y_px - up + 30))
    assert all(later[0] >= earlier[1] for earlier, later in pairwise(sorted(words)))
    assert all(0 <= top < bottom <= found.height_px for top, bottom in words)
    for n, one in enumerate(found.bands):
        for other in found.bands[n + 1 :]:
            beside = one.right_px <= other.x_px + 0.03 or other.right_px <= one.x_px + 0.03
            above = one.y_px + one.height_px <= other.y_px or other.y_px + other.height_px <= one.y_px
            assert beside or above, (one, other)


def test_a_stream_that_loses_a_millilitre_or_runs_backwards_is_not_drawn():
    came = (Branch(name="in", volume_ml=1_000, kind="came"),)
    for gone, on in ((999, 0), (1_001, 0), (1_100, -100), (500, 500)):
        stage = Stage(name="a", joins=came, leaves=(Branch(name="o", volume_ml=gone, kind="lost"),), goes_on_ml=on)
        assert staircase.draw([stage], width_px=560, stream_px=300) is None


def test_bars_begin_at_nothing_and_past_a_dozen_the_rest_is_one():
    rows = [(f"kind {n}", 1_000 * (20 - n), 100 * n) for n in range(20)]
    found = bars.of_volumes(rows, "metric", "all others")
    assert found is not None
    assert len(found.bars) == bars.MOST_BARS
    values = [ml for _name, ml, _part in rows[:11]] + [sum(ml for _name, ml, _part in rows[11:])]
    for bar, ml in zip(found.bars, values, strict=True):
        assert bar.length_pct == pytest.approx(100 * ml / max(values), abs=0.001)
        assert bar.part_from_pct + bar.part_pct == pytest.approx(bar.length_pct, abs=0.002)
    assert found.bars[-1].name == "all others"
    assert bars.of_volumes([("a", 0, 0)], "metric", "all others") is None


def test_a_way_keeps_its_shape_and_its_numbers_apart():
    dice = random.Random(3)
    places = [(-85.60 + dice.random() * 0.012, 42.96 + dice.random() * 0.006) for _n in range(60)]
    for width in (328, 640):
        found = waymap.draw(places, width_px=width)
        assert found is not None
        # Distances against the plain formula on the town's own parallel, to half a per cent.
        for (a, b), (one, other) in zip(pairwise(places), pairwise(found.stops), strict=True):
            metres = hypot((b[0] - a[0]) * 111_195 * cos(radians(42.963)), (b[1] - a[1]) * 111_195)
            drawn = hypot(other.x_px - one.x_px, other.y_px - one.y_px) / found.px_per_m
            assert drawn == pytest.approx(metres, rel=0.005, abs=0.3 / found.px_per_m)
        assert all(0 < stop.x_px < width and 0 < stop.y_px < found.height_px for stop in found.stops)
        assert found.scale_px == pytest.approx(found.scale_length * found.px_per_m, abs=0.1)
        shown = [stop for stop in found.stops if stop.numbered]
        assert {1, 60} <= {stop.number for stop in shown}
        for n, one in enumerate(shown):
            for other in shown[n + 1 :]:
                apart = max(abs(one.x_px - other.x_px), abs(one.y_px - other.y_px))
                assert apart >= waymap.CLEAR_PX
    north = waymap.draw([(-85.6, 42.9), (-85.6, 42.91)], width_px=328)
    assert north is not None
    assert north.stops[1].y_px < north.stops[0].y_px
    assert waymap.draw([(0.0, 0.0)], width_px=328) is not None
    assert waymap.draw([], width_px=328) is None
