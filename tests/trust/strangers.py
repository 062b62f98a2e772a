"""A study from a stranger: every text in it hostile, every record of it whole by its checksum and senseless.

``python -m tests.trust.strangers 1000``: that many such studies through every command that answers.
"""

from __future__ import annotations

import json
import random
import re
import sys
import tempfile
import traceback
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from click.testing import Result

from tests.making import TWO_ZONES, VIENNA, run
from zoneuse.journal.records import KINDS, Record, encode
from zoneuse.journal.writer import file_name
from zoneuse.readings.store.store import PartWriter, commit
from zoneuse.readings.store.taken import Intake, Mark

HOSTILE = (
    "\x1b[2J\x1b]0;owned\x07", "\u202egnp.exe", "\x9b31m", "<script>alert(1)</script>", "<img src=x onerror=alert(1)>",
    "../../../../tmp/owned", "/etc/passwd", "=cmd|' /C calc'!A0", "@SUM(1)", "+1+1", "\x00nul", "\ud800lone",
    "[bold red]x[/bold red]", "%s%n{0}", "$(touch owned)", "`touch owned`", "\r\n\tsplit", "\u2066a\u2069",
    "C" * 3000, "", "\u0000", "💥\u200d", "&amp;\"'", "'; DROP TABLE x; --", "http://127.0.0.1:9/x",
)  # fmt: skip
COMMANDS = (
    ("check",), ("mend", "--all"), ("mend", "last"), ("readings",), ("zones",), ("zones", "--json"), ("activity",),
    ("prefer",), ("climate",), ("climate", "--json"), ("shifts",), ("retreats",), ("observers",), ("plan",),
    ("shifts", "--json"), ("activity", "--json"),
)  # fmt: skip


def toml_text(text: str) -> str:
    """A text as TOML's basic string; what TOML cannot hold is left out."""
    return (
        json.dumps(text.encode("utf-8", "ignore").decode(), ensure_ascii=True).replace("\x7f", "\\u007f")
        if text
        else '"?"'
    )


def study_toml(chance: random.Random) -> str:
    """The small study with every label replaced."""

    def any_label(found: re.Match[str]) -> str:
        return f"{found[1]} = {toml_text(chance.choice(HOSTILE).replace(chr(0xD800), '') or 'x')}"

    text = re.sub(r'^(label|title) = ".*"$', any_label, TWO_ZONES, flags=re.MULTILINE)
    means = toml_text(chance.choice(HOSTILE))
    return _no_pairs(text.replace("lasts = false", f"lasts = false\nmeans = {means}")
                     + f"\n[watching]\nobserver = {means}\n")  # fmt: skip


def _no_pairs(text: str) -> str:
    # JSON writes letters beyond the first plane as two escapes, which TOML does not know.
    def one(found: re.Match[str]) -> str:
        return json.loads(f'"{found[0]}"')

    return re.sub(r"\\ud[89ab]..\\ud[c-f]..", one, text)


def any_value(check: object, chance: random.Random) -> object:
    kinds = check if isinstance(check, tuple) else (check,)
    kind = chance.choice(kinds)
    if kind is str:
        return chance.choice((*HOSTILE, *LIKELY_WORDS))
    if kind is int:
        return chance.choice((0, 1, 2, 3, 7, 10**6, 10**14))
    if kind is float:
        return chance.choice((0.0, -1.5, 1e-300, 1e14, 60.0))
    if kind is bool:
        return chance.random() < 0.5
    if kind is list:
        return [any_value((str, int), chance) for _ in range(chance.randrange(3))]
    if kind is dict:
        return {"session": any_value(str, chance), "part": 1, "n": chance.randrange(12)}
    return None


LIKELY_WORDS = (
    "a1", "a2", "young", "moss", "bark", "resting", "walking", "strike", "fed", "handled", "shedding",
    "2026-03-03T19:00:00+01:00",
)  # fmt: skip
LIKELY = {
    "animal": ("a1", "a2"),
    "group": ("young",),
    "zone": ("moss", "bark"),
    "behaviour": ("resting", "strike"),
}


def any_fields(kind: str, chance: random.Random) -> dict[str, object]:
    shape = KINDS[kind]
    fields = {name: any_value(check, chance) for name, check in shape.must.items()}
    fields |= {n: any_value(c, chance) for n, c in shape.may.items() if chance.random() < 0.5}
    for name, likely in LIKELY.items():
        if name in fields and chance.random() < 0.7:
            fields[name] = chance.choice(likely)
    if "zones" in fields and chance.random() < 0.7:
        fields["zones"] = ["moss"]
    if kind == "adjusted" and chance.random() < 0.7:
        fields["what"] = "water"
    return fields


def write_journal(folder: Path, session: str, chance: random.Random) -> None:
    start = datetime(2026, 3, 1 + chance.randrange(28), 19, 0, tzinfo=VIENNA)
    opened = any_fields("opened", chance) | {"format": 1, "session": session, "part": 1}
    if chance.random() < 0.8:
        opened["method"] = chance.choice(("scan", "focal", "ad-libitum", "retreat-round", "record"))
    records = [Record(1, start, "opened", opened, None, 0.0)]
    for n in range(2, chance.randrange(3, 14)):
        kind = chance.choice([k for k in KINDS if k != "opened"])
        at = start + timedelta(seconds=chance.choice((0, 1, 60, 3600, -3600, 86400, 10**8)))
        records.append(
            Record(n, at, kind, any_fields(kind, chance), None, chance.choice((None, 0.0, 5.0, 1e9)))
        )
    data = b"".join(map(encode, records))
    (folder / "journal" / file_name(session, 1)).write_bytes(data)


def write_readings(folder: Path, chance: random.Random) -> None:
    for number, logger in enumerate(("L1", "L2")):
        writer = PartWriter(folder, f"0000000{number}", logger, ("temperature_c", "humidity_pct"))
        times = np.arange(500, dtype=np.int64) * 600_000 + 1_772_400_000_000
        warm = np.array([chance.choice((np.nan, 20.0, -1e6, 1e6, 21.5, 22.0)) for _ in times])
        writer.write(times, {"temperature_c": warm, "humidity_pct": warm * 3})
        part = writer.place()
        text = chance.choice(HOSTILE)
        marks = (Mark(1_772_400_000_000, logger, text),)
        commit(
            folder,
            Intake(f"0000000{number}", text, text, 1, text, (part,), marks, 500, 0, 0, {"notes": [text]}),
        )


def make_stranger(folder: Path, seed: int) -> Path:
    chance = random.Random(seed)
    (folder / "journal").mkdir(parents=True)
    (folder / "study.toml").write_text(study_toml(chance), "utf-8")
    for number in range(chance.randrange(1, 9)):
        write_journal(folder, f"s{number}", chance)
    if chance.random() < 0.5:
        write_readings(folder, chance)
    return folder


def line(n: int, kind: str, fields: dict[str, object]) -> bytes:
    """A record of 3 March 2026 as its line."""
    return encode(Record(n, datetime(2026, 3, 3, 19, 0, n, tzinfo=VIENNA), kind, fields, None, float(n)))


def harmless(text: str) -> bool:
    """Nothing in it can steer a terminal or turn the direction of reading."""
    return not re.search(
        r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]", text
    )


def ask(folder: Path, words: Sequence[str]) -> Result:
    """One command on it: it ends in words, and what it says is harmless."""
    done = run(*words, "--study", folder)
    assert done.exit_code in (0, 1, 2, 3)
    assert harmless(done.stdout), ("stdout", words, [c for c in done.stdout if not harmless(c)])
    assert harmless(done.stderr), ("stderr", words, [c for c in done.stderr if not harmless(c)])
    if "--json" in words and done.exit_code == 0:
        json.loads(done.stdout)
    return done


def main(studies: int, first: int = 0) -> None:
    known: set[str] = set()
    with tempfile.TemporaryDirectory(dir="/dev/shm") as where:
        for seed in range(first, first + studies):
            folder = make_stranger(Path(where) / str(seed), seed)
            for words in COMMANDS:
                try:
                    ask(folder, words)
                except BaseException as error:
                    where_ = traceback.extract_tb(error.__traceback__)
                    ours = [
                        f"{Path(f.filename).name}:{f.lineno}" for f in where_ if "/zoneuse/" in f.filename
                    ][-2:]
                    sign = f"{type(error).__name__} {ours} {'' if ours else error!s:.150}"
                    if sign not in known:
                        known.add(sign)
                        print(f"seed {seed}, {' '.join(words)}: {sign}: {error!s:.160}", flush=True)
            if seed % 100 == 99:
                print(f"{seed + 1} studies, {len(known)} faults", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
