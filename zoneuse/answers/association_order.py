"""The association of every pair as one matrix, its animals in the order in which they are found together."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ..study.labels import visible


def ordered_matrix(pairs: pd.DataFrame, index: str = "half_weight") -> pd.DataFrame:
    """Animals x animals from a table of pairs, alike ones side by side; NaN where a pair was never checked.

    The order is that of the leaves of an average-linkage tree on 1 - index (Sokal & Michener 1958), turned so that
    neighbours are as alike as they can be (Bar-Joseph, Gifford & Jaakkola 2001, Bioinformatics 17 Suppl 1:S22-S29).

    >>> pairs = pd.DataFrame({"animal": ["a", "a", "b"], "other": ["b", "c", "c"], "half_weight": [0.1, 0.8, 0.1]})
    >>> list(ordered_matrix(pairs).index) in (["b", "a", "c"], ["b", "c", "a"], ["a", "c", "b"], ["c", "a", "b"])
    True
    """
    names = sorted({*pairs["animal"], *pairs["other"]})
    place = {name: i for i, name in enumerate(names)}
    values = np.full((len(names), len(names)), np.nan)
    for one, other, value in pairs[["animal", "other", index]].itertuples(index=False):
        values[place[one], place[other]] = values[place[other], place[one]] = value
    order = _leaves(values)
    ordered = [names[i] for i in order]
    return pd.DataFrame(values[np.ix_(order, order)], index=ordered, columns=ordered)


def _leaves(values: np.ndarray) -> list[int]:
    if len(values) < 3:
        return list(range(len(values)))
    # scipy.cluster costs a third of a second to import.
    from scipy.cluster.hierarchy import leaves_list, linkage
    from scipy.spatial.distance import squareform

    apart = 1 - np.nan_to_num(values, nan=0.0)
    np.fill_diagonal(apart, 0.0)
    tree = linkage(squareform(np.clip(apart, 0, None), checks=False), "average", optimal_ordering=True)
    return [int(i) for i in leaves_list(tree)]


def drawn(matrix: pd.DataFrame | None, labels: Mapping[str, str], width: int) -> list[str]:
    """The matrix part of the retreats answer as lines of text: hundredths, alike ones side by side.

    Columns are numbered as the rows are; what does not fit in ``width`` cells is continued below. A dot is
    zero, a dash a pair never checked together.

    >>> cells = [(1, "a", 1, "a", None), (1, "a", 2, "b", 0.5), (2, "b", 1, "a", 0.5), (2, "b", 2, "b", None)]
    >>> names = ["enclosure", "position", "animal", "other_position", "other", "half_weight"]
    >>> matrix = pd.DataFrame([("tank", *c) for c in cells], columns=names)
    >>> print(*drawn(matrix, {"a": "Ann", "b": "Bo"}, 40), sep=chr(10))
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
        shown = [visible(labels.get(str(n), str(n))) for n in names]
        cells = part.pivot(index="position", columns="other_position", values="half_weight").to_numpy(float)
        lines += _block(shown, cells, width)
    return lines


def _block(names: list[str], cells: np.ndarray, width: int) -> list[str]:
    gutter = min(max(len(n) for n in names), max(width // 3, 8)) + 4
    fit = max((width - gutter) // 4, 1)
    lines = []
    for start in range(0, len(names), fit):
        columns = range(start, min(start + fit, len(names)))
        lines += [""] if start else []
        lines.append((" " * gutter + "".join(f"{j + 1:>3} " for j in columns)).rstrip())
        for i, name in enumerate(names):
            told = "".join(f"{_hundredths(i, j, cells[i, j]):>3} " for j in columns)
            lines.append(f"{i + 1:>2} {name[: gutter - 4]:<{gutter - 4}} {told}".rstrip())
    return lines


def _hundredths(i: int, j: int, value: float) -> str:
    if i == j:
        return ""
    return "-" if value != value else "." if value < 0.005 else f"{100 * value:.0f}"
