"""How far the loggers can be believed: their noise, their declared accuracy, and one that stands in the sun."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ....readings.trust import CEILING, Series, span_ms
from ....stats.arrays import Floats
from ....stats.curves import calibrated, white_noise
from ....study import QUANTITIES, Logger
from ....tables import Choices, milliseconds
from ...finding import Caution
from ...phrases import listed
from ...quantities_said import said
from ...question import Question

# Noise below this part of a zone's own change over time moves no curve worth a word.
WORTH_IT = 0.02
# A zone at its sensor's ceiling in this share of the moments is worth a word.
SATURATED_SHARE = 0.05
# An accuracy is taken as the half width of an even spread of lasting offsets.
EVEN_SPREAD = 1 / np.sqrt(3.0)
# A logger stands in the sun if its warmest moment of a day, against the other loggers', is that much above its usual
SUN_LEAST_C = 3.0
# on some days and not on others, to and fro, and varies so many times more than the others' do.
SUN_TURNS, SUN_MORE = 4, 2.5
# Days on which every zone is known that it takes to tell.
_LEAST_DAYS = 6
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class LoggerErrors:
    """``chosen`` with noisy readings calibrated and no temperature where a logger stands in the sun; ``quantities`` the
    curves are of; ``offset`` by quantity: what a lasting error of the loggers may move a curve by (one standard
    deviation); ``in_sun`` zones; and the cautions."""

    chosen: Choices
    quantities: tuple[str, ...]
    offset: dict[str, float]
    in_sun: tuple[str, ...]
    cautions: tuple[Caution, ...]


def logger_errors(question: Question, chosen: Choices, quantities: list[str]) -> LoggerErrors:
    """Noise by each logger's own leaps from reading to reading, no more of it than its accuracy; offsets by that."""
    known = [q for q in quantities if q in QUANTITIES]
    changed, offset, noisy = dict(chosen.conditions), {}, []
    at = milliseconds(chosen.rows)
    sunny = list(_in_the_sun(question)) if "temperature_c" in known else []
    left_out = _without(changed, chosen, [zone for zone, *_ in sunny])
    for quantity in known:
        noise, accuracy = np.zeros(len(chosen.zones)), []
        for zone, logger, series, own in _placed(question, quantity):
            allowed = logger.accuracy.get(quantity, QUANTITIES[quantity].accuracy)
            leaps = white_noise(series.believed[own])
            accuracy.append(allowed)
            if leaps > 2 * max(allowed, QUANTITIES[quantity].accuracy):
                noisy.append((logger.id, quantity, leaps, allowed))
            if leaps > 0:
                noise[chosen.zones.index(zone)] += min(leaps, allowed) ** 2 * _kept_between(
                    series.times[own], at
                )
        loggers = _count(question, quantity, chosen)
        noise = noise / np.maximum(loggers, 1) ** 2
        changed[quantity] = _calibrated(changed[quantity], noise)
        if accuracy:
            offset[quantity] = float(EVEN_SPREAD * np.mean(accuracy) / np.sqrt(len(accuracy)))
    cautions = [_noisy_said(*one) for one in noisy]
    cautions += [_sun_said(question, *one, left_out=left_out) for one in sunny]
    cautions += _saturated_said(question, at) if "humidity_pct" in known else []
    return LoggerErrors(
        replace(chosen, conditions=changed), tuple(quantities), offset, tuple(zone for zone, *_ in sunny),
        tuple(cautions),
    )  # fmt: skip


def _without(changed: dict[str, Floats], chosen: Choices, sunny: list[str]) -> bool:
    """Take what a logger in the sun says of its zone out of ``changed``, where two zones are left; whether it was.

    A zone without its temperature leaves the choices of every moment, and a conditional logit of the others holds as
    before (independence of irrelevant alternatives; McFadden 1974). Leaving out only the days on which it ran hot
    would hold less: on the others it stands there too.
    """
    if not sunny:
        return False
    values = changed["temperature_c"].copy()
    values[:, [chosen.zones.index(zone) for zone in sunny]] = np.nan
    if len(values) == 0 or (~np.isnan(values).all(axis=0)).sum() < 2:
        return False
    changed["temperature_c"] = values
    return True


def _placed(question: Question, quantity: str) -> Iterator[tuple[str, Logger, Series, slice]]:
    """Each placement of a logger that has a quantity: zone, logger, its readings, and which of them are from there."""
    loaded = question.readings() if question.readings is not None else {}
    for name, logger in question.declared.loggers.items():
        series = loaded.get(name, {}).get(quantity)
        if series is None or not len(series.times):
            continue
        for placement in logger.placed:
            yield placement.zone, logger, series, slice(*np.searchsorted(series.times, span_ms(placement)))


def _count(question: Question, quantity: str, chosen: Choices) -> Floats:
    """(zones,) loggers of a quantity."""
    found = np.zeros(len(chosen.zones))
    for zone, *_ in _placed(question, quantity):
        found[chosen.zones.index(zone)] += 1
    return found


def _kept_between(times: NDArray[np.int64], at: NDArray[np.int64]) -> float:
    """How much of the noise's variance is left on the line between two readings: all at one, half midway."""
    after = np.searchsorted(times, at)
    inside = (after > 0) & (after < len(times))
    if not inside.any():
        return 1.0
    first, last = times[after[inside] - 1], times[after[inside]]
    part = (at[inside] - first) / np.maximum(last - first, 1)
    return float((part**2 + (1 - part) ** 2).mean())


def _calibrated(values: Floats, noise: Floats) -> Floats:
    """Moments x zones, with the readings of noisy zones taken for what they are; zones without readings stay so."""
    logged = np.flatnonzero(~np.isnan(values).all(axis=0)) if len(values) else np.zeros(0, int)
    spread = np.nanvar(values[:, logged], axis=0)
    found = values.copy()
    if (noise[logged] > WORTH_IT * spread).any():
        found[:, logged] = calibrated(values[:, logged], noise[logged])
    return found


def _in_the_sun(question: Question) -> Iterator[tuple[str, int, int, float]]:
    """Zones whose logger runs hot on some of the days watched and not on others: zone, such days, of days, degrees."""
    if not len(question.rows):
        return
    first = question.rows["at"].iloc[0].to_pydatetime().astimezone(question.declared.timezone)
    shift = int(first.utcoffset().total_seconds() * 1000) if first.utcoffset() else 0
    watched = np.unique((milliseconds(question.rows) + shift) // _DAY_MS)
    warmest: dict[str, Floats] = {}
    for zone, _, series, own in _placed(question, "temperature_c"):
        day, values = (series.times[own] + shift) // _DAY_MS, series.believed[own]
        known = ~np.isnan(values) & np.isin(day, watched)
        top = np.full(watched.size, -np.inf)
        np.maximum.at(top, np.searchsorted(watched, day[known]), values[known])
        held = warmest.get(zone, np.full(watched.size, np.nan))
        warmest[zone] = np.fmax(held, np.where(np.isfinite(top), top, np.nan))
    if len(warmest) < 3:
        return
    table = np.array(list(warmest.values()))
    table = table[:, (~np.isnan(table)).sum(axis=0) == len(table)]
    names = list(warmest)
    for i, hot, days, degrees in stood_in_the_sun(table):
        yield names[i], hot, days, degrees


def stood_in_the_sun(warmest: Floats) -> Iterator[tuple[int, int, int, float]]:
    """Loggers that run hot on some days and not on others, from ``warmest``, loggers x days in °C.

    Which, on how many such days, of how many, and by how many degrees; nobody with fewer days than it takes to tell.
    """
    if warmest.shape[1] < _LEAST_DAYS:
        return
    for i in range(len(warmest)):
        others = np.delete(warmest, i, axis=0)
        apart = warmest[i] - np.median(others, axis=0)
        # How the others vary against each other: a pair of them without this one is not moved by its sun.
        usual = np.median([np.std(one - other) for one, other in combinations(others, 2)])
        above = apart - np.quantile(apart, 0.25)
        hot = above > SUN_LEAST_C
        turns = int((hot[1:] != hot[:-1]).sum())
        if turns >= SUN_TURNS and apart.std() > SUN_MORE * usual:
            yield i, int(hot.sum()), int(apart.size), float(np.median(above[hot]))


def _sun_said(
    question: Question, zone: str, days: int, of: int, degrees: float, *, left_out: bool
) -> Caution:
    many = said("temperature_c", degrees, question.declared.fahrenheit, True)
    name = question.labels.get(question.declared.zones[zone].place, zone)
    what = "the curves are of the other zones" if left_out else "believe nothing here that rests on that zone"
    return Caution(
        "logger-in-sun",
        f"The logger in {name} ran about {many} hotter than its usual on {days} of {of} days, and no other did: does "
        "it stand in the sun, or in a beam of the lamp? Then it tells its own warmth and not the zone's. Shade it; "
        f"{what}.",
    )


def _saturated_said(question: Question, at: NDArray[np.int64]) -> list[Caution]:
    """A humidity at its sensor's ceiling means at least that: what was used there may be moister still."""
    shares: dict[str, float] = {}
    for zone, _, series, own in _placed(question, "humidity_pct"):
        near = np.searchsorted(
            series.times[own], at[(at >= series.times[own][:1]) & (at <= series.times[own][-1:])]
        )
        if len(near):
            wet = (series.flags[own][near] & CEILING) > 0
            shares[zone] = max(shares.get(zone, 0.0), float(wet.mean()))
    told = [
        f"{question.labels.get(question.declared.zones[z].place, z)} ({100 * share:.0f} %)"
        for z, share in shares.items() if share >= SATURATED_SHARE
    ]  # fmt: skip
    if not told:
        return []
    return [Caution(
        "saturated-air",
        f"The air was saturated, as far as the sensor tells, in {listed(told)} of the moments: a humidity used or "
        "on offer there is at least what it says, and how much moister is chosen beyond it cannot be told.",
    )]  # fmt: skip


def _noisy_said(logger: str, quantity: str, leaps: float, allowed: float) -> Caution:
    q = QUANTITIES[quantity]
    return Caution(
        "logger-noisy",
        f"Logger {logger} leaps by {leaps:.1f} {q.unit} ({q.label}) from reading to reading, more than the "
        f"{allowed:g} {q.unit} it is taken to be accurate to: a curve comes out flatter than it is. Declare its "
        "accuracy in study.toml, or look whether it hangs in a draught or a lamp's beam.",
    )
