"""A colony over months: who is in which retreat at each check, with or without company sought."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RETREATS = 8


def colony(
    rng: np.random.Generator,
    *,
    checks: int = 60,
    animals: int = 8,
    stays: float = 0.0,
    follows: float = 0.0,
    weather: float = 0.0,
    avoids: float = 0.0,
    pairs: int = 1,
    found: float = 0.9,
    liking: float = 1.0,
) -> NDArray[np.int64]:
    """Checks x animals: the retreat's number, -1 where not found.

    All share one strong liking (0: all retreats alike); ``weather`` lets it change from check to check; ``stays`` is
    the chance to remain; with chance ``follows`` each second animal of the first ``pairs`` pairs goes where
    its partner is, with chance ``avoids`` it leaves its partner's retreat for another.
    """
    likings = liking * rng.normal(0, 1, RETREATS)
    drift = weather * rng.normal(0, 1, (checks, RETREATS))
    where = np.zeros((checks, animals), np.int64)
    for t in range(checks):
        chance = np.exp(likings + drift[t])
        where[t] = rng.choice(RETREATS, animals, p=chance / chance.sum())
        if t and stays:
            where[t] = np.where(rng.random(animals) < stays, where[t - 1], where[t])
        joins = rng.random(pairs) < follows
        where[t, 1 : 2 * pairs : 2] = np.where(
            joins, where[t, 0 : 2 * pairs : 2], where[t, 1 : 2 * pairs : 2]
        )
        for second in range(1, 2 * pairs, 2):
            while avoids and where[t, second] == where[t, second - 1] and rng.random() < avoids:
                where[t, second] = rng.choice(RETREATS, p=chance / chance.sum())
    return np.where(rng.random(where.shape) < found, where, -1)


def hot_colony(
    rng: np.random.Generator,
    *,
    checks: int = 60,
    animals: int = 8,
    stays: float = 0.8,
    cool: float = 0.5,
    seeks: float = 0.0,
    alike: float = 0.8,
    found: float = 0.9,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """A colony that goes deep on hot days (odds exp(-``cool``) for each °C), where it is moister as well.

    Heat and drought go together with correlation ``alike``. As ``dry_colony``, with checks x retreats of temperature
    last; ``seeks`` is a true liking for moisture in a spell.
    """
    liking, deep = rng.normal(0, 1, RETREATS), rng.uniform(0, 1, RETREATS)
    drought = np.zeros(checks)
    for start in rng.choice(checks, 4, replace=False):
        drought[start : start + 4] = np.maximum(drought[start : start + 4], rng.uniform(8, 20))
    dry = (drought - drought.mean()) / max(drought.std(), 1e-9)
    heat = 26 + 4 * (alike * dry + np.sqrt(1 - alike**2) * rng.normal(size=checks))
    shelter = np.clip(0.6 * deep + 0.4 * rng.uniform(0, 1, RETREATS), 0, 1)
    moisture = rng.normal(82, 3, RETREATS) - drought[:, None] * 1.6 * (1 - shelter)
    moisture += rng.normal(0, 1, moisture.shape)
    warm = 20 + (heat[:, None] - 20) * (1 - 0.7 * deep) + rng.normal(0, 0.3, moisture.shape)
    where = np.zeros((checks, animals), np.int64)
    for t in range(checks):
        pull = seeks * (moisture[t] - moisture[t].mean()) / 10 * (drought[t] > 0)
        chance = np.exp(liking - cool * (warm[t] - warm[t].mean()) + pull)
        where[t] = rng.choice(RETREATS, animals, p=chance / chance.sum())
        if t:
            where[t] = np.where(rng.random(animals) < stays, where[t - 1], where[t])
    return np.where(rng.random(where.shape) < found, where, -1), moisture, moisture.mean(axis=1), warm


def dry_colony(
    rng: np.random.Generator,
    *,
    checks: int = 60,
    animals: int = 8,
    stays: float = 0.8,
    seeks: float = 0.0,
    restless: float = 0.0,
    found: float = 0.9,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """A colony whose retreats dry out in spells, each as fast as it is leaky.

    Checks x animals (-1: not found), checks x retreats the moisture in per cent at each check, and its mean since
    the check before. In a spell each 10 points of moisture multiply a retreat's odds by exp(``seeks``), and animals
    stay with ``restless`` less. Likings have nothing to do with moisture.
    """
    liking, leaky = rng.normal(0, 1, RETREATS), rng.uniform(0.2, 1.6, RETREATS)
    drought = np.zeros(checks)
    for start in rng.choice(checks, 4, replace=False):
        drought[start : start + 4] = np.maximum(drought[start : start + 4], rng.uniform(8, 20))
    base = rng.normal(82, 4, RETREATS)
    moisture = base - drought[:, None] * leaky + rng.normal(0, 1, (checks, RETREATS))
    where = np.zeros((checks, animals), np.int64)
    for t in range(checks):
        chance = np.exp(liking + seeks * (moisture[t] - moisture[t].mean()) / 10 * (drought[t] > 0))
        where[t] = rng.choice(RETREATS, animals, p=chance / chance.sum())
        if t:
            keep = max(stays - restless * (drought[t] > 0), 0.0)
            where[t] = np.where(rng.random(animals) < keep, where[t - 1], where[t])
    return np.where(rng.random(where.shape) < found, where, -1), moisture, moisture.mean(axis=1)
