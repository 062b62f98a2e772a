"""Which sessions two observers watched together, and which of their records are of the same moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...journal import Journals, Session
from ...stats.agreement import Changes, ClockOffset, clock_offset
from ...stats.arrays import Floats
from ...tables import DEFAULT_TICK_S, entered

NOT_FOUND = "not found"
AUTO, BY_SCAN, BY_TIME = "auto", "scan", "time"
# Clocks that differ by more are taken to be set wrongly, and are to be set right.
MOST_OFFSET_S = 600.0
# One observer's two sessions of one time are the same record again only if written down apart.
ENTERED_APART = timedelta(hours=1)


@dataclass(frozen=True)
class Matched:
    """What two observers (or one, twice) recorded of the same moments.

    ``rows`` has one row per matched moment: at, day, together (the session it counts in), animal, and zone and
    behaviour as each said, with the places ``i`` and ``j`` of their rows in the moments.
    """

    observers: tuple[str, str]
    again: bool
    rows: pd.DataFrame
    clocks: ClockOffset
    applied: bool
    by_scan: int
    by_time: int
    within_s: float
    interval_s: float
    days_apart: float

    @property
    def pair(self) -> str:
        return " + ".join(self.observers)


Together = dict[tuple[tuple[str, str], bool], list[tuple[Session, Session]]]


def sessions_together(
    journals: Journals, parts: dict[str, pd.DataFrame], slack_s: float | None
) -> tuple[Together, list[tuple[Session, Session]]]:
    """Sessions on the same animals at the same time by two observers, or by one recorded again later.

    ``parts`` are the moments of each session. Sessions up to ``slack_s`` apart (half a scan's interval unless
    given) still meet. Second are those of one observer that were both recorded live, which tell nothing.
    """
    together: Together = defaultdict(list)
    live: list[tuple[Session, Session]] = []
    spans = {name: (part["at"].min(), part["at"].max()) for name, part in parts.items()}
    animals = {name: set(part["animal"]) for name, part in parts.items()}
    open_ones: list[str] = []
    for name in sorted(parts, key=lambda n: (spans[n][0], n)):
        kept = []
        for other in open_ones:
            slack = interval(journals, parts, name, other) / 2 if slack_s is None else slack_s
            if spans[other][1] + pd.Timedelta(seconds=max(slack, 0.0)) < spans[name][0]:
                continue
            kept.append(other)
            if not animals[name] & animals[other]:
                continue
            one, two = journals.sessions[other], journals.sessions[name]
            if one.observer == two.observer:
                one, two = sorted((one, two), key=entered)
                if entered(two) - entered(one) < ENTERED_APART:
                    live.append((one, two))
                    continue
            elif one.observer > two.observer:
                one, two = two, one
            together[(one.observer, two.observer), one.observer == two.observer].append((one, two))
        open_ones = [*kept, name]
    return dict(sorted(together.items())), live


def interval(journals: Journals, parts: dict[str, pd.DataFrame], *names: str) -> float:
    """Seconds between two scans: as declared when the session was opened, else as they came; the shorter one's."""
    found = []
    for name in names:
        declared = journals.sessions[name].every_s
        if declared:
            found.append(float(declared))
            continue
        steps = np.diff(np.unique(seconds(parts[name])))
        found.append(float(np.median(steps)) if steps.size else DEFAULT_TICK_S)
    return min(found)


def seconds(part: pd.DataFrame) -> Floats:
    return np.asarray(part["at"].astype("int64").to_numpy() / 1000.0, np.float64)


def match(
    journals: Journals,
    parts: dict[str, pd.DataFrame],
    sessions: Sequence[tuple[Session, Session]],
    *,
    by: str,
    within_s: float | None,
    use_offset: bool,
) -> Matched:
    """The moments of all sessions two observers had together, each record used once."""
    first, second = sessions[0]
    every = float(np.median([interval(journals, parts, a.id, b.id) for a, b in sessions]))
    clocks = _clocks(parts, sessions, every)
    applied = use_offset and bool(np.isfinite(clocks.seconds))
    ahead = clocks.seconds if applied else 0.0
    tables, scans, times = [], 0, 0
    for a, b in sessions:
        step = interval(journals, parts, a.id, b.id)
        scanned = _counted_alike(a, b, by, step, ahead)
        if scanned:
            i, j = _by_scan(parts[a.id], parts[b.id])
        else:
            i, j = _by_time(parts[a.id], parts[b.id], step / 2 if within_s is None else within_s, ahead)
        if not i.size:
            continue
        scans, times = scans + scanned, times + (not scanned)
        tables.append(
            _joined(parts[a.id].iloc[i], parts[b.id].iloc[j], min((a, b), key=lambda s: (s.opened, s.id)).id)
        )
    rows = pd.concat(tables, ignore_index=True) if tables else _joined(None, None, "")
    apart = [(entered(b) - entered(a)).total_seconds() / 86400 for a, b in sessions]
    return Matched(
        (first.observer, second.observer), first.observer == second.observer, rows, clocks, applied, scans, times,
        every / 2 if within_s is None else within_s, every, float(np.median(apart)),
    )  # fmt: skip


def _counted_alike(a: Session, b: Session, by: str, step: float, ahead: float) -> bool:
    """Whether their moments are told by numbers: scans of one beat, or two rounds, each of which is one check."""
    rounds = a.method == b.method == "retreat-round"
    return by == BY_SCAN or (by == AUTO and (rounds or _same_scans(a, b, step, ahead)))


def _same_scans(a: Session, b: Session, step: float, ahead: float) -> bool:
    """Whether scan 7 of the one is scan 7 of the other: recorded by beat, begun together."""
    if a.source or b.source or a.method != "scan" or b.method != "scan" or a.every_s != b.every_s:
        return False
    return abs((b.opened - a.opened).total_seconds() - ahead) <= step / 2


def _by_scan(one: pd.DataFrame, other: pd.DataFrame) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows of one scan number and animal; answers given after the next scan had begun are left out."""
    sides = []
    for part in (one, other):
        # A round has no number of its own, and needs none.
        numbered = part["scan"].where(part["method"] != "retreat-round", part["scan"].fillna(0))
        kept = part[["animal"]].assign(scan=numbered, row=np.arange(len(part)))[
            ~part["late"] & numbered.notna()
        ]
        sides.append(kept.drop_duplicates(["animal", "scan"], keep="last"))
    both = sides[0].merge(sides[1], on=["animal", "scan"], suffixes=("", "_other"))
    return both["row"].to_numpy(np.int64), both["row_other"].to_numpy(np.int64)


def _by_time(
    one: pd.DataFrame, other: pd.DataFrame, within: float, ahead: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows of one animal that are each other's nearest, at most ``within`` seconds apart."""
    at, at_other = seconds(one), seconds(other) - ahead
    found: list[tuple[int, int]] = []
    for animal in sorted(set(one["animal"]) & set(other["animal"])):
        mine = np.flatnonzero((one["animal"] == animal).to_numpy())
        theirs = np.flatnonzero((other["animal"] == animal).to_numpy())
        near, back = _nearest(at[mine], at_other[theirs]), _nearest(at_other[theirs], at[mine])
        for k, n in enumerate(near):
            if back[n] == k and abs(at[mine[k]] - at_other[theirs[n]]) <= within:
                found.append((int(mine[k]), int(theirs[n])))
    pairs = np.array(found, np.int64).reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1]


def _nearest(times: Floats, among: Floats) -> NDArray[np.int64]:
    """For each time the place of the nearest one; both sorted."""
    right = np.clip(np.searchsorted(among, times), 1, max(among.size - 1, 1))
    left = right - 1
    right = np.minimum(right, among.size - 1)
    return np.where(times - among[left] <= among[right] - times, left, right).astype(np.int64)


def _joined(one: pd.DataFrame | None, other: pd.DataFrame | None, together: str) -> pd.DataFrame:
    names = ["at", "day", "slot", "animal", "session", "zone", "behaviour", "i"]
    if one is None or other is None:
        columns = [*names, "session_other", "zone_other", "behaviour_other", "j", "together"]
        return pd.DataFrame(columns=columns)
    table = one.assign(zone=one["place"].fillna(NOT_FOUND), i=one.index)[names].reset_index(drop=True)
    theirs = other.reset_index()
    return table.assign(
        session_other=theirs["session"], zone_other=theirs["place"].fillna(NOT_FOUND),
        behaviour_other=theirs["behaviour"], j=theirs["index"], together=together,
    )  # fmt: skip


def _clocks(
    parts: dict[str, pd.DataFrame], sessions: Sequence[tuple[Session, Session]], every: float
) -> ClockOffset:
    """How far the second observer's clock runs ahead, from the changes of zone and behaviour both saw."""
    sides = [
        pd.concat([parts[pair[side].id].assign(pair=k) for k, pair in enumerate(sessions)], ignore_index=True)
        for side in (0, 1)
    ]
    seen = [_changes(side, 3 * every) for side in sides]
    both = pd.concat(seen, ignore_index=True)
    animal = np.asarray(pd.factorize(both["animal"])[0], np.int64)
    what = np.asarray(pd.factorize(both["what"])[0], np.int64)
    at, pair = both["at"].to_numpy(np.float64), both["pair"].to_numpy(np.int64)
    first, second = slice(0, len(seen[0])), slice(len(seen[0]), None)
    one, other = (Changes.of(at[part], pair[part], animal[part], what[part]) for part in (first, second))
    return clock_offset(one, other, most=MOST_OFFSET_S, window=every)


def _changes(side: pd.DataFrame, longest_gap: float) -> pd.DataFrame:
    """When an animal was first seen in another zone, or doing something else, than at the moment before."""
    rows = side.sort_values(["pair", "animal", "at"], kind="stable", ignore_index=True)
    at = seconds(rows)
    follows = np.zeros(len(rows), bool)
    pair, animal = rows["pair"].to_numpy(), rows["animal"].to_numpy(object)
    follows[1:] = (pair[1:] == pair[:-1]) & (animal[1:] == animal[:-1]) & (np.diff(at) <= longest_gap)
    found = []
    for column in ("place", "behaviour"):
        values = rows[column].to_numpy(object)
        known = rows[column].notna().to_numpy()
        moved = follows.copy()
        moved[1:] &= known[1:] & known[:-1]
        moved[1:] &= np.array([new != old for new, old in zip(values[1:], values[:-1], strict=True)], bool)
        k = np.flatnonzero(moved)
        what = [f"{values[n - 1]}\x1f{values[n]}" for n in k]
        found.append(pd.DataFrame({"at": at[k], "pair": pair[k], "animal": animal[k], "what": what}))
    return pd.concat(found, ignore_index=True)
