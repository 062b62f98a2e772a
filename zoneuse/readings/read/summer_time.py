"""The hour that comes twice when summer time ends: told apart by the order of the rows, or asked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..arrow_arrays import Times
from ..layout import LeftOpen, UndecidedError
from ..times.local_time import to_utc, zone_words
from .rows import Refused

HOUR_MS = 3_600_000
_FEWEST = 5
_LONGEST_MS = 300 * 24 * HOUR_MS


def place(
    local_ms: Times, zone: object, answer: str | None, step_ms: float
) -> tuple[Times, NDArray[np.bool_]]:
    """UTC of the local times of one logger in file order, and which of them never were (skipped hour).

    ``answer``: "first" or "second" for times that came twice and whose order does not tell; None asks by
    raising UndecidedError. ``step_ms``: the usual step between rows.
    """
    found = to_utc(local_ms, zone)  # type: ignore[arg-type]
    twice = found.twice
    at = found.early.copy()
    if twice.any():
        edges = np.flatnonzero(np.diff(np.r_[False, twice, False].astype(np.int8)))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            run = slice(int(start), int(end))
            second = _second_pass(local_ms, found.late - found.early, run, step_ms)
            if second is None:
                if answer is None:
                    raise UndecidedError((_question(local_ms[run], zone),))
                second = np.full(run.stop - run.start, answer == "second")
            at[run] = np.where(second, found.late[run], found.early[run])
    return at, found.never


def _second_pass(local: Times, shift: Times, run: slice, step_ms: float) -> NDArray[np.bool_] | None:
    """Which rows of a run in a doubled hour belong to its second pass; None where that is not certain."""
    around = local[max(0, run.start - 1) : run.stop + 1]
    falling = len(around) > 1 and _falls(local, run)
    times = local[run][::-1] if falling else local[run]
    back = np.flatnonzero(_turns_back(times, int(shift[run.start]), step_ms))
    if len(back) == 1 and _by_an_hour(times, int(back[0]), int(shift[run.start]), step_ms):
        second = np.arange(len(times)) > back[0]
    elif len(back):
        return None
    else:
        before, after = (run.stop, run.start - 1) if falling else (run.start - 1, run.stop)
        if len(local) < _FEWEST:
            return None  # a step known from so few rows tells nothing of an hour
        one = _one_pass(local, before, after, times, int(shift[run.start]), step_ms=step_ms)
        if one is None:
            return None
        second = np.full(len(times), one)
    return np.asarray(second[::-1] if falling else second, np.bool_)


def _by_an_hour(times: Times, at: int, shift: int, step_ms: float) -> bool:
    """Whether time went back after a row by what the clocks were changed, less the usual step."""
    return abs(float(times[at + 1] - times[at]) - (step_ms - shift)) <= 0.5 * max(step_ms, 60_000)


def _turns_back(times: Times, shift: int, step_ms: float) -> NDArray[np.bool_]:
    """After which rows the clock was put back; a clock read once an hour then shows the same time again."""
    steps = np.diff(times)
    hourly = abs(step_ms - shift) <= 0.1 * shift
    return np.asarray((steps < 0) | ((steps == 0) & hourly), np.bool_)


def _falls(local: Times, run: slice) -> bool:
    """Whether the file runs newest first around this run."""
    low, high = max(0, run.start - 50), min(len(local), run.stop + 50)
    outside = np.r_[local[low : run.start], local[run.stop : high]]
    if len(outside) < 2:
        outside = local[run]
    return len(outside) > 1 and bool(np.median(np.diff(outside)) < 0)


def _one_pass(
    local: Times, before: int, after: int, times: Times, shift: int, *, step_ms: float
) -> bool | None:
    """Whether a single pass is the second: by the steps to the rows on both sides of it."""
    into = float(times[0] - local[before]) if 0 <= before < len(local) else None
    out = float(local[after] - times[-1]) if 0 <= after < len(local) else None

    def steady(*steps: float | None) -> bool:
        known = [s for s in steps if s is not None]
        return bool(known) and step_ms > 0 and all(0.5 * step_ms < s <= 1.5 * step_ms for s in known)

    first = steady(into, None if out is None else out + shift)
    second = steady(None if into is None else into + shift, out)
    # Steady on both sides without any shift: this clock was not put back at all.
    never_back = into is not None and out is not None and steady(into, out)
    if never_back or first == second:
        return None
    return second


def _question(times: Times, zone: object) -> LeftOpen:
    day = np.datetime64(int(times[0]), "ms")
    shown = str(day)[:16].replace("T", " ")
    where = zone_words(zone)  # type: ignore[arg-type]
    return LeftOpen(
        "doubled",
        f"The hour at {shown} came twice in {where}, and the rows run through it once: the clock of this "
        "file may not follow summer time",
        f"--tz {_winter_offset(int(times[0]), zone)} if its clock ignores summer time, or --doubled-hour first|second",
        ("first", "second"),
    )


def _ignored(
    local: Times, at: Times, never: NDArray[np.bool_], step_ms: float, named: bool
) -> tuple[int, bool] | None:
    """The first row after a change of the clocks that the logger's clock seems not to have followed.

    ``named``: whether the keeper named the zone. Returns (row, certain): not certain where a gap lies over the
    change and nothing tells. A row in the hour that was skipped is certain; so is a step that is as long as
    usual by the clock, and an hour off in truth.
    """
    if never.any():
        return int(np.flatnonzero(never)[0]), True
    if not len(local):
        return None  # all rows wait for those after the doubled hour
    sign = 1 if local[-1] >= local[0] else -1
    for row in np.flatnonzero(np.diff(local - at)):
        shown, true = (sign * float(x[row + 1] - x[row]) for x in (local, at))
        certain = _not_followed(shown, true, step_ms, named)
        if certain is not None:
            return int(row) + 1, certain
    return None


def _not_followed(shown: float, true: float, step_ms: float, named: bool) -> bool | None:
    """Whether it is certain that a clock did not follow a change between two rows; None where it seems to have.

    ``shown`` and ``true``: the step by the clock and in truth, ms.
    """
    if not 0 < shown < _LONGEST_MS:
        return None  # time goes back or leaps by years here, and that is asked about
    off_true, off_shown = abs(true - step_ms), abs(shown - step_ms)
    # An hour must not pass for unsteadiness of a step of two.
    if off_true <= (0.5 if step_ms < HOUR_MS else 0.25) * step_ms and off_true < off_shown:
        return None
    if off_shown <= 0.5 * step_ms:
        daily = step_ms >= 6 * HOUR_MS
        return None if named and daily else True
    true_fits, shown_fits = _whole_steps(true, step_ms), _whole_steps(shown, step_ms)
    if named or (true_fits and not shown_fits):
        return None
    return shown_fits and not true_fits


def _whole_steps(span_ms: float, step_ms: float) -> bool:
    """Whether a span is about a whole number of steps."""
    return not step_ms or abs(span_ms - round(span_ms / step_ms) * step_ms) <= 0.1 * step_ms


def _winter_offset(local_ms: int, zone: object) -> str:
    """The offset that the zone has in winter, as --tz takes it: +01:00."""
    around = np.array([local_ms - 36 * HOUR_MS, local_ms + 36 * HOUR_MS], np.int64)
    # The lesser of both offsets is that of the winter, which a clock keeps that ignores summer time.
    offsets: Times = np.subtract(around, to_utc(around, zone).early)  # type: ignore[arg-type]
    winter = int(offsets.min()) // 60_000
    return f"{'-' if winter < 0 else '+'}{abs(winter) // 60:02d}:{abs(winter) % 60:02d}"


def _clock_question(local_ms: int, zone: object, certain: bool) -> LeftOpen:
    shown = str(np.datetime64(local_ms, "ms"))[:16].replace("T", " ")
    where = zone_words(zone)  # type: ignore[arg-type]
    name = getattr(zone, "key", None) or "ZONE"
    fixed = _winter_offset(local_ms, zone)
    seems = (
        "the rows run on as if the logger's clock had not been changed"
        if certain
        else "no readings lie around that hour, so nothing tells whether the logger's clock was changed"
    )
    return LeftOpen(
        "zone",
        f"In {where} the clocks were changed just before {shown}, and {seems}",
        f"--tz {fixed} if its clock ignores summer time, or --tz {name}"
        + (" --as-written" if certain else "") + " if it follows it",
    )  # fmt: skip


class SummerClock:
    """Places the rows of one logger in UTC as they come, part by part.

    Rows at the end of a part that lie in a doubled hour wait for the rows after them.
    """

    def __init__(self, zone: object, answer: str | None, named: bool = False, sure: bool = False) -> None:
        """``named``: the keeper named the zone; ``sure``: and that the clock follows it, whatever it looks like."""
        self._zone, self._answer, self._named, self._sure = zone, answer, named, sure
        self._step = 0.0
        self._held: tuple[Times, Times, tuple[NDArray[np.float64], ...]] | None = None
        self._context = np.empty(0, np.int64)
        self.refused: list[Refused] = []

    def push(
        self, local: Times, lines: Times, values: tuple[NDArray[np.float64], ...], last: bool = False
    ) -> tuple[Times, Times, tuple[NDArray[np.float64], ...]]:
        """The UTC times, lines and values of the rows that are certain by now."""
        local, lines, values = self._with_held(local, lines, values)
        if len(local) == 0:
            return local, lines, values
        if self._step == 0.0 and len(local) > 1:
            self._step = float(np.median(np.abs(np.diff(local[:10_000]))))
        keep = len(local) if last else self._certain(local)
        if keep < len(local):
            self._held = (local[keep:], lines[keep:], tuple(v[keep:] for v in values))
            local, lines, values = local[:keep], lines[:keep], tuple(v[:keep] for v in values)
        n = len(self._context)
        both = np.r_[self._context, local]
        at, never = place(both, self._zone, self._answer, self._step)
        new = slice(max(n - 1, 0), None)
        self._ask_where_ignored(both[new], at[new], never[new])
        at, never = at[n:], never[n:]
        # The last rows stay as the neighbours of the next, unless they themselves came twice.
        self._context = local[-60:] if keep else self._context
        self._context = self._context[~to_utc(self._context, self._zone).twice]  # type: ignore[arg-type]
        if never.any():
            self._refuse(local[never], lines[never])
            at, lines, values = at[~never], lines[~never], tuple(v[~never] for v in values)
        return at, lines, values

    def _with_held(
        self, local: Times, lines: Times, values: tuple[NDArray[np.float64], ...]
    ) -> tuple[Times, Times, tuple[NDArray[np.float64], ...]]:
        """The rows that were held back before these, and these."""
        if self._held is None:
            return local, lines, values
        held_local, held_lines, held_values = self._held
        self._held = None
        joined = tuple(np.r_[a, b] for a, b in zip(held_values, values, strict=True))
        return np.r_[held_local, local], np.r_[held_lines, lines], joined

    def _ask_where_ignored(self, local: Times, at: Times, never: NDArray[np.bool_]) -> None:
        """Raise what is to be asked where the clock seems not to have followed a change and nobody has said."""
        if self._sure or self._answer is not None:
            return
        found = _ignored(local, at, never, self._step, self._named)
        if found is not None:
            raise UndecidedError((_clock_question(int(local[found[0]]), self._zone, found[1]),))

    def _refuse(self, local: Times, lines: Times) -> None:
        """Rows of a time that never was."""
        where = zone_words(self._zone)  # type: ignore[arg-type]
        for time, line in zip(local, lines, strict=True):
            shown = str(np.datetime64(int(time), "ms"))[:19].replace("T", " ")
            reason = f"{shown} never was in {where}: the clocks went forward over it"
            self.refused.append(Refused(int(line), reason, shown))

    def _certain(self, local: Times) -> int:
        """How many rows from the start do not end in a doubled hour (and the row before it, kept as its
        neighbour, is passed on)."""
        twice = to_utc(local, self._zone).twice  # type: ignore[arg-type]
        if not twice[-1]:
            return len(local)
        outside = np.flatnonzero(~twice)
        return int(outside[-1]) + 1 if len(outside) else 0
