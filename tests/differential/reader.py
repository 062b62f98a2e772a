"""What a study's journals say, read a second time and only from the design: moments by who, where and session.

Nothing of zoneuse is used. It is slow and plain on purpose; the tests hold the product against it.
"""

from __future__ import annotations

import json
import zlib
from collections import Counter, defaultdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

MINUTE = timedelta(minutes=1)
Record = dict[str, Any]


def lines(path: Path) -> list[Record]:
    """The records of a file whose checksum fits."""
    found = []
    for line in path.read_bytes().split(b"\n"):
        body, _, crc = line.rpartition(b',"crc":"')
        if crc[:8] == b"%08x" % zlib.crc32(body):
            found.append(json.loads(body + b"}"))
    return found


def records(folder: Path) -> list[Record]:
    """Every record once, with its place, in the order of sessions and parts."""
    parts: dict[tuple[str, int, str], dict[int, Record]] = {}
    for path in sorted((folder / "journal").glob("*.jsonl")):
        read = lines(path)
        if read and read[0]["is"] == "opened":
            key = read[0]["session"], read[0]["part"], read[0].get("file", "")
            for record in read:
                parts.setdefault(key, {}).setdefault(record["n"], record)
    listed = sorted(parts.items(), key=lambda p: (p[0][:2], p[1][1]["at"], p[0][2]))
    every = [
        {**r, "place": (*key, n), "opened": own[1]} for key, own in listed for n, r in sorted(own.items())
    ]
    for record in every:
        record["when"] = datetime.fromisoformat(record["at"])
    return every


def place_of(named: Record | None, known: set[Any]) -> Any:
    """The place a reference names; without a file, the only part of that number."""
    if not named or "n" not in named:
        return None
    same = [p for p in known if (p[0], p[1], p[3]) == (named["session"], named["part"], named["n"])]
    exact = [p for p in same if p[2] == named.get("file", "")]
    return exact[0] if exact else same[0] if len(same) == 1 else None


def counting(every: list[Record]) -> list[Record]:
    """Take-backs folded: what was taken back out, what was corrected where it stood."""
    by_place = {r["place"]: r for r in every}
    known = set(by_place)
    backs = [r for r in every if r["is"] == "took-back"]
    target = {r["place"]: place_of(r["of"], known) for r in backs}
    on: dict[Any, list[Record]] = defaultdict(list)
    for back in backs:
        on[target[back["place"]]].append(back)

    def works(back: Record) -> bool:
        return not any(works(other) for other in on[back["place"]])

    def in_force(place: Any) -> Record | None:
        mine = [b for b in on[place] if works(b)]
        return max(mine, key=lambda b: (b.get("entered", b["at"]), b["place"]), default=None)

    substitutes = {place_of(b.get("replaces"), known) for b in backs if target[b["place"]]}
    result = []
    for record in every:
        if record["place"] in substitutes:
            continue
        stands: Record | None = record
        while stands is not None and (back := in_force(stands["place"])):
            new = place_of(back.get("replaces"), known)
            stands = by_place[new] if new else None
        if stands is not None:
            result.append({**stands, "place": record["place"], "opened": record["opened"]})
    return result


def moments(declared: Any, folder: Path) -> list[tuple[datetime, str, str, str | None, int]]:
    """(when, session, who, zone, weight) of every moment that counts."""
    sessions: dict[str, list[Record]] = defaultdict(list)
    handled: dict[str, list[datetime]] = defaultdict(list)
    for record in counting(records(folder)):
        if record["opened"]["method"] not in ("record", "ad-libitum"):
            sessions[record["place"][0]].append(record)
        if record["is"] == "context" and record["what"] == "handled":
            handled[record["animal"]].append(record["when"])
    seen: dict[str, list[Any]] = {}
    for name, own in sessions.items():
        how = {"focal": focal, "retreat-round": a_round}.get(own[0]["opened"]["method"], scans)
        seen[name] = sorted(how(declared, own), key=lambda m: m[0])
    out = kept_out(seen, handled) | twice(sessions, seen)
    return [
        (at, name, who, zone, weight)
        for name, own in seen.items()
        for i, (at, who, zone, weight) in enumerate(own)
        if (name, i) not in out and there(declared, at, who, zone) and weight
    ]


def there(declared: Any, at: datetime, who: str, zone: str | None) -> bool:
    """Whether what a record names is declared, and lived there."""
    return (zone is None or zone in declared["zones"]) and (not who or who in declared["who"])


def scans(declared: Any, own: list[Record]) -> list[Any]:
    """The last answer of each animal in each scan; of a group the last set of counts, and what it falls short by."""
    answers: dict[Any, list[Record]] = defaultdict(list)
    for r in own:
        if r["is"] in ("seen", "unseen"):
            answers[r.get("scan"), r.get("animal"), r.get("group")].append(r)
    found = []
    for (_, animal, group), given in answers.items():
        kept = given[-1:] if animal else [r for r in given if r["when"] == given[-1]["when"]]
        found += [as_moment(r) for r in kept]
        short = declared["groups"].get(group, 0) - sum(r.get("count", 1) for r in kept)
        found += [(given[-1]["when"], group, None, short)] if short > 0 else []
    return found


def as_moment(r: Record) -> Any:
    zone = r.get("zone") if r["is"] == "seen" else None
    return r["when"], r.get("animal") or r.get("group") or "", zone, r.get("count", 1)


def focal(declared: Any, own: list[Record]) -> list[Any]:
    """The zone known at each tick of each part."""
    found = []
    for part in {r["place"][1:3] for r in own}:
        mine = [r for r in own if r["place"][1:3] == part]
        due, state, paused = mine[0]["when"], {}, False
        for r in sorted(mine, key=lambda r: r["when"]):
            while due < r["when"]:
                found += [] if paused else [(due, who, zone, 1) for who, zone in state.items()]
                due += timedelta(seconds=r["opened"].get("every_s") or 60)
            if r["is"] in ("paused", "resumed"):
                paused = r["is"] == "paused"
            elif r["is"] in ("seen", "unseen"):
                state[r["animal"]] = as_moment(r)[2]
    return found


def a_round(declared: Any, own: list[Record]) -> list[Any]:
    """Each animal's last record, every count, and who is known alive and stands in no record."""
    told = [r for r in own if r["is"] in ("seen", "unseen")]
    last = {r["animal"]: r for r in told if r.get("animal")}
    kept = [*last.values(), *(r for r in told if not r.get("animal"))]
    looked = [r for r in own if (r["is"] == "seen") or (r["is"] == "checked" and not r.get("skipped"))]
    found = [as_moment(r) for r in kept]
    if any(r.get("zone") in declared["zones"] for r in looked):
        end = max(r["when"] for r in own if r["is"] in ("seen", "unseen", "checked"))
        found += [(end, name, None, 1) for name in declared["animals"] if name not in last]
        for group, size in declared["groups"].items():
            short = size - sum(r["count"] for r in told if r.get("group") == group)
            found += [(end, group, None, short)] if short > 0 else []
    return found


def kept_out(seen: dict[str, list[Any]], handled: dict[str, list[datetime]]) -> set[Any]:
    """Where the keeper had put an animal: until its zone changes, at least 60 min, at most 24 h."""
    out = set()
    every = sorted((m[0], name, i) for name, own in seen.items() for i, m in enumerate(own))
    state: dict[Any, Any] = {}
    for at, name, i in every:
        _, who, zone, _ = seen[name][i]
        times = [t for t in handled.get(who, ()) if t <= at]
        if not times or at - max(times) >= timedelta(hours=24):
            continue
        put, moved = state.get((who, max(times)), (None, False))
        moved = moved or (zone is not None and put is not None and zone != put)
        state[who, max(times)] = put or zone, moved
        if not moved or at - max(times) < 60 * MINUTE:
            out.add((name, i))
    return out


def twice(sessions: dict[str, list[Record]], seen: dict[str, list[Any]]) -> set[Any]:
    """The same animal within the interval of a scan: one observer's first entered, then the earlier opened."""
    out: set[Any] = set()
    opened = {name: own[0]["opened"] for name, own in sessions.items()}

    def entered(name: str) -> str:
        return min(r.get("entered", r["at"]) for r in sessions[name])

    def interval(name: str) -> timedelta:
        if opened[name]["method"] != "retreat-round":
            return timedelta(seconds=opened[name].get("every_s") or 60)
        told = [r["when"] for r in sessions[name] if r["is"] in ("seen", "unseen", "checked")]
        return max([MINUTE, *([max(told) - min(told)] if told else [])])

    def hold(order: list[str], same: bool) -> None:
        for k, name in enumerate(order):
            for i, (at, who, _, _) in enumerate(seen[name]):
                for other in order[:k]:
                    if (
                        (opened[other]["observer"] == opened[name]["observer"]) == same
                        and who
                        and any(
                            w == who and (other, j) not in out and abs(t - at) < interval(other)
                            for j, (t, w, _, _) in enumerate(seen[other])
                        )
                    ):
                        out.add((name, i))

    hold(sorted(seen, key=lambda s: (entered(s), opened[s]["at"], s)), same=True)
    hold(sorted(seen, key=lambda s: (opened[s]["at"], s)), same=False)
    return out


def spent(declared: Any, folder: Path) -> Counter[tuple[str, str, str]]:
    """Shares of time by who, zone and session, of the time budgets that count."""
    total: Counter[tuple[str, str, str]] = Counter()
    for r in counting(records(folder)):
        if r["is"] == "spent" and r.get("zone") and r["opened"]["method"] != "record":
            who = r.get("animal") or r.get("group")
            if there(declared, r["when"], who, r["zone"]):
                total[who, r["zone"], r["place"][0]] += r["seconds"] / r["of_seconds"]
    return total


def counts(declared: Any, folder: Path) -> Counter[tuple[str, str | None, str]]:
    """Moments by who, zone and session."""
    total: Counter[tuple[str, str | None, str]] = Counter()
    for _, session, who, zone, weight in moments(declared, folder):
        total[who, zone, session] += weight
    return total
