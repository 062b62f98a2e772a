"""Names of time zones: the one that was meant, and the nearest where there is none of that name."""

from __future__ import annotations

import difflib
from functools import cache
from zoneinfo import available_timezones


@cache
def _by_fold() -> dict[str, str]:
    return {name.casefold(): name for name in sorted(available_timezones())}


def time_zone_named(text: str) -> str | None:
    """The zone of this name, however it is spelt in large and small letters; None where there is none."""
    return _by_fold().get(_folded(text))


def _folded(text: str) -> str:
    return text.strip().casefold().replace(" ", "_")


def nearest_time_zones(text: str) -> str:
    """The zones of that city, or spelt nearly so, as a sentence."""
    wanted, whole = _folded(text), _by_fold()
    cities: dict[str, str] = {}
    for folded, name in whole.items():
        if "/" in name:
            cities.setdefault(folded.rsplit("/", 1)[1], name)
    names = [name for folded, name in whole.items() if wanted and wanted in folded]
    names += [cities[c] for c in difflib.get_close_matches(wanted.rsplit("/", 1)[-1], cities, 3)]
    names += [whole[n] for n in difflib.get_close_matches(wanted, whole, 3)]
    nearest = list(dict.fromkeys(names))[:4]
    return f"Nearest: {', '.join(nearest)}" if nearest else "It is written Europe/Vienna: continent/city"
