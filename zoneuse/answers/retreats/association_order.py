"""The association of every pair as one matrix, its animals in the order in which they are found together."""

from __future__ import annotations

import numpy as np
import pandas as pd


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
