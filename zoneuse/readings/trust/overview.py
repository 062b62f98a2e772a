"""What is there of each logger, how old it is, and what is suspect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path

import numpy as np

from zoneuse.study import Declaration, Placement

from ...study import QUANTITIES
from ..arrow_arrays import Times, Values
from ..store.store import parts_of
from ..store.taken import Intake
from ..times.spoken import local, step_words
from .calibration import drift_s_per_day, side_by_side
from .cross_checks import load_all, span_ms
from .quality import CEILING, FLAG_WORDS, GAP, count_flags
from .series import Series

_STRIP = " ░▒▓█"


@dataclass(frozen=True, slots=True)
class LoggerView:
    """One logger's line: ``suspect`` says in words what not to believe, ``strip`` shows coverage over time."""

    logger: str
    zone: str
    quantities: tuple[str, ...]
    readings: int
    first_ms: int | None
    last_ms: int | None
    step_ms: int
    files: int
    suspect: tuple[str, ...]
    cautions: tuple[str, ...]
    strip: str


def overview(
    study: Path, declared: Declaration, intaken: Sequence[Intake], now: datetime, width: int
) -> list[LoggerView]:
    """One view for each logger of the study, in its order. ``width``: cells of the coverage strip."""
    loaded = load_all(study, declared, intaken=intaken)
    ends = [s.times[[0, -1]] for by_q in loaded.values() for s in by_q.values() if len(s.times)]
    low = min((int(e[0]) for e in ends), default=0)
    high = max((int(e[1]) for e in ends), default=0)
    return [
        _view(name, declared, loaded.get(name, {}), intaken, now, strip=(low, high, width))
        for name in declared.loggers
    ]


def _to_mind(by_q: Mapping[str, Series]) -> tuple[list[str], list[str]]:
    """What is suspect in a logger's readings, and what to mind of them."""
    suspect: list[str] = []
    cautions: list[str] = []
    for q, series in by_q.items():
        counts = count_flags(series.flags)
        counts.pop(GAP, None)
        wet = int(((series.flags & CEILING) > 0).sum())
        if wet:
            share = 100 * wet / max(int((~np.isnan(series.values)).sum()), 1)
            cautions.append(
                f"{QUANTITIES[q].label}: {share:.0f} % of the readings are at its ceiling, and mean at least that much"
            )
        suspect += [f"{QUANTITIES[q].label}: {n:,} {FLAG_WORDS[bit]}" for bit, n in counts.items()]
        cautions += series.cautions
    return suspect, cautions


def _view(
    name: str, declared: Declaration, by_q: Mapping[str, Series], intaken: Sequence[Intake], now: datetime,
    *, strip: tuple[int, int, int],
) -> LoggerView:  # fmt: skip
    logger = declared.loggers[name]
    files = sum(1 for _ in parts_of(intaken, name))
    placed = next((p for p in reversed(logger.placed) if _placed_now(p, now)), None)
    suspect, cautions = _to_mind(by_q)
    drift = drift_s_per_day(logger.clock)
    if drift is not None and abs(drift) > 20:
        cautions.append(f"its clock {'gains' if drift > 0 else 'loses'} {abs(drift):.0f} s a day (corrected)")
    longest = max(by_q.values(), key=lambda s: len(s.times), default=None)
    times = longest.times if longest is not None else np.empty(0, np.int64)
    return LoggerView(
        name,
        placed.zone if placed else "not placed now",
        tuple(by_q),
        len(times),
        int(times[0]) if len(times) else None,
        int(times[-1]) if len(times) else None,
        longest.step_ms if longest is not None else 0,
        files,
        tuple(suspect),
        tuple(dict.fromkeys(cautions)),
        coverage_strip(times, longest.step_ms if longest is not None else 0, *strip),
    )


def _placed_now(placement: Placement, now: datetime) -> bool:
    start, end = span_ms(placement)
    return start <= int(now.timestamp() * 1000) < end


def coverage_strip(
    times_ms: np.ndarray[tuple[int], np.dtype[np.int64]], step_ms: int, low: int, high: int, width: int
) -> str:
    """A row of ``width`` cells from ``low`` to ``high``: how much of each the readings cover, by their step.

    >>> coverage_strip(np.arange(0, 50, 5), 5, 0, 99, 4)
    '██  '
    """
    if len(times_ms) == 0 or high <= low:
        return ("█" if len(times_ms) else " ") * width
    edges = np.linspace(low, high + 1, width + 1)
    counts, _ = np.histogram(times_ms, edges)
    expected = max((high + 1 - low) / width / step_ms, 1.0) if step_ms else 1.0
    share = np.minimum(counts / expected, 1.0)
    level = np.where(counts == 0, 0, np.maximum(1, np.round(share * 4))).astype(int)
    return "".join(_STRIP[n] for n in level)


def age_words(last_ms: int, now: datetime) -> str:
    """How long ago, as a person says it.

    >>> from datetime import UTC
    >>> age_words(0, datetime(1970, 1, 3, tzinfo=UTC))
    '2 days ago'
    """
    minutes = (now.timestamp() * 1000 - last_ms) / 60_000
    if minutes < 0:
        return "in the future: check the clock"
    for size, word in ((60 * 24, "day"), (60, "hour"), (1, "minute")):
        if minutes >= size:
            count = int(minutes // size)
            return f"{count:,} {word}{'s' * (count != 1)} ago"
    return "just now"


def _table_lines(views: Sequence[LoggerView], now: datetime, zone: tzinfo) -> list[str]:
    """A line for each logger below the headings; the count of readings stands at the right of its column."""
    rows: list[tuple[str, ...]] = [("logger", "zone", "readings", "from", "to", "step", "newest")]
    rows += [_row(view, now, zone) for view in views]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            c.rjust(w) if i == 2 else c.ljust(w) for i, (c, w) in enumerate(zip(r, widths, strict=True))
        ).rstrip()
        for r in rows
    ]


def overview_lines(views: Sequence[LoggerView], now: datetime, zone: tzinfo) -> list[str]:
    """The overview as text: a table, a strip of coverage, and what is suspect below it."""
    if not views:
        return ["The study has no loggers. Add [loggers.NAME] with where it is placed to study.toml."]
    lines = _table_lines(views, now, zone)
    low = min((v.first_ms for v in views if v.first_ms is not None), default=None)
    high = max((v.last_ms for v in views if v.last_ms is not None), default=None)
    if low is not None and high is not None:
        name = max(len(v.logger) for v in views)
        lines += ["", f"{' ' * name}  {_minute(low, zone)} to {_minute(high, zone)}"]
        lines += [f"{v.logger.ljust(name)} |{v.strip}|" for v in views]
    return [*lines, "", *_minded(views)]


def _minded(views: Sequence[LoggerView]) -> list[str]:
    """What is suspect and what to mind, a line each."""
    suspect = [f"  {v.logger}  {text}" for v in views for text in v.suspect]
    mind = [f"  {v.logger}  {text}" for v in views for text in v.cautions]
    first = ["Suspect (kept, and left out of joins):", *suspect] if suspect else ["Nothing suspect."]
    return [*first, *(["Mind:", *mind] if mind else [])]


def _minute(ms: int, zone: tzinfo) -> str:
    return local(ms // 60_000 * 60_000, zone)


def _row(view: LoggerView, now: datetime, zone: tzinfo) -> tuple[str, ...]:
    if view.first_ms is None or view.last_ms is None:
        return (view.logger, view.zone, "none yet", "", "", "", "")
    return (
        view.logger, view.zone, f"{view.readings:,}", _minute(view.first_ms, zone), _minute(view.last_ms, zone),
        step_words(view.step_ms).removeprefix("every "), age_words(view.last_ms, now),
    )  # fmt: skip


def side_by_side_lines(
    loaded: Mapping[str, Mapping[str, Series]], declared: Declaration, low_ms: int, high_ms: int
) -> list[str]:
    """How the loggers compared while they lay together, from ``low_ms`` to ``high_ms``."""
    lines: list[str] = []
    for quantity, q in QUANTITIES.items():
        lying = {name: by_q[quantity] for name, by_q in loaded.items() if quantity in by_q}
        parts = {n: _between(s, low_ms, high_ms) for n, s in lying.items()}
        parts = {n: part for n, part in parts.items() if len(part[0])}
        gap = max((s.max_gap_ms for s in lying.values()), default=0)
        found = side_by_side(quantity, parts, gap)
        if found is None:
            continue
        lines.append(
            f"{q.label}: {len(parts)} loggers, {found.moments:,} common times, {found.spread:.2g} {q.unit} apart"
        )
        for name, offset in found.offsets.items():
            within = declared.loggers[name].accuracy.get(quantity)
            far = " - more than its accuracy" if within is not None and abs(offset) > within else ""
            lines.append(f"  {name}  {offset:+.2f} {q.unit} from their mean{far}")
    return lines or ["No two loggers have readings in common then."]


def _between(series: Series, low_ms: int, high_ms: int) -> tuple[Times, Values]:
    part = slice(*np.searchsorted(series.times, [low_ms, high_ms]))
    return series.times[part], series.believed[part]
