"""Water as the keeper thinks of it: how long a litre lasts, when it is too much, and what a finger felt."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...journal import Journals
from ...readings.trust import interpolate
from ...stats.drying import PouredLine, poured_line
from ...study import Declaration, spoken_time, to_ms
from ..finding import Note
from ..phrases import counted
from .cycles import DRIES
from .series import DAY_MS, Climate, at_time

_LITRES = {
    "l": 1.0,
    "litre": 1.0,
    "litres": 1.0,
    "liter": 1.0,
    "liters": 1.0,
    "ml": 0.001,
    "cl": 0.01,
    "dl": 0.1,
}
_WEEKS_DAYS = 14
# Beyond half again of what was ever poured nobody knows what the ground does with it.
_BEYOND = 1.5
_LATELY_DAYS, _WET_H, _NEVER_DRY_PCT = 14, 20.0, 90.0
# Where a finger and a sensor cannot both be right (common practice, no source): humidity in per cent.
_FELT: dict[str, tuple[float, float]] = {
    "dry": (0, 90),
    "damp": (50, 101),
    "wet": (65, 200),
    "soaked": (75, 200),
}
_FELT_WITHIN_MS = 3 * 3_600_000
FELT_COLUMNS = ["zone", "at", "felt", "quantity", "reading", "agrees"]


def water_notes(declared: Declaration, climate: Climate, responses: pd.DataFrame, felt: pd.DataFrame,
                labels: Mapping[str, str]) -> list[Note]:  # fmt: skip
    """What is said of water beside the findings."""
    said = []
    for (zone, quantity), part in responses.groupby(["zone", "quantity"], sort=False):
        if quantity in DRIES and (line := _line(part)) is not None:
            said.append(Note(f"{labels[str(zone)]}: {_litres_said(line)}", (str(zone),)))
    said += [Note(text, zones) for text, zones in _too_much(declared, climate, labels)]
    return said + [
        _felt_said(row, declared, labels) for row in felt.to_dict("records") if row["agrees"] is False
    ]


def _line(part: pd.DataFrame) -> PouredLine | None:
    """From waters whose end was seen: at the limit, or at half of the rise."""
    ended = part[part["held_until"].isin(["limit", "half of the rise"])]
    factor = [_LITRES.get(str(unit).lower(), np.nan) for unit in ended["unit"]]
    return poured_line(
        ended["amount"].to_numpy(float) * np.array(factor, float), ended["held_days"].to_numpy(float)
    )


def _litres_said(line: PouredLine) -> str:
    usual = round(min(line.most, 2.0), 1)
    text = (
        f"{usual:g} l last about {counted(max(round(line.days(usual)), 0), 'day')} here; each litre more lasted "
        f"{line.per_litre:.1f} days longer ({line.low:.1f} to {line.high:.1f}, from {line.pours} waterings)"
    )
    if line.low <= 0:
        return f"{text}. It is too early to tell whether more water lasts longer."
    needed = line.litres(_WEEKS_DAYS)
    if needed > _BEYOND * line.most:
        return f"{text}. What two weeks would take is beyond half again of what was ever poured, and is not told."
    return f"{text}; for two weeks about {max(needed, 0):.1f} l."


def _humidities(
    declared: Declaration, climate: Climate, enclosure: str, lately: NDArray[np.bool_]
) -> dict[str, NDArray[np.float64]]:
    """The relative humidity (%) lately measured in each zone of an enclosure, where it adds up to three days."""
    zones = [z for z in climate.zones if declared.zones[z].enclosure == enclosure]
    values = {z: climate.of(z, "humidity_pct")[lately] for z in zones}
    values = {z: v[~np.isnan(v)] for z, v in values.items()}
    return {z: v for z, v in values.items() if len(v) * climate.step_ms >= 3 * DAY_MS}


def _too_much(
    declared: Declaration, climate: Climate, labels: Mapping[str, str]
) -> list[tuple[str, tuple[str, ...]]]:
    if "humidity_pct" not in climate.values or not len(climate.times):
        return []
    lately = climate.times > climate.times[-1] - _LATELY_DAYS * DAY_MS
    found: list[tuple[str, tuple[str, ...]]] = []
    for enclosure in declared.enclosures:
        values = _humidities(declared, climate, enclosure, lately)
        wet = {z: 24 * float(np.nanmean(climate.wet[lately, climate.zones.index(z)])) for z in values}
        for zone, hours in wet.items():
            if hours >= _WET_H:
                text = f"{labels[zone]} stood in saturated air for {hours:.0f} h a day"
                found.append(
                    (f"{text} over the last {_LATELY_DAYS} days: less water would do, or more air.", (zone,))
                )
        if len(values) > 1 and all(np.percentile(v, 5) >= _NEVER_DRY_PCT for v in values.values()):
            where = f"{enclosure}: " if declared.several else ""
            found.append((
                f"{where}No zone ever dries: all were above {_NEVER_DRY_PCT:.0f} % nearly all the time over the last "
                f"{_LATELY_DAYS} days, so there is nothing left to choose.", tuple(values),
            ))  # fmt: skip
    return found


def felt_by_hand(declared: Declaration, climate: Climate, journals: Journals) -> pd.DataFrame:
    """What a finger felt (dry, damp, wet, soaked), beside the reading of that moment; ``agrees`` None without one."""
    rows: list[dict[str, Any]] = []
    for entry in sorted(journals.entries("context"), key=lambda one: one.record.at):
        fields = entry.record.fields
        zone, felt = str(fields.get("zone")), str(fields.get("value") or "")
        if fields.get("what") != "felt" or zone not in declared.zones or felt not in _FELT:
            continue
        at_ms = to_ms(entry.record.at)
        value = float("nan")
        if (zone, "humidity_pct") in climate.raw:
            at, known = climate.raw[zone, "humidity_pct"]
            order = np.argsort(at, kind="stable")
            value = float(interpolate(np.array([at_ms]), at[order], known[order], _FELT_WITHIN_MS)[0])
        low, high = _FELT[felt]
        rows.append({
            "zone": zone, "at": pd.Timestamp(at_time(at_ms)), "felt": felt, "quantity": "humidity_pct",
            "reading": value, "agrees": None if np.isnan(value) else bool(low <= value < high),
        })  # fmt: skip
    return pd.DataFrame(rows, columns=FELT_COLUMNS)


def _felt_said(row: Mapping[Any, Any], declared: Declaration, labels: Mapping[str, str]) -> Note:
    when = spoken_time(row["at"].to_pydatetime(), declared.timezone)
    says = (
        f"{labels[row['zone']]} felt {row['felt']} at {when}, and its logger read {row['reading']:.0f} %: one of them "
        "is wrong. Feel again, and look where the sensor lies."
    )
    return Note(says, (str(row["zone"]),))
