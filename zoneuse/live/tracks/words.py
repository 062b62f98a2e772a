"""What became of a file of tracks, in words."""

from __future__ import annotations

from collections.abc import Iterator

from ...study import Declaration, from_ms, spoken_time
from .following import NOT_READ, REASONS, SEEN, Codes
from .intake import StagedTracks, watched
from .outlines import NOWHERE, Zones


def described(staged: StagedTracks, declared: Declaration) -> Iterator[str]:
    """Lines: what was understood, how much of each animal was seen, what was not and why."""
    counts, table = staged.counts, staged.table
    some = next(iter(staged.ticks.values())).at
    step = int(some[1] - some[0]) // 1000 if len(some) > 1 else table.every_s
    first, last = (spoken_time(from_ms(int(ms)), declared.timezone) for ms in (some[0], some[-1]))
    what = "reads" if table.antennas else "positions"
    yield (f"{staged.path.name}: read as [tracks.{table.id}], {counted(counts.rows, 'row')} of {what}, "
           f"{first} to {last}, a state every {step} s")  # fmt: skip
    there = watched(staged)
    for animal, one in staged.ticks.items():
        yield f"  {declared.animals[animal].label}: {_seen_words(one.zone[there], one.why[there])}"
    if off := int((~there).sum()):
        yield f"  nobody looked for {_span(off * step)} in between: no rows at all for over {table.gap_s or 600:g} s"
    for line in _rows_lost(staged):
        yield f"  {line}"


def _seen_words(zone: Zones, why: Codes) -> str:
    n = max(len(why), 1)
    inside = int(((why == SEEN) & (zone != NOWHERE)).sum())
    nowhere = int(((why == SEEN) & (zone == NOWHERE)).sum())
    parts = [f"in a zone {_percent(inside, n)} of the time"]
    if nowhere:
        parts.append(f"outside every outline {_percent(nowhere, n)}")
    unseen = int((why != SEEN).sum())
    if unseen:
        by = ", ".join(
            f"{REASONS[code]} {_percent(k, n)}"
            for code in range(1, NOT_READ + 1)
            if (k := int((why == code).sum()))
        )
        parts.append(f"unseen {_percent(unseen, n)} ({by})")
    return ", ".join(parts)


def _percent(k: int, n: int) -> str:
    share = 100 * k / n
    if k == n or k == 0:
        return f"{share:.0f} %"
    return "under 0.1 %" if share < 0.1 else "over 99.9 %" if share > 99.9 else f"{share:.1f} %"


def _rows_lost(staged: StagedTracks) -> Iterator[str]:
    followers = staged.followers.values()
    counts = staged.counts
    for number, what, says in (
        (counts.no_time, "row", "left out: no time"),
        (counts.no_number, "cell", "not a number: read as no position"),
        (sum(f.back for f in followers), "row", "left out: not later than the row before (sort the table by time)"),
        (sum(f.jumps for f in followers), "row",
         f"faster than {staged.table.fastest or 0:g} a second: marked, not believed"),
        (staged.unread, "read", "left out: an antenna that study.toml does not name"),
    ):  # fmt: skip
        if number:
            yield f"{counted(number, what)} {says}"
    for name, rows in staged.unknown.items():
        yield f"{counted(rows, 'row')} left out: {f'{name!r} is no animal of the study' if name else 'no name'}"


def counted(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def _span(seconds: int) -> str:
    if seconds >= 5400:
        return f"{seconds / 3600:.1f} h"
    return f"{seconds / 60:.0f} min" if seconds >= 120 else f"{seconds} s"
