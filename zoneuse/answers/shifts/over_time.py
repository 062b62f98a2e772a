"""Use of each place unit by unit, as a picture of it needs: around each change, and along a drying zone's days."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...study import Declaration
from ...tables import Adjustment, adjustments, places_of
from ..question import Question
from .designs.controls import concerning, rows_of_change
from .phases import Windows, windows

BEFORE, AFTER, SETTLING, OUTSIDE = "before", "after", "settling", "outside"
COLUMNS = ["adjustment", "place", "side", "slot", "enclosure", "at", "share", "moments"]


def use_around_changes(question: Question) -> pd.DataFrame:
    """One row per change, place it concerns, and unit: the share of seen moments spent there, and on which side.

    Units are those of the shifts answer (sessions, or days where an enclosure has several a day), apart by slot.
    ``outside`` units belong to an earlier or a later change; ``at`` is the unit's first moment.
    """
    declared, rows, unit = question.declared, question.rows, question.unit
    changes = adjustments(question.journals)
    pieces = []
    for change in changes:
        touched = rows_of_change(declared, rows, change)
        seen = windows(concerning(declared, changes, change), change)
        shares = unit_use(touched.assign(side=_sides(touched["at"], seen)), unit)
        for place in places_concerned(declared, change):
            mine = shares[shares["place"] == place]
            pieces.append(mine.assign(adjustment=change.id)[COLUMNS])
    return pd.concat(pieces, ignore_index=True) if pieces else pd.DataFrame(columns=COLUMNS)


def places_concerned(declared: Declaration, change: Adjustment) -> list[str]:
    """The places something was expected of, then those the change was made in."""
    made_in = [declared.zones[z].place for z in change.zones if z in declared.zones]
    return list(dict.fromkeys([*expected_places(declared, change), *made_in]))


def expected_places(declared: Declaration, change: Adjustment) -> list[str]:
    """The places of which more or less use was expected before the change."""
    zones = [str(e.get("zone")) for e in change.expects]
    return [declared.zones[z].place for z in zones if z in declared.zones]


def _sides(at: pd.Series, seen: Windows) -> np.ndarray:
    made, settled = pd.Timestamp(seen.before[1]), pd.Timestamp(seen.after[0])
    side = np.where(at < made, BEFORE, np.where(at < settled, SETTLING, AFTER)).astype(object)
    if seen.before[0] is not None:
        side[np.asarray(at < pd.Timestamp(seen.before[0]))] = OUTSIDE
    if seen.after[1] is not None:
        side[np.asarray(at >= pd.Timestamp(seen.after[1]))] = OUTSIDE
    return np.asarray(side)


def unit_use(rows: pd.DataFrame, cluster: str) -> pd.DataFrame:
    """Share of seen moments by unit (apart by enclosure, slot and side, where there is one) and place."""
    known = rows[rows["place"].notna()]
    keys = [k for k in ("enclosure", "slot", "side", cluster) if k in known]
    if not len(known):
        return pd.DataFrame(columns=[*keys, "place", "share", "at", "moments"])
    weight = known.pivot_table(
        index=keys, columns="place", values="weight", aggfunc="sum", fill_value=0.0, observed=True
    )
    total = weight.sum(axis=1)
    shares = weight.div(total, axis=0).reset_index().melt(keys, var_name="place", value_name="share")
    first = known.groupby(keys)["at"].min().rename("at").reset_index()
    counted = total.rename("moments").reset_index()
    found: pd.DataFrame = shares.merge(first, on=keys).merge(counted, on=keys)
    return found.sort_values(["at", "place"], kind="stable", ignore_index=True)


def use_of_zones(question: Question) -> pd.DataFrame:
    """Share of seen moments by unit and place, places never used in a unit included as 0."""
    shares = unit_use(question.rows, question.unit)
    if not len(shares):
        return shares
    never = [p for p in places_of(question.declared) if p not in set(shares["place"])]
    units = shares.drop_duplicates(["enclosure", "slot", "at"]).assign(share=0.0)
    return pd.concat([shares, *(units.assign(place=p) for p in never)], ignore_index=True)
