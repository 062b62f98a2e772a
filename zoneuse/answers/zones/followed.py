"""What followed animals tell beside their shares: entries, exits, first entry, dwell, and time together."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from ...stats.space_use import ELSEWHERE, UNKNOWN, Visits, busier_part, joint_share, visits
from ...tables import OUTSIDE, places_of
from ..filters import inside
from ..finding import Caution
from ..phrases import counted
from ..question import Question
from .columns import PARTS

FOCAL = "focal"


Found = list[dict[str, Any]]


def followed(question: Question) -> tuple[dict[str, pd.DataFrame], tuple[Caution, ...]]:
    """The parts of sessions in which animals were followed, empty where none was; and what the picture lacks."""
    moments = question.moments
    kept = moments["out"].isin(("", OUTSIDE)) & inside(moments, question.filters)
    rows = moments[kept & (moments["method"] == FOCAL) & moments["animal"].notna()]
    if not len(rows):
        return {name: _frame(name, []) for name in ("visits", "together", "by_hour", "density")}, ()
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
    cells, lacking = _density(question, rows)
    return {
        "visits": _frame("visits", _visits(found, who, list(places))),
        "together": _frame("together", _together(rows, state, len(places))),
        "by_hour": _frame("by_hour", _by_hour(rows[rows["out"] == ""])),
        "density": _frame("density", cells),
    }, lacking


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


def _density(question: Question, rows: pd.DataFrame) -> tuple[Found, tuple[Caution, ...]]:
    """States of tracks over a raster of each camera's enclosure: of the moments asked for, as they are on record."""
    if not any(s.source.get("ticks") for s in question.journals.sessions.values()):
        return [], ()
    from ...live.tracks import kept_ticks
    from ...study import camera_of

    declared = question.declared
    by_camera: dict[str, list[pd.DataFrame]] = {}
    kept = kept_ticks(declared.folder, question.journals)
    for name, ticks in kept.tables.items():
        table = declared.tracks.get(name)
        if table is not None:
            by_camera.setdefault(camera_of(declared, table), []).append(ticks.to_pandas())
    asked = rows.loc[:, ["at", "animal"]].astype({"animal": str})
    found: Found = []
    for camera, frames in by_camera.items():
        # A table taken in by two names is one track, and so is a moment that two cameras' tables share.
        every = pd.concat(frames).drop_duplicates(["at", "animal"])
        found += _cells(question, camera, every.merge(asked, on=["at", "animal"]))
    lost = len(kept.problems)
    says = f"The picture of the tracks lacks {counted(lost, 'damaged file')}; zoneuse check names them."
    return found, (Caution("tracks-damaged", says),) if lost else ()


def _cells(question: Question, camera: str, ticks: pd.DataFrame) -> list[dict[str, Any]]:
    from ...live.tracks import density, plan_of

    x, y = ticks["x"].to_numpy(float), ticks["y"].to_numpy(float)
    known = int((np.isfinite(x) & np.isfinite(y)).sum())
    plan = plan_of(question.declared, camera, ticks["at"].max().to_pydatetime()) if known else None
    if plan is None:
        return []
    counts = density(x, y, plan)
    busier = busier_part(counts.ravel()).reshape(plan.shape)
    places = {zone.id: zone.place for zone in question.declared.zones.values()}
    everywhere = {
        "camera": camera, "rows": plan.shape[0], "columns": plan.shape[1], "beyond": known - int(counts.sum()),
    }  # fmt: skip
    return [
        {"row": r, "column": c, "zone": places.get(zone), "moments": int(counts[r, c]),
         "busier": float(busier[r, c]), **everywhere}
        for r, line in enumerate(plan.zones)
        for c, zone in enumerate(line)
    ]  # fmt: skip


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
