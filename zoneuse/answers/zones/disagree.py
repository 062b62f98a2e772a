"""Do the enclosures agree, and the animals of one: use of each place by each, and whether they differ beyond luck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.intervals import gather, unit_shares
from ...stats.resampling import groups_differ, holm, stays_in
from ...tables import by_place, offers, places_of
from ..effort import names_of, unit_codes
from ..question import Question

ALPHA = 0.05
# One of a group says something of itself from so many units on.
_LEAST_UNITS = 3
_DRAWS = 999
NOTHING = pd.DataFrame(columns=["zone", "unit", "available", "used", "ratio", "looks", "p_differ"])


@dataclass(frozen=True, slots=True)
class Apart:
    """How one place is used by each of ``names``: ratios of use to offer, and the chance (over all places) that they
    are as far apart by luck. ``kind`` is enclosure or animal; ``furthest`` the one furthest from the others."""

    kind: str
    names: tuple[str, ...]
    ratios: tuple[float, ...]
    p: float
    furthest: str

    @property
    def differ(self) -> bool:
        return self.p <= ALPHA


def apart(question: Question, rows: pd.DataFrame, equal: bool) -> tuple[pd.DataFrame, Mapping[str, Apart]]:
    """The part ``by_enclosure`` (by animal in a single one: ``animals``), and by place how far they are apart.

    By looks (sessions, or days where there are several a day), whatever else counts once, and by stays where main
    places last: only what varies within an enclosure (an animal) tells luck from a difference.
    """
    kind = "enclosure" if rows["enclosure"].nunique() > 1 else "animal"
    names = names_of(rows, kind)
    known = (names.notna() & rows["place"].notna()).to_numpy()
    part = rows[known].reset_index(drop=True)
    if names[known].nunique() < 2:
        return NOTHING, {}
    who = names[known].astype(str).reset_index(drop=True)
    several = part.groupby(["enclosure", "day"])["session"].nunique().max() > 1
    looks = unit_codes(part, "day" if several else "session")
    cell, keys = pd.factorize(who + "\x1f" + pd.Series(looks).astype(str))
    owner = np.array([str(k).split("\x1f")[0] for k in keys])
    availability, chosen = by_place(question.declared, *offers(question.declared, part, equal))
    units = unit_shares(
        gather(
            np.asarray(cell, np.int64), np.full(len(part), -1), chosen, np.arange(len(part)), availability,
            weight=part["weight"].to_numpy(float),
        )
    )  # fmt: skip
    if units.share.shape[0] != len(owner):
        return NOTHING, {}
    enough = [n for n in dict.fromkeys(owner) if (owner == n).sum() >= _LEAST_UNITS]
    keep = np.isin(owner, enough)
    if len(enough) < 2:
        return NOTHING, {}
    return _told(question, kind, owner[keep], units.share[keep], units.offer[keep])


def _told(
    question: Question, kind: str, owner: NDArray[np.str_], share: Floats, offer: Floats
) -> tuple[pd.DataFrame, Mapping[str, Apart]]:
    places, names = places_of(question.declared), _in_order(question, kind, owner)
    codes = np.array([names.index(n) for n in owner], np.int64)
    there = np.flatnonzero((offer > 0).any(axis=0) & (share > 0).any(axis=0))
    if not there.size:
        return NOTHING, {}
    # An animal that stays for days repeats itself: its stays are exchanged, not its sessions.
    stay = stays_in(share, codes)
    p = holm(groups_differ(share[:, there], codes, stay=stay, draws=_DRAWS, seed=question.seed))
    table, found = [], {}
    for j, chance in zip(there, p, strict=True):
        used = np.array([share[codes == k, j].mean() for k in range(len(names))])
        offers_ = np.array([offer[codes == k, j].mean() for k in range(len(names))])
        ratio = np.divide(used, offers_, out=np.full(used.shape, np.nan), where=offers_ > 0)
        for k, name in enumerate(names):
            table.append(
                {"zone": places[j], "unit": name, "available": offers_[k], "used": used[k], "ratio": ratio[k],
                 "looks": int((codes == k).sum()), "p_differ": float(chance)}
            )  # fmt: skip
        alone = [abs(used[k] - np.delete(used, k).mean()) for k in range(len(names))]
        found[places[j]] = Apart(
            kind, tuple(names), tuple(float(r) for r in ratio), float(chance), names[int(np.argmax(alone))]
        )
    return pd.DataFrame(table), found


def _in_order(question: Question, kind: str, owner: NDArray[np.str_]) -> list[str]:
    """The names as study.toml lists them."""
    declared, there = question.declared, set(owner.tolist())
    listed = [*declared.enclosures] if kind == "enclosure" else [*declared.animals, *declared.groups]
    return [n for n in listed if n in there] + sorted(there - set(listed))
