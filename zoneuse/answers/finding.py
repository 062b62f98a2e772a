"""What an answer found, as data: a verdict with its numbers, what holds it back, and how far to trust it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from .reasons import CONFOUNDERS, REASONS

TOO_EARLY = "too early"
LOOKS_LIKE = "looks like"
FAIRLY_SURE = "fairly sure here"
# Of a claim that stands by itself and not beside all that is asked with it (``at_once``).
ALONE = "alone"
# Sessions and days it takes for anything, and for the surer grade (house rules: a choice, not published thresholds).
LEAST, SURE_FROM = (5, 3), (15, 6)


@dataclass(frozen=True, slots=True)
class Number:
    """A value with its unit: a quantity's own, or share, ratio, chance, count, h, days and their like."""

    value: float | None
    unit: str


@dataclass(frozen=True, slots=True)
class Forecast:
    """How many more units would probably settle it, and the chance that they do.

    ``more`` is None where even ``most`` further units would bring a verdict with no more than ``chance``.
    """

    more: int | None
    chance: float | None
    most: int | None = None


@dataclass(frozen=True, slots=True)
class Confounder:
    """What else differed between two sides that are compared.

    ``code`` is one of ``reasons.CONFOUNDERS``; ``about`` are ids of changes, loggers or zones, ``what`` is the kind of
    change or the keeper's label, ``side`` (before, after) where it concerns one side only, ``on`` the local date of an
    edit or a change. Raises ValueError for a code that is not in the registry.
    """

    code: str
    about: tuple[str, ...] = ()
    what: str = ""
    side: str = ""
    on: date | None = None

    def __post_init__(self) -> None:
        if self.code not in CONFOUNDERS:
            raise ValueError(f"{self.code!r} is no confounder; one of {', '.join(CONFOUNDERS)}")


@dataclass(frozen=True, slots=True)
class Finding:
    """One verdict. ``says`` is rendered from the rest, last, and read back by nothing.

    ``reason`` is a code of ``reasons.REASONS`` where a verdict is withheld, else empty; ``unit`` is what counted
    once (session, day, animal, check), ``compared`` how many findings stand or fall together with this one.
    ``standing`` grades trust; it is empty where nothing is claimed. ``facts`` are what the sentence needs beside
    numbers: words, ids and times; ``confounders`` what else differed, whatever the verdict. Raises
    ValueError for a reason that is not in the registry.
    """

    about: tuple[str, ...]
    verdict: str
    standing: str = ""
    reason: str = ""
    numbers: Mapping[str, Number] = field(default_factory=dict)
    forecast: Forecast | None = None
    unit: str = ""
    compared: int = 1
    facts: Mapping[str, Any] = field(default_factory=dict)
    says: str = ""
    confounders: tuple[Confounder, ...] = ()

    def __post_init__(self) -> None:
        if self.reason and self.reason not in REASONS:
            raise ValueError(f"{self.reason!r} is no reason; one of {', '.join(REASONS)}")

    def __getitem__(self, name: str) -> Any:
        """A number by name, without its unit; NaN where it is not known."""
        value = self.numbers[name].value
        return float("nan") if value is None else value


@dataclass(frozen=True, slots=True)
class Caution:
    """Something the reader must know before believing the numbers."""

    code: str
    says: str


@dataclass(frozen=True, slots=True)
class Note:
    """A sentence beside the findings, and the ids it is about. ``drawn``: a curve in letters, as a figure shows it;
    ``asked``: an option asked for it, so that no face leaves it out."""

    says: str
    about: tuple[str, ...] = ()
    drawn: bool = False
    asked: bool = False


def notes(*said: str) -> tuple[Note, ...]:
    """Sentences about the answer as a whole."""
    return tuple(Note(one) for one in said)


def in_words(findings: Iterable[Finding], sentence: Callable[[Finding], str]) -> tuple[Finding, ...]:
    """Findings with their sentences: the last thing that is done to them."""
    return tuple(replace(f, says=sentence(f)) for f in findings)


def numbers(**named: tuple[float | int | None, str]) -> dict[str, Number]:
    """Numbers by name, each with its unit.

    >>> numbers(used=(0.25, "share"))
    {'used': Number(value=0.25, unit='share')}
    """
    return {name: Number(None if value is None else value, unit) for name, (value, unit) in named.items()}


def standing(sessions: int, days: int, holds: bool = True) -> str:
    """How far a finding can be trusted, by what it rests on; empty where it is too early to say anything.

    The surer grade only where it ``holds`` however often one asks and nothing speaks against it.
    """
    if sessions < LEAST[0] or days < LEAST[1]:
        return ""
    return FAIRLY_SURE if sessions >= SURE_FROM[0] and days >= SURE_FROM[1] and holds else LOOKS_LIKE


def standing_of_units(units: int, holds: bool = True) -> str:
    """The same where animals or enclosures are the units: as many of them as sessions are asked elsewhere."""
    if units < LEAST[0]:
        return ""
    return FAIRLY_SURE if units >= SURE_FROM[0] and holds else LOOKS_LIKE


def trust_said(standing: str) -> str:
    """A standing as faces write it behind a sentence: a single look speaks for today only.

    >>> trust_said(LOOKS_LIKE), trust_said(FAIRLY_SURE)
    ('looks like it today', 'fairly sure here')
    """
    if standing == ALONE:
        return "on its own it looks like it; among all that is asked here it may be chance"
    return f"{LOOKS_LIKE} it today" if standing == LOOKS_LIKE else standing


def below(findings: Sequence[Finding], rows: int) -> list[Finding]:
    """The findings that a face tells below its headline: of an answer without rows the first one is the headline."""
    return list(findings if rows else findings[1:])
