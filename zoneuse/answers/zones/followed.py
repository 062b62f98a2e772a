"""What followed animals tell beside their shares: entries, exits, first entry, dwell, and time together."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from ...stats.space_use.visits import ELSEWHERE, UNKNOWN, Visits, joint_share, visits
from ...tables.availability import places_of
from ...tables.moments import OUTSIDE
from ..filters import inside
from ..question import Question
from .columns import PARTS

FOCAL = "focal"
# Columns of the raster that tracks are counted in.
_RASTER = 24


def followed(question: Question) -> dict[str, pd.DataFrame]:
    """The parts ``visits`` and ``together`` from sessions in which animals were followed; empty where none was."""
    moments = question.moments
    kept = moments["out"].isin(("", OUTSIDE)) & inside(moments, question.filters)
    rows = moments[kept & (moments["method"] == FOCAL) & moments["animal"].notna()]
    if not len(rows):
        return {name: _frame(name, []) for name in ("visits", "together", "by_hour", "density")}
    places = {place: k for k, place in enumerate(places_of(question.declared))}
    known = rows["place"].map(places)
    state = np.where(rows["out"] == OUTSIDE, ELSEWHERE, known.fillna(UNKNOWN)).astype(int)
    tracks = pd.MultiIndex.from_frame(rows[["session", "animal"]])
    track, named = pd.factorize(tracks)
    at_s = rows["at"].astype("int64").to_numpy() / 1000.0
    steps = question.journals.sessions
    step_s: Any = (
        rows["session"].map({s: float(one.every_s or 60) for s, one in steps.items()}).to_numpy(np.float64)
    )
    found = visits(track, at_s, state, step_s)
    who = np.asarray([name[1] for name in named], object)
    return {
        "visits": _frame("visits", _visits(found, who, list(places))),
        "together": _frame("together", _together(rows, state, len(places))),
        "by_hour": _frame("by_hour", _by_hour(rows[rows["out"] == ""])),
        "density": _frame("density", _density(question)),
    }


def _frame(part: str, found: list[dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame(found, columns=[f.name for f in PARTS[part] if not f.label_of])


def _visits(found: Visits, who: Any, places: list[str]) -> list[dict[str, Any]]:
    rows = []
    animal = who[found.track]
    for name in dict.fromkeys(who):
        for k, place in enumerate(places):
            mine = (animal == name) & (found.zone == k)
            if not mine.any():
                continue
            lengths, whole = found.length_s[mine], (found.entered & found.left)[mine]
            first = pd.Series(found.start_s[mine]).groupby(found.track[mine]).min()
            rows.append({
                "animal": name, "zone": place, "entries": int(found.entered[mine].sum()),
                "exits": int(found.left[mine].sum()), "visits": int(mine.sum()),
                "time_min": float(lengths.sum() / 60), "first_entry_min": float(first.median() / 60),
                "sessions": len(first), "whole_visits": int(whole.sum()),
                "dwell_min": float(np.median(lengths[whole]) / 60) if whole.any() else None,
                "longest_min": float(lengths.max() / 60),
            })  # fmt: skip
    return rows


def _by_hour(rows: pd.DataFrame) -> list[dict[str, Any]]:
    seen = rows[rows["place"].notna()]
    hour = seen["hour"].astype(int) % 24
    counts = pd.crosstab(seen["place"], hour)
    total = counts.sum()
    return [
        {"zone": place, "hour": int(h), "share": float(row[h] / total[h]), "moments": int(total[h])}
        for place, row in counts.iterrows()
        for h in counts.columns
    ]


def _density(question: Question) -> list[dict[str, Any]]:
    """States of tracks over a raster of the enclosure; nothing where no camera says how large it is."""
    cameras = [c for c in question.declared.cameras.values() if c.size is not None]
    if len(cameras) != 1 or question.declared.several or cameras[0].size is None:
        return []
    from ...live.tracks import density, kept_ticks

    ticks = kept_ticks(question.declared.folder, question.journals)
    if ticks is None:
        return []
    frame = ticks.select(["at", "animal", "x", "y"]).to_pandas()
    asked = question.filters
    keep = np.ones(len(frame), bool)
    if asked.animals:
        keep &= frame["animal"].isin(asked.animals).to_numpy()
    if asked.since is not None:
        keep &= (frame["at"] >= pd.Timestamp(asked.since)).to_numpy()
    if asked.until is not None:
        keep &= (frame["at"] < pd.Timestamp(asked.until)).to_numpy()
    width, height = cameras[0].size
    shape = max(1, min(_RASTER, round(_RASTER * height / width))), _RASTER
    x, y = (frame[name].to_numpy(float)[keep] for name in ("x", "y"))
    counts = density(x, y, (width, height), shape)
    return [
        {"row": int(r), "column": int(c), "moments": int(counts[r, c]), "rows": shape[0], "columns": shape[1]}
        for r, c in np.argwhere(counts)
    ]


def _together(rows: pd.DataFrame, state: Any, zones: int) -> list[dict[str, Any]]:
    known = rows[["enclosure", "at", "animal"]].assign(state=state)
    keys = ["enclosure", "at"]
    wide = known.pivot_table(
        index=keys, columns="animal", values="state", aggfunc="first", fill_value=UNKNOWN
    )
    found = []
    for one, other in combinations(wide.columns, 2):
        both, same, by_chance = joint_share(wide[one].to_numpy(int), wide[other].to_numpy(int), zones)
        if both:
            shares = {"together": same / both, "by_use_alone": by_chance / both}
            found.append({"pair": f"{one} + {other}", "moments": both, **shares})
    return found
