"""Animals that were followed, as pictures: where their tracks were, from above, and the hours of the day by zone.

Both are made of an answer's rows as they are, so that every face makes the same picture of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from .key import Key

# A cell is as dark as what lies in busier ones is little: the cells that hold half of the time together are darkest.
# Half and 95 % are usual for the core and the whole of a range (Worton 1989, Ecology 70:164).
_CUTS = (0.5, 0.8, 0.95)
LEVELS = len(_CUTS) + 1
GROUND_KEY = (
    Key("core", "half of the time"), Key("much", "to 80 %"), Key("some", "to 95 %"), Key("rare", "the rest"),
)  # fmt: skip
# More cells a side than any raster has; what crosses from elsewhere is not trusted to be one.
_MOST = 64


@dataclass(frozen=True, slots=True)
class Ground:
    """An enclosure from above: the place in each cell of a raster ("" is none), and how dark each is.

    ``dark`` is 0 where no track was, up to LEVELS for the cells that hold half of the time. ``names`` of places.
    """

    grid: tuple[tuple[str, ...], ...]
    dark: tuple[tuple[int, ...], ...]
    names: Mapping[str, str] = field(default_factory=dict)
    heading: str = ""
    key: tuple[Key, ...] = GROUND_KEY


def darkness(busier: float) -> int:
    """How dark a cell is, by the share of all moments that lie in busier cells.

    >>> [darkness(part) for part in (0.0, 0.49, 0.5, 0.9, 0.97)]
    [4, 4, 3, 2, 1]
    """
    return LEVELS - sum(busier >= cut for cut in _CUTS)


def grounds(cells: Iterable[Mapping[str, Any]]) -> Iterator[Ground]:
    """A picture for each camera from the rows of the part ``density``; none of what is no raster."""
    by_camera: dict[str, list[Mapping[str, Any]]] = {}
    for cell in cells:
        by_camera.setdefault(_text(cell, "camera"), []).append(cell)
    for camera, mine in by_camera.items():
        down, across = _whole(mine[0], "rows"), _whole(mine[0], "columns")
        if not (0 < down <= _MOST and 0 < across <= _MOST):
            continue
        grid = [[""] * across for _ in range(down)]
        dark = [[0] * across for _ in range(down)]
        names: dict[str, str] = {}
        for one in mine:
            row, column = _whole(one, "row"), _whole(one, "column")
            if not (0 <= row < down and 0 <= column < across):
                continue
            grid[row][column] = place = _text(one, "zone")
            names[place] = _text(one, "zone_label") or place
            busier = one.get("busier")
            if _whole(one, "moments") > 0 and isinstance(busier, int | float):
                dark[row][column] = darkness(busier)
        heading = _heading(camera if len(by_camera) > 1 else "", _whole(mine[0], "beyond"))
        yield Ground(tuple(map(tuple, grid)), tuple(map(tuple, dark)), names, heading)


def _heading(camera: str, beyond: int) -> str:
    of = f" by {camera}" if camera else ""
    out = f"; {beyond:,} moments beyond its edge are not drawn" if beyond > 0 else ""
    return f"Where the tracks were, seen from above{of}{out}"


def _whole(row: Mapping[str, Any], name: str) -> int:
    value = row.get(name)
    return int(value) if isinstance(value, int | float) and abs(value) < 1e12 else -1


def _text(row: Mapping[str, Any], name: str) -> str:
    value = row.get(name)
    return value if isinstance(value, str) else ""
