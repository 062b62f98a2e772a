"""One animal followed through its rows, piece by piece: what is believed, which zone holds, the state at each tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .outlines import NOWHERE, Numbers, ZoneMap, Zones

Times = NDArray[np.int64]
Codes = NDArray[np.uint8]
# Why an animal is not known to be anywhere at a tick; SEEN where it is (in a zone, or outside every outline).
SEEN, LOW, MISSING, JUMP, NOT_READ = range(5)
REASONS = ("", "low confidence", "no position", "faster than it can be", "no row")
_LEAST_HOLD_MS, _BLOCK, _SOON, _FIRST = 1000, 256, 24, 64


@dataclass(frozen=True, slots=True)
class Rules:
    """``every_ms`` between ticks; ``holds_ms`` how long a position speaks (None: 2.5 usual steps, at least 1 s);
    ``gap_ms`` without a row nobody looked (None: never); ``fastest`` in units per second; ``border`` in units."""

    every_ms: int
    holds_ms: int | None = None
    gap_ms: int | None = None
    fastest: float | None = None
    border: float = 0.0


@dataclass(frozen=True, slots=True)
class Ticks:
    """One animal's states, a row each tick: ``at`` (n,) ms UTC, ``zone`` (n,) numbers or NOWHERE, ``why`` (n,) SEEN or
    a reason, ``x`` and ``y`` (n,) NaN where not seen or not known. ``gaps``: (from, until) ms without any row."""

    at: Times
    zone: Zones
    why: Codes
    x: NDArray[np.float32]
    y: NDArray[np.float32]
    gaps: tuple[tuple[int, int], ...] = ()


@dataclass(slots=True)
class _Last:
    """The newest believed row and the newest other one."""

    at: int = -(1 << 60)
    zone: int = NOWHERE
    held: int = NOWHERE
    x: float = float("nan")
    y: float = float("nan")
    bad_at: int = -(1 << 60)
    bad_why: int = NOT_READ
    row_at: int = -(1 << 60)


class Follower:
    """Takes an animal's rows in pieces; ``ticks`` tells the states in the end."""

    def __init__(self, rules: Rules, zones: ZoneMap | None) -> None:
        self.rules, self.zones = rules, zones
        self.holds_ms = rules.holds_ms or 0
        self.back, self.jumps, self.rows, self.nowhere = 0, 0, 0, 0
        self.low, self.missing = 0, 0
        self._last = _Last()
        self._numbers: Zones | None = None
        self._next: int | None = None
        self._made: list[tuple[Any, ...]] = []
        self._gaps: list[tuple[int, int]] = []

    def use(self, zones: ZoneMap | None, numbers: Sequence[int]) -> None:
        """From here on these outlines hold; ``numbers`` are what theirs are called."""
        if zones is self.zones:
            return
        self.zones = zones
        # Outlines of another date: the zone held is looked for anew.
        self._last.held = NOWHERE
        self._numbers = np.asarray([*numbers, NOWHERE], np.int16)

    def feed(self, at: Times, x: Numbers, y: Numbers, why: Codes, zone: Zones | None = None) -> None:
        """Rows of a piece: times, where, ``why`` not believed (or SEEN); ``zone`` where antennas tell it."""
        at, x, y, why, zone = self._forward(at, x, y, why, zone)
        if not len(at):
            return
        self.rows += len(at)
        self._note_gaps(at)
        self.low += int((why == LOW).sum())
        self.missing += int((why == MISSING).sum())
        good = np.flatnonzero(why == SEEN)
        if self.rules.fastest and zone is None:
            jumped = good[self._jumps(at[good], x[good], y[good])]
            self.jumps += len(jumped)
            why = why.copy()
            why[jumped] = JUMP
            good = np.flatnonzero(why == SEEN)
        tg, xg, yg = at[good], x[good], y[good]
        if zone is not None:
            held = zone[good]
        elif self.zones is None:
            held = np.full(len(good), NOWHERE, np.int16)
        else:
            raw = self.zones.zones(xg.astype(np.float64, copy=False), yg.astype(np.float64, copy=False))
            self.nowhere += int((raw == NOWHERE).sum())
            held = self._held(tg, xg, yg, raw) if self.rules.border else raw
            if len(held):
                self._last.held = int(held[-1])
            held = held if self._numbers is None else self._numbers[held]
        bad = np.flatnonzero(why != SEEN)
        self._tick(at, (tg, held, xg, yg), (at[bad], why[bad]))
        if len(tg):
            self._last.at, self._last.zone = int(tg[-1]), int(held[-1])
            self._last.x, self._last.y = float(xg[-1]), float(yg[-1])
        if len(bad):
            self._last.bad_at, self._last.bad_why = int(at[bad[-1]]), int(why[bad[-1]])
        self._last.row_at = int(at[-1])

    def _forward(self, at: Times, x: Numbers, y: Numbers, why: Codes, zone: Zones | None) -> Any:
        """Without rows whose time does not lie after the one before."""
        if len(at) and self._last.row_at < at[0] and (len(at) == 1 or bool((at[1:] > at[:-1]).all())):
            return at, x, y, why, zone
        newest = np.maximum.accumulate(np.concatenate([[self._last.row_at], at]))[:-1]
        keep = at > newest
        self.back += int((~keep).sum())
        return at[keep], x[keep], y[keep], why[keep], None if zone is None else zone[keep]

    def _note_gaps(self, at: Times) -> None:
        steps = np.diff(at)
        if not self.holds_ms:
            usual = float(np.median(steps)) if len(steps) else 0.0
            self.holds_ms = int(max(_LEAST_HOLD_MS, 2.5 * usual))
        if self.rules.gap_ms is None:
            return
        if self._next is not None and at[0] - self._last.row_at > self.rules.gap_ms:
            self._gaps.append((self._last.row_at, int(at[0])))
        for i in np.flatnonzero(steps > self.rules.gap_ms):
            self._gaps.append((int(at[i]), int(at[i + 1])))

    def _jumps(self, at: Times, x: Numbers, y: Numbers) -> NDArray[np.intp]:
        """Rows too far from the last believed one for the time between: a jump there and back is two rows' work,
        a jump that stays is believed once the animal could have walked it."""
        fastest = self.rules.fastest or np.inf
        if not len(at):
            return np.empty(0, np.intp)
        tt = np.concatenate([[self._last.at], at]) / 1000.0
        xx, yy = np.concatenate([[self._last.x], x]), np.concatenate([[self._last.y], y])
        with np.errstate(invalid="ignore"):
            far = np.diff(xx) ** 2 + np.diff(yy) ** 2
            fast = np.flatnonzero(far > (fastest * np.diff(tt)) ** 2) + 1
        if not len(fast):
            return np.empty(0, np.intp)
        stops = self._soon(fast, (tt, xx, yy), fastest)
        bad: list[NDArray[np.intp]] = []
        done = 0
        for i, soon in zip(fast.tolist(), stops.tolist(), strict=True):
            if i > done:
                done = soon or _stays_until(i, (tt, xx, yy), fastest)
                bad.append(np.arange(i, done) - 1)
        return np.concatenate(bad)

    def _soon(self, fast: NDArray[np.intp], rows: tuple[Numbers, ...], fastest: float) -> NDArray[np.intp]:
        """For each row that is too far, which of the next few can be believed again; 0 where none of them."""
        tt, xx, yy = rows
        anchor, at = (fast - 1)[:, None], fast[:, None] + np.arange(_SOON)
        inside = at < len(tt)
        at = np.minimum(at, len(tt) - 1)
        far = (xx[at] - xx[anchor]) ** 2 + (yy[at] - yy[anchor]) ** 2
        fits = inside & (far <= (fastest * (tt[at] - tt[anchor])) ** 2)
        return np.where(fits.any(axis=1), fast + fits.argmax(axis=1), 0)

    def _held(self, at: Times, x: Numbers, y: Numbers, raw: Zones) -> Zones:
        """The zone an animal is in stays its zone until it is more than ``border`` outside of it."""
        assert self.zones is not None
        if not len(raw):
            return raw
        out = raw.copy()
        starts = np.concatenate(
            [[0], np.flatnonzero((raw[1:] != raw[:-1]) | (np.diff(at) > self.holds_ms)) + 1]
        )
        ends = np.append(starts[1:], len(raw))
        before = np.concatenate([[self._last.held], raw[starts[:-1]]])
        leaves = self._first_out(starts, ends, before, (x, y, raw))
        held, last = self._last.held, self._last.at
        fresh = (
            np.concatenate([[int(at[0]) - last], at[starts[1:]] - at[starts[1:] - 1]]) > self.holds_ms
        ).tolist()
        kinds, origins = raw[starts].tolist(), before.tolist()
        for run, (a, b) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
            kind = kinds[run]
            if kind == held or held == NOWHERE or fresh[run]:
                held = kind
                continue
            if origins[run] == held:
                first = leaves[run]
            else:
                far = self.zones.beyond(held, raw[a:b], x[a:b], y[a:b]) > self.rules.border
                first = a + int(far.argmax()) if far.any() else b
            out[a:first] = held
            if first < b:
                held = kind
        return out

    def _first_out(
        self,
        starts: NDArray[np.intp],
        ends: NDArray[np.intp],
        before: Zones,
        points: tuple[Numbers, Numbers, Zones],
    ) -> list[int]:
        """For each run the first row that is out of the zone of the run before; its end where none is."""
        assert self.zones is not None
        x, y, raw = points
        from_zone = np.repeat(before, ends - starts)
        out = np.zeros(len(raw), np.bool_)
        # An animal is mostly far inside: of a run only the first rows, until one is out, are asked for.
        early = np.arange(len(raw)) - np.repeat(starts, ends - starts) < _FIRST
        abroad = np.flatnonzero((from_zone >= 0) & (raw != from_zone) & early)
        for k in range(len(self.zones.outlines)):
            rows = abroad[from_zone[abroad] == k]
            if len(rows):
                out[rows] = self.zones.beyond(k, raw[rows], x[rows], y[rows]) > self.rules.border
        at = np.where(out, np.arange(len(raw)), len(raw))
        first = np.minimum(np.minimum.reduceat(at, starts), ends)
        for run in np.flatnonzero((first == ends) & (ends - starts > _FIRST) & (before >= 0)):
            rows = np.arange(starts[run] + _FIRST, ends[run])
            k = int(before[run])
            far = self.zones.beyond(k, raw[rows], x[rows], y[rows]) > self.rules.border
            first[run] = rows[int(far.argmax())] if far.any() else ends[run]
        found: list[int] = first.tolist()
        return found

    def _tick(self, at: Times, good: tuple[Any, ...], bad: tuple[Any, ...]) -> None:
        every = self.rules.every_ms
        if self._next is None:
            self._next = -(-int(at[0]) // every) * every
        ticks = np.arange(self._next, int(at[-1]) + 1, every, dtype=np.int64)
        if len(ticks):
            self._next = int(ticks[-1]) + every
            self._made.append(self._states(ticks, good, bad))

    def _states(self, ticks: Times, good: tuple[Any, ...], bad: tuple[Any, ...]) -> tuple[Any, ...]:
        last = self._last
        tg = np.concatenate([[last.at], good[0]])
        row = np.searchsorted(tg, ticks, "right") - 1
        zone = np.concatenate([[last.zone], good[1]]).astype(np.int16)[row]
        x, y = (np.concatenate([[one], many])[row] for one, many in ((last.x, good[2]), (last.y, good[3])))
        seen = ticks - tg[row] <= self.holds_ms
        tb = np.concatenate([[last.bad_at], bad[0]])
        other = np.searchsorted(tb, ticks, "right") - 1
        reason = np.concatenate([[last.bad_why], bad[1]])[other]
        reason = np.where(ticks - tb[other] <= max(self.holds_ms, self.rules.every_ms), reason, NOT_READ)
        why = np.where(seen, SEEN, reason).astype(np.uint8)
        x, y = np.where(seen, x, np.nan), np.where(seen, y, np.nan)
        return (
            ticks,
            np.where(seen, zone, NOWHERE).astype(np.int16),
            why,
            x.astype(np.float32),
            y.astype(np.float32),
        )

    def ticks(self) -> Ticks:
        """All states so far."""
        columns = zip(*self._made, strict=True) if self._made else ([], [], [], [], [])
        kinds = (np.int64, np.int16, np.uint8, np.float32, np.float32)
        at, zone, why, x, y = (
            np.concatenate(list(c)).astype(kind) if len(c) else np.empty(0, kind)
            for c, kind in zip(columns, kinds, strict=True)
        )
        return Ticks(at, zone, why, x, y, tuple(self._gaps))


def _stays_until(i: int, rows: tuple[Numbers, ...], fastest: float) -> int:
    """The first row from ``i`` on to which the animal can have walked from the one before ``i``."""
    tt, xx, yy = rows
    anchor = i - 1
    for start in range(i, len(tt), _BLOCK):
        some = slice(start, start + _BLOCK)
        far = (xx[some] - xx[anchor]) ** 2 + (yy[some] - yy[anchor]) ** 2
        fits = np.flatnonzero(far <= (fastest * (tt[some] - tt[anchor])) ** 2)
        if len(fits):
            return start + int(fits[0])
    return len(tt)


def follow(at: Times, x: Numbers, y: Numbers, rules: Rules, zones: ZoneMap, *, pieces: int = 1) -> Ticks:
    """The states of one animal from its whole track: times (n,) ms, positions (n,) in the units of the outlines."""
    one = Follower(rules, zones)
    why = np.where(np.isnan(x) | np.isnan(y), MISSING, SEEN).astype(np.uint8)
    for part in np.array_split(np.arange(len(at)), pieces):
        one.feed(at[part], x[part], y[part], why[part])
    return one.ticks()
