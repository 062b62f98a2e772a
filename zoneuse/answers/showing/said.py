"""Numbers as people say them, and what stands beside a verdict: for the rows of every face."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ...study import Declaration
from .. import reasons
from ..finding import ALONE, TOO_EARLY, Finding, trust_said
from ..phrases import counted, listed

_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
# What is missing, for verdicts withheld for a reason; a forecast says it in sessions or days instead.
NEEDS = {
    reasons.TOO_FEW_UNITS: "more sessions",
    reasons.TOO_FEW_MOVES: "moved too rarely",
    reasons.TOO_FEW_CHECKS: "more checks",
    reasons.TOO_FEW_KINDS: "more of each kind",
    reasons.TOO_FEW_DAYS: "more days of readings",
    reasons.UNSEEN_DECIDE: "the unseen decide",
    reasons.SPREAD: "more watching",
    reasons.ONE_SIDE_SHORT: "more on the shorter side",
    reasons.CANNOT_BE_TESTED: "more sessions",
    reasons.NEVER_WITH_THIS_DESIGN: "another way of testing",
    reasons.CONFOUNDED_BY: "something else changed too",
    reasons.NOT_ON_BOTH_SIDES: "not there on both sides",
    reasons.PLACE_OR_CONDITION: "may be the place itself",
    reasons.NOTHING_TO_CHOOSE: "nothing to choose from",
    reasons.NOT_JUDGED: "",
    reasons.NOT_FALLING: "not falling steadily",
}


def number(count: int) -> str:
    """A small number as a word.

    >>> number(5), number(40)
    ('five', '40')
    """
    return _NUMBERS[count] if 0 <= count < len(_NUMBERS) else f"{count:,}"


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def times(value: float | None) -> str:
    """A ratio as it is said; one that is not quite 1 never reads as 1.

    >>> [times(v) for v in (2.317, 0.402, 0.97, 0.043, 0.0, 14.4, 1.0)]
    ['2.3', '0.4', '0.97', '0.04', '0', '14', '1']
    """
    if value is None or not math.isfinite(value):
        return "–"
    if value < 0.005:
        return "0"
    if value >= 10:
        return f"{value:.0f}"
    digits = 1 if value >= 0.095 else 2
    said = f"{value:.{digits}f}"
    if float(said) == 1 and abs(value - 1) >= 0.005:
        said = f"{value:.2f}"
    return "1" if said == "1.0" else said


def times_with(middle: float | None, low: float | None, high: float | None) -> str:
    """``2.3 (1.5 to 3.2)``."""
    if low is None or high is None:
        return times(middle)
    return f"{times(middle)} ({times(low)} to {times(high)})"


def percent(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def percent_with(middle: float | None, low: float | None, high: float | None) -> str:
    """``35 % (26 to 45)``."""
    if low is None or high is None:
        return percent(middle)
    return f"{percent(middle)} ({100 * low:.0f} to {100 * high:.0f})"


def signed(value: float, form: str = ".2g") -> str:
    """A change with its sign; one that rounds to nothing has none.

    >>> signed(0.31), signed(-2.0, ".1f"), signed(-0.0), signed(-0.04, ".1f")
    ('+0.31', '−2.0', '0', '0.0')
    """
    size = f"{abs(value):{form}}"
    return size if not float(size) else f"{'+' if value > 0 else '−'}{size}"


def points(value: float | None) -> str:
    """A change of a share; one that rounds to nothing has no sign.

    >>> points(0.148), points(-0.004), points(-0.19)
    ('+15', '0', '−19')
    """
    if value is None:
        return "–"
    whole = round(100 * value)
    return f"{'+' if whole > 0 else '−'}{abs(whole)}" if whole else "0"


def in_points(value: float) -> str:
    """``+15 points``, ``−1 point``."""
    said = points(value)
    return f"{said} point" if said[1:] == "1" else f"{said} points"


def points_with(middle: float | None, low: float | None, high: float | None) -> str:
    """``+15 (−5 to +37)``."""
    if low is None or high is None:
        return points(middle)
    return f"{points(middle)} ({points_between(low, high)})"


def points_between(low: float, high: float) -> str:
    """The limits of a change; limits that leave out none say so, however near it they come.

    >>> points_between(-0.05, 0.372), points_between(0.002, 0.22), points_between(-0.31, -0.0004)
    ('−5 to +37', '+0.2 to +22', '−31 to −0.04')
    """
    if low * high > 0:
        return " to ".join(points(v) if round(100 * v) else signed(100 * v, ".1g") for v in (low, high))
    return f"{points(low)} to {points(high)}"


def about_so_many(count: int, unit: str) -> str:
    """How many more units, to the precision a forecast has.

    >>> about_so_many(387, "day"), about_so_many(7, "session"), about_so_many(1, "day")
    ('about 400 more days', 'about 7 more sessions', 'about 1 more day')
    """
    step = 1 if count < 15 else 5 if count < 50 else 10 if count < 100 else 50
    rounded = max(round(count / step) * step, 1)
    return f"about {counted(rounded, f'more {unit}')}"


def beside(finding: Finding) -> str:
    """In a few words: how far to trust a verdict that stands, what would settle one that is open."""
    if finding.verdict != TOO_EARLY:
        return "only on its own" if finding.standing == ALONE else trust_said(finding.standing)
    ahead = finding.forecast
    whole = finding.unit in ("animal", "enclosure")
    sides = finding.facts.get("kind") in ("groups", "blocks") or finding.facts.get("change") is not None
    each = " a side" if sides else ""
    if ahead is not None and ahead.chance is not None:
        unit = finding.unit if whole or finding.unit in ("session", "day") else "day"
        if ahead.more is not None:
            return about_so_many(ahead.more, unit) + each
        return f"more than {ahead.most} more {unit}s{each}" if ahead.most else "more than can be watched"
    if whole and finding.reason in (reasons.TOO_FEW_UNITS, reasons.CANNOT_BE_TESTED):
        return f"more {finding.unit}s"
    return NEEDS.get(finding.reason, "")


def verdicts_said(grouped: Sequence[tuple[str, Sequence[str]]], early: int, what: str) -> str:
    """One sentence from names by verdict: ``Open ground is avoided and Moss end favoured; for five zones it is …``.

    ``grouped`` holds (words of the verdict, names) in the order they are said; ``early`` is how many are too early.
    """
    told = [(verdict, names) for verdict, names in grouped if names]
    parts: list[str] = []
    for verdict, names in told:
        # "is" once: Open ground is avoided and Moss end favoured.
        verb = (
            ""
            if parts and len(names) == 1 and len(told[0][1]) == 1
            else f" {'is' if len(names) == 1 else 'are'}"
        )
        parts.append(f"{_few(names, what)}{verb} {verdict}")
    said = " and ".join(parts) if len(parts) < 3 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    if not parts:
        return f"It is too early to tell for {'any' if early != 1 else 'the one'} {what}."
    if not early:
        return capital(f"{said}.")
    return capital(f"{said}; for {number(early)} {what}{'' if early == 1 else 's'} it is too early to tell.")


def _few(names: Sequence[str], what: str) -> str:
    """Names in a row, or their number where a sentence would be a list."""
    return listed(names) if len(names) <= 4 else f"{number(len(names))} {what}s"


def lights_of(declared: Declaration | None) -> tuple[float, float] | None:
    """When the lights of the first enclosure go on and off, as they are now, in hours of the clock."""
    dated = () if declared is None else next(iter(declared.enclosures.values())).lights
    if not dated:
        return None
    lights = dated[-1].value
    return lights.on.hour + lights.on.minute / 60, lights.off.hour + lights.off.minute / 60


def source(study: str) -> str:
    """The line at the foot of every picture."""
    from ...version import __version__

    return f"{study} · one study's own records, drawn by zoneuse {__version__}"


def known(values: Iterable[float | None]) -> list[float]:
    return [v for v in values if v is not None and math.isfinite(v)]
