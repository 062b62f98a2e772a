"""Which zone a point lies in: the raster must change nothing but the time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from zoneuse.live.tracks import ZoneMap, homography
from zoneuse.live.tracks.outlines import NOWHERE, edge_distance, mapped

RANDOM = np.random.default_rng(11)


def by_ray(outline: list[tuple[float, float]], x: float, y: float) -> bool:
    """Even-odd rule by a ray to the right (Shimrat 1962, Comm. ACM 5:434), a point at a time."""
    inside = False
    for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1], strict=True):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            inside = not inside
    return inside


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_the_raster_and_the_outlines_say_the_same_of_every_point(seed: int) -> None:
    random = np.random.default_rng(seed)
    outlines = []
    for _ in range(random.integers(1, 5)):
        corners = int(random.integers(3, 9))
        turn = np.sort(random.uniform(0, 2 * np.pi, corners))
        far = random.uniform(0.2, 1, corners)
        outlines.append(
            list(
                zip(
                    *(random.normal(0, 1, (2, 1)) + far * np.array([np.cos(turn), np.sin(turn)])), strict=True
                )
            )
        )
    one = ZoneMap(outlines)
    x, y = random.uniform(-3, 3, (2, 400))
    found = one.zones(x, y)
    for px, py, zone in zip(x, y, found, strict=True):
        expected = next((k for k in one.order if by_ray(outlines[k], px, py)), NOWHERE)
        assert zone == expected


def test_a_point_outside_all_outlines_is_nowhere_however_near() -> None:
    one = ZoneMap([[(0, 0), (10, 0), (10, 10), (0, 10)]])
    x = np.array([5.0, 10.0 + 1e-9, -1e-9, 5.0, np.nan])
    y = np.array([5.0, 5.0, 5.0, 10.0 + 1e-9, 5.0])
    assert one.zones(x, y).tolist() == [0, NOWHERE, NOWHERE, NOWHERE, NOWHERE]


def test_of_two_outlines_that_overlap_the_smaller_one_counts() -> None:
    floor, hide = [(0, 0), (10, 0), (10, 10), (0, 10)], [(2, 2), (4, 2), (4, 4), (2, 4)]
    for order in ([floor, hide], [hide, floor]):
        one = ZoneMap(order)
        assert one.zones(np.array([3.0]), np.array([3.0])).tolist() == [order.index(hide)]
    # Inside a hide on the floor, as far beyond the floor as it is deep in the hide.
    assert ZoneMap([floor, hide]).beyond(
        0, np.array([1], np.int16), np.array([2.25]), np.array([3.0])
    ) == pytest.approx(0.25)


def test_four_points_tell_where_the_others_are() -> None:
    true = np.array([[0.9, 0.1, 12], [-0.05, 1.1, 7], [0.0004, 0.0002, 1]])
    seen = [(100.0, 80.0), (1180.0, 92.0), (1175.0, 690.0), (98.0, 700.0)]
    are = [tuple(float(v[0]) for v in mapped(true, np.array([x]), np.array([y]))) for x, y in seen]
    x, y = RANDOM.uniform(0, 1200, (2, 500))
    for mine, theirs in zip(mapped(homography(seen, are), x, y), mapped(true, x, y), strict=True):
        assert mine == pytest.approx(theirs, rel=1e-6)


def test_distance_from_edges_is_that_of_the_nearest_of_many_points_on_them() -> None:
    outline = np.array([[0.0, 0.0], [3.0, 0.5], [2.0, 2.0]])
    along = np.linspace(0, 1, 4001)[:, None]
    dense = np.vstack(
        [a + along * (b - a) for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True)]
    )
    x, y = RANDOM.uniform(-2, 4, (2, 50))
    expected = np.hypot(dense[:, 0] - x[:, None], dense[:, 1] - y[:, None]).min(axis=1)
    assert edge_distance(outline, x, y) == pytest.approx(expected, abs=1e-3)
