"""What to watch next: what has been watched, what is still open, and the sessions that would help most, by lot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

import pandas as pd

from ...journal.reader import Journals
from ...study.model import Declaration
from ...study.names import here, home
from ...study.watching_times import Window, parse_window
from ...tables.conditions import Readings
from ...tables.phases import adjustments
from ..answer import Answer
from ..columns import Column
from ..effort import effort, usual_cluster
from ..filters import Filters, select
from ..finding import Caution
from ..question import labels_of
from .lottery import Drawn, draw, drawn_spans, hours_watched, slots_within, starts
from .open_findings import UnderWay, answers_so_far, drawn_ahead, ended, questions, under_way
from .strip import Strip, lines, strip
from .strip import table as strip_table
from .words import headline, notes, row_said, spoken_start
from .worth import shrinking

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType

COLUMNS = ["when", "why", "covers"]
SHOWN = (Column("when", "Start"), Column("covers", "Covers"), Column("why", "Why", narrow=False))
USUAL_NUMBER = 6


@dataclass(frozen=True)
class PlanAnswer(Answer):
    """An answer that also shows, in a terminal, the strip of what has been watched."""

    strip: Strip | None = None
    minutes: int = 10

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        from rich.text import Text

        from ..shown import renderables

        width = options.max_width
        yield from renderables(replace(self, notes=(), cautions=(), shown=(), seed=None), width)
        drawn = lines(self.strip, width) if self.strip else []
        for line in drawn:
            yield Text(line, no_wrap=True, overflow="crop")
        if drawn:
            signs = "digits: sessions; o planned; ^ a change" if width > 60 else "o planned, ^ change"
            yield Text(f"Hours by days; {signs}")
            yield Text()
        yield from renderables(replace(self, headline="", seed=None), width)


def plan(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    now: datetime,
    sessions: int = USUAL_NUMBER,
    seed: int | None = None,
    known: Sequence[Answer] | None = None,
    readings: Readings | None = None,
) -> Answer:
    """What has been watched, what is open, and the next ``sessions`` drawn within ``[watching] can`` from ``now`` on.

    No session is drawn while a change settles. ``seed`` is the day's date as a number unless given, so that
    asking twice does not give another draw. ``when`` is a local time with its offset. ``known``: the answers
    whose open findings are looked through, where they have been asked already.
    """
    rows = select(moments, filters)
    did = effort(rows, journals, usual_cluster(rows))
    answers = answers_so_far(declared, journals, moments, filters, readings) if known is None else list(known)
    asked = questions(answers)
    changes = under_way(declared, journals, moments, filters, asked, now)
    seed = int(f"{now.astimezone(declared.timezone):%Y%m%d}") if seed is None else seed
    listed = set(rows["session"])
    opened = [s.opened for s in journals.sessions.values() if s.id in listed]
    windows = [w for w in map(parse_window, declared.watching.can) if w] or hours_watched(declared, opened)
    ahead = drawn_ahead(journals, now)
    closed = [*((c.change.at, c.settled) for c in changes), *drawn_spans(declared, ahead)]
    reach = slots_within(declared, windows, now)
    have, wanted = _wanted(declared, rows, changes, windows, reach, filters, sessions, now)
    found = draw(declared, windows, now, closed, have, wanted, sessions, seed)
    labels = labels_of(declared)
    seen = strip(declared, opened, [d.at for d in found], {c.id: c.at for c in adjustments(journals)})
    table = pd.DataFrame(
        [row_said(declared, d, have, changes, whom) for d, whom in _whom(declared, rows, found)],
        columns=COLUMNS,
    )
    worth = shrinking(declared, answers, changes, did, len(found))
    return PlanAnswer(
        answer="plan",
        study=declared.title,
        table=table,
        cautions=_cautions(declared, changes, reach, found, sessions, bool(opened)),
        effort=did.to_dict(),
        parts={
            "watched": _watched(rows),
            "animals": _animals(rows),
            "strip": strip_table(seen),
            "open": pd.DataFrame([(q.answer, list(q.about), q.more, q.says) for q in asked],
                                 columns=["answer", "about", "more", "says"]),
            "under_way": _under_way_table(changes),
            "worth": pd.DataFrame(worth),
        },
        seed=seed,
        shown=SHOWN,
        labels={**labels, **{w: spoken_start(declared, d.at) for w, d in zip(table["when"], found, strict=True)}},
        headline=headline(did, asked, changes),
        notes=notes(declared, rows, asked, changes, list(ended(declared, journals, asked)), ahead, worth, found, seed,
                    labels, now),
        strip=seen,
        minutes=declared.watching.minutes,
    )  # fmt: skip


def _wanted(
    declared: Declaration,
    rows: pd.DataFrame,
    changes: Sequence[UnderWay],
    windows: Sequence[Window],
    reach: set[str],
    filters: Filters,
    number: int,
    now: datetime,
) -> tuple[dict[str, int], dict[str, int]]:
    """Sessions there are and sessions wanted by time of day: after a change as before it, else as the windows fall."""
    allowed = reach & {filters.slot} if filters.slot else reach
    for change in sorted(changes, key=lambda c: (-c.missing, c.change.id)):
        wanted = {slot: n for slot, n in change.wanted.items() if slot in allowed}
        if wanted:
            return dict(change.after), wanted
    have = {str(s): int(n) for s, n in rows.groupby("slot")["session"].nunique().items()}
    minutes: dict[str, int] = dict.fromkeys(sorted(allowed), 0)
    for k in range(7):
        day = (pd.Timestamp(now) + pd.Timedelta(days=k + 1)).tz_convert(declared.timezone).date()
        for slot, times in starts(declared, windows, day, now, ()).items():
            if slot in minutes:
                minutes[slot] += len(times)
    total = sum(have.get(s, 0) for s in minutes) + number
    whole = max(sum(minutes.values()), 1)
    return have, {s: max(round(total * m / whole), 1) for s, m in minutes.items()}


def _whom(
    declared: Declaration, rows: pd.DataFrame, found: Sequence[Drawn]
) -> Iterator[tuple[Drawn, tuple[str, ...]]]:
    """Each session with the animal to follow, or the enclosure to watch, where sessions so far had one only.

    Least watched first, of those that are there at that time; nobody where none is.
    """
    kind = "animal" if declared.watching.method == "focal" else "enclosure"
    everyone = list(declared.animals) if kind == "animal" else list(declared.enclosures)
    per_session = rows.groupby("session")[kind].nunique()
    one_each = len(everyone) > 1 and (not len(per_session) or per_session.median() <= 1)
    counts = {name: int(rows[rows[kind] == name]["session"].nunique()) for name in everyone}
    for drawn in found:
        if not one_each:
            yield drawn, ()
            continue
        there = [name for name in everyone if _there(declared, name, drawn.at)]
        least = min(there, key=lambda name: (counts[name], everyone.index(name)), default=None)
        if least is not None:
            counts[least] += 1
        yield drawn, (least,) if least is not None else ()


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
    found: Sequence[Drawn],
    asked: int,
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
                    f"{change.change.id} was preceded by sessions at {', '.join(missing)}, into which none of your "
                    "times falls; those sessions stay without a counterpart.",
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
    if len(found) < asked:
        told.append(
            Caution(
                "fewer",
                f"Only {len(found)} of {asked} sessions could be drawn: one a day at most, within your times, and none "
                "while a change settles.",
            )
        )
    told.append(
        Caution(
            "animals-first",
            "An animal that is ill, shedding or just fed comes before the plan: leave the session out and note why.",
        )
    )
    return tuple(told)
