"""Parts of the retreats answer as lines of text: who is found with whom, and each retreat month by month."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from ...study import visible


def together_drawn(matrix: pd.DataFrame | None, labels: Mapping[str, str], width: int) -> list[str]:
    """The matrix part: half-weight index in hundredths, animals alike side by side.

    Columns are numbered as the rows are; what does not fit in ``width`` cells is continued below. A dot is
    zero, a dash a pair never checked together.

    >>> cells = [(1, "a", 1, "a", None), (1, "a", 2, "b", 0.5), (2, "b", 1, "a", 0.5), (2, "b", 2, "b", None)]
    >>> names = ["enclosure", "position", "animal", "other_position", "other", "half_weight"]
    >>> matrix = pd.DataFrame([("tank", *c) for c in cells], columns=names)
    >>> print(*together_drawn(matrix, {"a": "Ann", "b": "Bo"}, 40), sep=chr(10))
    <BLANKLINE>
    Found together, in hundredths (half-weight index):
             1   2
     1 Ann      50
     2 Bo   50
    """
    if matrix is None or not len(matrix):
        return ["", "There are no two animals told apart to compare."]
    lines: list[str] = []
    many = matrix["enclosure"].nunique() > 1
    for enclosure, part in matrix.groupby("enclosure", sort=True):
        where = f", {enclosure}" if many else ""
        lines += ["", f"Found together{where}, in hundredths (half-weight index):"]
        names = part.drop_duplicates("position").sort_values("position")["animal"]
        cells = part.pivot(index="position", columns="other_position", values="half_weight").to_numpy(float)
        told = [["" if i == j else _hundredths(v) for j, v in enumerate(row)] for i, row in enumerate(cells)]
        shown = [f"{i:>2} {visible(labels.get(str(n), str(n)))}" for i, n in enumerate(names, 1)]
        lines += _block(shown, [str(j) for j in range(1, len(shown) + 1)], told, width)
    return lines


def months_drawn(months: pd.DataFrame | None, labels: Mapping[str, str], width: int) -> list[str]:
    """The months part: share of those found in retreats, in per cent, with the checks behind each month.

    A dot is zero, a dash a retreat not looked into in that month.
    """
    if months is None or not len(months):
        return ["", "Nothing was found in any month."]
    lines: list[str] = []
    many = months["enclosure"].nunique() > 1
    for enclosure, part in months.groupby("enclosure", sort=True):
        where = f", {enclosure}" if many else ""
        lines += ["", f"Share of those found in retreats by month{where}, per cent:"]
        columns = list(dict.fromkeys(part["month"]))
        by = {
            (m, z): (s, n)
            for m, z, s, n in part[["month", "zone", "share", "checks"]].itertuples(index=False)
        }
        zones = list(dict.fromkeys(part["zone"]))
        told = [[_hundredths(by[m, z][0] if by[m, z][1] else None) for m in columns] for z in zones]
        checks = [str(max(by[m, z][1] for z in zones)) for m in columns]
        shown = [visible(labels.get(str(z), str(z))) for z in zones]
        heads = [m[2:] if "-" in m else m for m in columns]
        lines += _block([*shown, "checks"], heads, [*told, checks], width, wide=6)
    return lines


def _block(
    names: Sequence[str], heads: Sequence[str], cells: Sequence[Sequence[str]], width: int, wide: int = 4
) -> list[str]:
    """Rows of cells under their heads, in as many blocks as the width asks for."""
    gutter = min(max(len(n) for n in names), max(width // 3, 12)) + 1
    fit = max((width - gutter) // wide, 1)
    lines = []
    for start in range(0, len(heads), fit):
        columns = range(start, min(start + fit, len(heads)))
        lines += [""] if start else []
        lines.append((" " * gutter + "".join(f"{heads[j]:>{wide - 1}} " for j in columns)).rstrip())
        for name, row in zip(names, cells, strict=True):
            told = "".join(f"{row[j]:>{wide - 1}} " for j in columns)
            lines.append(f"{name[: gutter - 1]:<{gutter}}{told}".rstrip())
    return lines


def _hundredths(value: float | None) -> str:
    if value is None or value != value:
        return "-"
    return "." if value < 0.005 else f"{100 * value:.0f}"
