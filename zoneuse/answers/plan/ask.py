"""What to watch next: what has been watched, what is still open, and the sessions that would help most, by lot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...study import Declaration, here, home, parse_window
from ...tables import adjustments
from ..answer import Answer
from ..columns import names, typed
from ..finding import Caution, in_words, notes
from ..question import Question
from ..showing.plain import rows as rows_of
from .columns import PARTS, ROWS, SHOWN
from .judge import still_open
from .lottery import LotterySession, Planned, Times, draw, hours_watched, lottery_spans, slots_within, starts
from .open_findings import (
    OpenFinding,
    UnderWay,
    answers_so_far,
    ended,
    lotteries_ahead,
    open_findings,
    under_way,
)
from .strip import SessionStrip, lines, strip
from .strip import table as strip_table
from .words import beside, change_name, headline, row_said, sentence, spoken_start
from .worth import shrinking

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType

USUAL_NUMBER = 6


@dataclass(frozen=True)
class PlanAnswer(Answer):
    """An answer that also shows, in a terminal, the strip of what has been watched."""

    strip: SessionStrip | None = None
    minutes: int = 10

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        from rich.text import Text

        from ..showing.brief import brief
        from ..showing.terminal import renderables

        width = options.max_width
        if not self.full:
            yield from brief(self, width, self._seen(width))
            return
        yield from renderables(replace(self, findings=(), notes=(), cautions=(), shown=(), seed=None), width)
        strip = lines(self.strip, width) if self.strip else []
        for line in strip:
            yield Text(line, no_wrap=True, overflow="crop")
        if strip:
            yield Text(_signs(width))
            yield Text()
        yield from renderables(replace(self, headline="", basis="", seed=None), width)

    def _seen(self, width: int) -> list[str]:
        """The strip, and a line for each session drawn."""
        strip = lines(self.strip, width) if self.strip else []
        if strip:
            strip = [*strip, _signs(width), ""]
        ahead = [f"{self.labels.get(r['when'], r['when'])}  {r['covers']}" for r in rows_of(self.table)]
        return [*strip, *(one[:width] for one in ahead)]


def _signs(width: int) -> str:
    """What the letters of the strip stand for."""
    signs = "digits: sessions; o planned; ^ a change" if width > 60 else "o planned, ^ change"
    return f"Hours by days; {signs}"


def plan(
    question: Question,
    *,
    now: datetime,
    sessions: int = USUAL_NUMBER,
    seed: int | None = None,
    known: Sequence[Answer] | None = None,
) -> Answer:
    """What has been watched, what is open, and the next ``sessions`` drawn within ``[watching] can`` from ``now`` on.

    No session is drawn while a change settles. ``seed`` is the day's date as a number unless given, so that
    asking twice does not give another draw. ``when`` is a local time with its offset. ``known``: the answers
    whose open findings are looked through, where they have been asked already.
    """
    declared, rows, made = question.declared, question.rows, adjustments(question.journals)
    labels = {**{c.id: change_name(declared, c) for c in made}, **question.labels}
    answers = answers_so_far(question) if known is None else list(known)
    found = open_findings(answers)
    changes = under_way(question, found, now)
    seed = int(f"{now.astimezone(declared.timezone):%Y%m%d}") if seed is None else seed
    counted = set(rows["session"])
    opened = [s.opened for s in question.journals.sessions.values() if s.id in counted]
    windows = [w for w in map(parse_window, declared.watching.can) if w] or hours_watched(declared, opened)
    ahead = lotteries_ahead(question.journals, now)
    times = Times(
        windows, now, [*((c.change.at, c.settled) for c in changes), *lottery_spans(declared, ahead)]
    )
    reach = slots_within(declared, windows, now)
    have, wanted = _wanted(question, changes, times, reach, sessions)
    lots = draw(declared, times, have, wanted, number=sessions, seed=seed)
    seen = strip(declared, opened, [d.at for d in lots], {c.id: c.at for c in made})
    table = pd.DataFrame(
        [row_said(declared, d, have, changes, whom) for d, whom in _whom(declared, rows, lots)],
        columns=names(ROWS),
    )
    worth = shrinking(question, answers, changes, len(lots))
    findings = still_open(question, found, changes, list(ended(question, found)), now)
    parts = {
        "watched": _watched(rows), "animals": _animals(rows), "strip": strip_table(seen), "open": _open(found),
        "under_way": _under_way_table(changes), "worth": _worth(worth),
    }  # fmt: skip
    return PlanAnswer(
        answer="plan",
        study=declared.title,
        filters=question.filters,
        table=typed(table, ROWS),
        findings=in_words(findings, lambda f: sentence(f, labels, declared)),
        cautions=_cautions(declared, changes, reach, lots, sessions=sessions, watched=bool(opened)),
        effort=question.effort.to_dict(),
        parts={name: typed(part, PARTS[name], labels) for name, part in parts.items()},
        seed=seed,
        shown=SHOWN,
        labels={**labels, **{w: spoken_start(declared, d.at) for w, d in zip(table["when"], lots, strict=True)}},
        headline=headline(question.effort, found, changes),
        notes=notes(*beside(question, Planned(tuple(lots), seed, tuple(ahead)), worth, labels)),
        strip=seen,
        minutes=declared.watching.minutes,
    )  # fmt: skip


def _open(found: Sequence[OpenFinding]) -> pd.DataFrame:
    rows = [
        (o.answer, list(o.finding.about), o.finding.reason, o.more, o.finding.unit, o.finding.says) for o in found
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["answer", "about", "reason", "more", "unit", "says"])


def _worth(rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=[f.name for f in PARTS["worth"] if not f.label_of])


def _wanted(
    question: Question, changes: Sequence[UnderWay], times: Times, reach: set[str], number: int
) -> tuple[dict[str, int], dict[str, int]]:
    """Sessions there are and sessions wanted by time of day: after a change as before it, else as the windows fall."""
    declared, slot_asked, now = question.declared, question.filters.slot, times.earliest
    allowed = reach & {slot_asked} if slot_asked else reach
    for change in sorted(changes, key=lambda c: (-c.missing, c.change.id)):
        wanted = {slot: n for slot, n in change.wanted.items() if slot in allowed}
        if wanted:
            return dict(change.after), wanted
    have = {str(s): int(n) for s, n in question.rows.groupby("slot")["session"].nunique().items()}
    minutes: dict[str, int] = dict.fromkeys(sorted(allowed), 0)
    for k in range(7):
        day = (pd.Timestamp(now) + pd.Timedelta(days=k + 1)).tz_convert(declared.timezone).date()
        for slot, at in starts(declared, Times(times.windows, now), day).items():
            if slot in minutes:
                minutes[slot] += len(at)
    total = sum(have.get(s, 0) for s in minutes) + number
    whole = max(sum(minutes.values()), 1)
    return have, {s: max(round(total * m / whole), 1) for s, m in minutes.items()}


def _whom(
    declared: Declaration, rows: pd.DataFrame, found: Sequence[LotterySession]
) -> Iterator[tuple[LotterySession, tuple[str, ...]]]:
    """Each session with the animal to follow, or the enclosure to watch, where sessions so far had one only.

    Least watched first, of those that are there at that time; nobody where none is.
    """
    kind = "animal" if declared.watching.method == "focal" else "enclosure"
    everyone = list(declared.animals) if kind == "animal" else list(declared.enclosures)
    per_session = rows.groupby("session")[kind].nunique()
    one_each = len(everyone) > 1 and (not len(per_session) or per_session.median() <= 1)
    counts = {name: int(rows[rows[kind] == name]["session"].nunique()) for name in everyone}
    for lot in found:
        if not one_each:
            yield lot, ()
            continue
        there = [name for name in everyone if _there(declared, name, lot.at)]
        least = min(there, key=lambda name: (counts[name], everyone.index(name)), default=None)
        if least is not None:
            counts[least] += 1
        yield lot, (least,) if least is not None else ()


def _there(declared: Declaration, name: str, at: datetime) -> bool:
    """Whether an animal is present at a time, or an enclosure lived in."""
    animal = declared.animals.get(name)
    if animal:
        return home(animal, at) is not None
    animals, groups = here(declared, name, at)
    return bool(animals or groups)


def _watched(rows: pd.DataFrame) -> pd.DataFrame:
    """Sessions, days and moments by time of day and phase."""
    grouped = rows.groupby(["slot", "phase"], sort=True)
    table = grouped.agg(sessions=("session", "nunique"), days=("day", "nunique"), moments=("weight", "sum"))
    return table.reset_index()


def _animals(rows: pd.DataFrame) -> pd.DataFrame:
    """How often each animal was looked for, and how often it was not found."""
    single = rows[rows["animal"].notna()]
    grouped = single.assign(missing=single["zone"].isna()).groupby("animal", sort=True)
    return grouped.agg(
        sessions=("session", "nunique"), moments=("weight", "sum"), not_found=("missing", "mean")
    ).reset_index()


def _under_way_table(changes: Sequence[UnderWay]) -> pd.DataFrame:
    rows = [
        (c.change.id, c.settled.isoformat(), slot, c.before.get(slot, 0), c.after.get(slot, 0), wanted)
        for c in changes
        for slot, wanted in c.wanted.items()
    ]
    columns = ["adjustment", "settled", "slot", "sessions_before", "sessions_after", "wanted_after"]
    return pd.DataFrame(rows, columns=columns)


def _cautions(
    declared: Declaration,
    changes: Sequence[UnderWay],
    reach: set[str],
    found: Sequence[LotterySession],
    *,
    sessions: int,
    watched: bool,
) -> tuple[Caution, ...]:
    told = []
    if not declared.watching.can:
        hours = "the hours watched so far" if watched else "7:00 to 22:00"
        told.append(
            Caution(
                "no-times",
                f"study.toml does not say when you can watch, so times were drawn from {hours}. Say it "
                'with [watching] can = ["weekdays 19:00-23:00"].',
            )
        )
    for change in changes:
        missing = sorted(set(change.wanted) - reach)
        if missing:
            told.append(
                Caution(
                    "out-of-reach",
                    f"Before {change_name(declared, change.change)} there were sessions at "
                    f"{', '.join(missing)}, a time that "
                    "none of yours falls in; they stay without a counterpart.",
                )
            )
    empty = [d for d in found if not any(_there(declared, e, d.at) for e in declared.enclosures)]
    if empty:
        told.append(
            Caution(
                "nobody-there",
                f"By study.toml no animal is there at {len(empty)} of the {len(found)} sessions drawn: see their "
                "present dates.",
            )
        )
    if len(found) < sessions:
        told.append(
            Caution(
                "fewer",
                f"Only {len(found)} of {sessions} sessions could be drawn: one a day at most, within your times, and "
                "none while a change settles.",
            )
        )
    told.append(
        Caution(
            "animals-first",
            "An animal that is ill, shedding or just fed comes before the plan: leave the session out and note why.",
        )
    )
    return tuple(told)
