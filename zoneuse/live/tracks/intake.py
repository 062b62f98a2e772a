"""A file of tracks becomes ticks: kept as Parquet for the picture, and as followed sessions on the journal.

::

    tracks/1f9c03aa.parquet      at (ms UTC), animal, zone, why, x, y: a row each tick, in the outlines' units
    journal/…jsonl               one session a study day: the states, where they change; its `source` names the file

The Parquet is written first and counts for nothing until a session names it.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ...journal import FORMAT, Journals, Record, new_file_id, table_session_id, write_journal
from ...readings.store import crc_of
from ...study import (
    Dated,
    Declaration,
    Outline,
    TrackTable,
    UnknownNameError,
    View,
    camera_of,
    fault,
    find_who,
    from_ms,
    make_folder,
    outlined,
    put_in_place,
    refuse_elsewhere,
    sha256_of,
    study_day,
    value_at,
    zones_known,
)
from .following import NOT_READ, REASONS, SEEN, Follower, Rules, Ticks
from .kept import on_record
from .outlines import NOWHERE, ZoneMap, homography, mapped
from .table import TrackPiece, UnusableRows, choose, pieces

FOLDER = "tracks"
METHOD = "focal"
# Said again at least so often, so that a long rest is never taken for a file left open.
_SAY_AGAIN_MS = 6 * 3_600_000
_GAP_S = 600.0
_LONG_AGO = datetime(1, 1, 2, tzinfo=UTC)


@dataclass(slots=True)
class StagedTracks:
    """A file read through and not yet on record: the ticks of each animal, and what became of its rows."""

    path: Path
    sha256: str
    table: TrackTable
    zones: tuple[str, ...]
    ticks: dict[str, Ticks]
    counts: UnusableRows
    followers: dict[str, Follower] = field(default_factory=dict)
    unknown: dict[str, int] = field(default_factory=dict)
    spans: dict[str, tuple[int, int]] = field(default_factory=dict)
    unread: int = 0
    start: datetime | None = None


@dataclass(frozen=True, slots=True)
class _Map:
    """The outlines from a moment on, and how pixels come to be where they are."""

    from_ms: int
    zones: ZoneMap | None
    names: tuple[int, ...]
    matrix: Any


def stage(
    declared: Declaration, path: Path, *, name: str | None = None, start: datetime | None = None,
    every_s: int | None = None,
) -> StagedTracks:  # fmt: skip
    """Read a file through. Raises ProblemError where no declared table fits it, or its times cannot be told."""
    table = choose(path, tuple(declared.tracks.values()), name)
    ids = tuple(declared.zones)
    staged = StagedTracks(path, sha256_of(path), table, ids, {}, UnusableRows(), start=start)
    maps = [] if table.antennas else _maps(declared, table, ids)
    rules = _rules(table, every_s)
    who: dict[str, str | None] = {}
    for piece in pieces(path, table, start, declared.timezone, staged.counts):
        animal = _animal(declared, table, piece.name, who)
        if animal is None:
            staged.unknown[piece.name] = staged.unknown.get(piece.name, 0) + len(piece.at)
            continue
        if not len(piece.at):
            continue
        follower = staged.followers.setdefault(animal, Follower(rules, None))
        if table.antennas:
            _feed_reads(staged, follower, piece, ids)
        else:
            _feed(follower, piece, maps)
    staged.ticks = {animal: t for animal, one in staged.followers.items() if len((t := one.ticks()).at)}
    staged.spans = {animal: (int(t.at[0]), int(t.at[-1])) for animal, t in staged.ticks.items()}
    if not staged.ticks:
        raise fault("no-rows", path, "", "no row has a time and an animal of the study", "positions or reads",
                    remedy=_who_remedy(staged))  # fmt: skip
    staged.ticks = _together(staged.ticks, rules)
    return staged


def _who_remedy(staged: StagedTracks) -> str:
    if staged.unknown:
        names = ", ".join(repr(n) for n in list(staged.unknown)[:5])
        return f"Say whom {names} stand for: names = {{…}} under [tracks.{staged.table.id}]"
    return "Check its columns of times"


def _rules(table: TrackTable, every_s: int | None) -> Rules:
    every = every_s or table.every_s
    holds = table.holds_s or (every if table.antennas else None)
    gap = table.gap_s or (None if table.antennas else _GAP_S)
    return Rules(
        every * 1000, None if holds is None else int(holds * 1000), None if gap is None else int(gap * 1000),
        table.fastest, table.border,
    )  # fmt: skip


def _maps(declared: Declaration, table: TrackTable, ids: tuple[str, ...]) -> list[_Map]:
    """Outlines and points hold from date to date: one map for each stretch."""
    camera = declared.cameras.get(camera_of(declared, table))
    drawn = outlined(declared, table)
    views = camera.views if camera else ()
    spans = [*(one.span for _, one in drawn), *(v.span for v in views)]
    turns = sorted({at for s in spans for at in (s.start, s.until) if at is not None})
    return [_map_at(at, [(ids.index(zone), one) for zone, one in drawn], views) for at in (_LONG_AGO, *turns)]


def _map_at(at: datetime, drawn: Sequence[tuple[int, Outline]], views: Sequence[Dated[View]]) -> _Map:
    held = [(k, one.points) for k, one in drawn if one.span.holds(at)]
    view = value_at(views, at)
    matrix = homography(view.seen, view.are) if view else None
    shapes = ZoneMap([points for _, points in held]) if held else None
    return _Map(int(at.timestamp() * 1000), shapes, tuple(k for k, _ in held), matrix)


def _animal(declared: Declaration, table: TrackTable, name: str, known: dict[str, str | None]) -> str | None:
    """The animal that a name of the table stands for; None where it is nobody's."""
    if name not in known:
        known[name] = None
        if not name and len(declared.animals) == 1 and "animal" not in table.columns:
            known[name] = next(iter(declared.animals))
        elif name in table.names:
            known[name] = table.names[name]
        elif name:
            try:
                found = find_who(declared, name)
                known[name] = found.id if found.id in declared.animals else None
            except UnknownNameError:
                pass
    return known[name]


def _feed(follower: Follower, piece: TrackPiece, maps: list[_Map]) -> None:
    """Hand a piece over, cut where outlines change, its points where they are."""
    edges = [0, *np.searchsorted(piece.at, [m.from_ms for m in maps[1:]]).tolist(), len(piece.at)]
    for k, one in enumerate(maps):
        rows = slice(edges[k], edges[k + 1])
        at, why, x, y = piece.at[rows], piece.why[rows], piece.x[rows], piece.y[rows]
        if not len(at):
            continue
        if one.matrix is not None:
            x, y = mapped(one.matrix, x.astype(np.float64), y.astype(np.float64))
        follower.use(one.zones, one.names)
        follower.feed(at, x, y, why)


def _feed_reads(staged: StagedTracks, follower: Follower, piece: TrackPiece, ids: tuple[str, ...]) -> None:
    assert piece.antenna is not None
    coded = piece.antenna.dictionary_encode()
    numbers = [staged.table.antennas.get(str(n).strip()) for n in coded.dictionary.to_pylist()]
    table = np.asarray([NOWHERE if z is None else ids.index(z) for z in numbers] + [NOWHERE], np.int16)
    indices = coded.indices.fill_null(-1).to_numpy(zero_copy_only=False)
    zone = table[indices]
    known = zone != NOWHERE
    staged.unread += int((~known).sum())
    follower.feed(piece.at[known], piece.x[known], piece.y[known], piece.why[known], zone[known])


def _together(ticks: dict[str, Ticks], rules: Rules) -> dict[str, Ticks]:
    """All animals at the same ticks; who had no row then was not read."""
    first = min(int(t.at[0]) for t in ticks.values())
    last = max(int(t.at[-1]) for t in ticks.values())
    every = np.arange(first, last + 1, rules.every_ms, dtype=np.int64)
    return {animal: _padded(t, every) for animal, t in ticks.items()}


def _padded(one: Ticks, every: Any) -> Ticks:
    n = len(every)
    zone, why = np.full(n, NOWHERE, np.int16), np.full(n, NOT_READ, np.uint8)
    x, y = np.full(n, np.nan, np.float32), np.full(n, np.nan, np.float32)
    rows = np.searchsorted(every, one.at)
    zone[rows], why[rows], x[rows], y[rows] = one.zone, one.why, one.x, one.y
    return Ticks(every, zone, why, x, y, one.gaps)


def watched(staged: StagedTracks) -> Any:
    """For each tick whether anybody's rows were being written then: a camera that is off sees nobody."""
    some = next(iter(staged.ticks.values()))
    antennas = bool(staged.table.antennas)
    there = np.zeros(len(some.at), np.bool_)
    for animal, one in staged.ticks.items():
        first, last = staged.spans[animal]
        mine = (one.at >= first) & (one.at <= last)
        for start, end in one.gaps:
            mine &= ~((one.at > start) & (one.at < end))
        there |= mine
    return np.ones_like(there) if antennas else there


def take_in(declared: Declaration, staged: StagedTracks, journals: Journals, now: datetime) -> list[str]:
    """Put the ticks on record, a session each study day; days that are there already are not written again.

    Returns the sessions' ids. Raises OSError where the disk refuses; running again completes it.
    """
    there = watched(staged)
    at = next(iter(staged.ticks.values())).at
    days = np.asarray([study_day(declared, from_ms(int(ms))).toordinal() for ms in at])
    known = {
        one.source.get("session") for one in on_record(journals) if one.source.get("sha256") == staged.sha256
    }
    wanted = [int(day) for day in np.unique(days[there]) if _iso(int(day)) not in known]
    if not wanted:
        return []
    kept = _keep(declared.folder, staged, there)
    written = []
    for day in wanted:
        rows = np.flatnonzero(days == day)
        rows = rows[slice(*_ends(there[rows]))]
        written.append(_session(declared, staged, (rows, there), {**kept, "session": _iso(day)}, now))
    return written


def _iso(day: int) -> str:
    return date.fromordinal(day).isoformat()


def _ends(there: Any) -> tuple[int, int]:
    inside = np.flatnonzero(there)
    return int(inside[0]), int(inside[-1]) + 1


def _keep(study: Path, staged: StagedTracks, there: Any) -> dict[str, str]:
    """Write the ticks aside for the picture, and give them their name."""
    folder = study / FOLDER
    refuse_elsewhere(study, folder)
    make_folder(folder)
    name = secrets.token_hex(4)
    aside = folder / f".{name}.tmp"
    ids = list(staged.ticks)
    every = next(iter(staged.ticks.values())).at[there]
    zone = np.stack([t.zone for t in staged.ticks.values()])[:, there].ravel()
    animal = np.repeat(np.arange(len(ids), dtype=np.int16), len(every))
    columns = {
        "at": pa.array(np.tile(every, len(ids)), pa.timestamp("ms", "UTC")),
        "animal": pa.DictionaryArray.from_arrays(pa.array(animal), ids),
        "zone": pa.DictionaryArray.from_arrays(
            pa.array(np.maximum(zone, 0), mask=zone < 0), list(staged.zones)
        ),
        **{
            name: pa.array(np.stack([getattr(t, name) for t in staged.ticks.values()])[:, there].ravel())
            for name in ("why", "x", "y")
        },
    }
    aside.touch(exist_ok=False)  # opened anew, and never through a link that waits there
    try:
        pq.write_table(pa.table(columns), aside.absolute(), compression="zstd")
        crc = crc_of(aside)
        put_in_place(aside, folder / f"{name}.parquet")
    except OSError:
        # A full disk is not made fuller by a piece nobody reads.
        aside.unlink(missing_ok=True)
        raise
    return {
        "name": staged.path.name, "sha256": staged.sha256, "ticks": name, "ticks_crc": crc, "tracks": staged.table.id,
    }  # fmt: skip


def _session(
    declared: Declaration, staged: StagedTracks, rows: tuple[Any, Any], source: dict[str, str], now: datetime
) -> str:
    which, there = rows
    at = next(iter(staged.ticks.values())).at[which]
    every = int(staged.table.every_s) if len(at) < 2 else int(at[1] - at[0]) // 1000
    first, zone = from_ms(int(at[0])), declared.timezone
    observer = staged.table.id
    session = table_session_id(declared.folder, first, observer, staged.sha256[:6])
    opened = {
        "format": FORMAT, "study": declared.title, "session": session, "part": 1, "file": new_file_id(),
        "observer": observer, "method": METHOD, "every_s": every, "timezone": str(zone),
        "zones": zones_known(declared, first), "animals": list(staged.ticks), "source": source,
    }  # fmt: skip
    records: list[Record] = []

    def put(ms: int, kind: str, fields: dict[str, Any]) -> None:
        records.append(
            Record(len(records) + 1, from_ms(ms).astimezone(zone), kind, fields, now.astimezone(zone))
        )

    put(int(at[0]), "opened", opened)
    for ms, kind, fields in sorted(_changes(staged, which, there), key=lambda one: one[0]):
        put(ms, kind, fields)
    put(int(at[-1]) + every * 1000, "closed", {"reason": "finished"})
    write_journal(declared.folder, records)
    return session


def _changes(staged: StagedTracks, which: Any, there: Any) -> Iterator[tuple[int, str, dict[str, Any]]]:
    """What was so from when on: pauses, and each animal's states where they change."""
    seen = there[which]
    some = next(iter(staged.ticks.values())).at[which]
    for i in (np.flatnonzero(seen[1:] != seen[:-1]) + 1).tolist():
        yield int(some[i]), "resumed" if seen[i] else "paused", {}
    for animal, one in staged.ticks.items():
        zone, why = one.zone[which], one.why[which]
        state = zone.astype(np.int32) * 16 + why
        again = some[1:] // _SAY_AGAIN_MS != some[:-1] // _SAY_AGAIN_MS
        # What was so before a pause is said anew after it.
        new = np.flatnonzero((state[1:] != state[:-1]) | again | (seen[1:] & ~seen[:-1])) + 1
        for i in [0, *new.tolist()]:
            if not seen[i]:
                continue
            yield int(some[i]), *_state(staged, animal, int(zone[i]), int(why[i]))


def _state(staged: StagedTracks, animal: str, zone: int, why: int) -> tuple[str, dict[str, Any]]:
    if why == SEEN and zone != NOWHERE:
        return "seen", {"animal": animal, "zone": staged.zones[zone]}
    if why == SEEN:
        return "unseen", {"animal": animal, "nowhere": True}
    return "unseen", {"animal": animal, "why": REASONS[why]}
