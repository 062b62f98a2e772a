"""Answers kept between openings, in the user's cache folder: JSON by a key over all they depend on; disposable.

A file is the checksum of its body, a line's end, and the body.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from .... import __version__
from ....study import user_folder
from .asked import ReviewFilters
from .crossing import CROSSING, Given, read_given

_MOST_FILES = 300
_MOST_BYTES, _MOST_TOGETHER = 50_000_000, 200_000_000
# What these say depends on the time on the clock; an hour is fine enough for "3 days old".
_BY_THE_HOUR = ("climate", "plan")
_PROGRAM = Path(__file__).parent.parent.parent


def cache_folder() -> Path:
    """``$XDG_CACHE_HOME/zoneuse``, or ``~/.cache/zoneuse``; never inside a study."""
    return user_folder("XDG_CACHE_HOME", ".cache") / "review"


def stamp(folder: Path) -> str:
    """Name, size and time of every file an answer may come from: the study's, and the program's own."""
    marks = [__version__, str(CROSSING), str(folder.resolve())]
    study = [folder / "study.toml", *sorted((folder / "journal").glob("*.jsonl"))]
    readings = sorted(p for p in (folder / "readings").rglob("*") if p.name != "newest.json")
    program = (p for room in ("answers", "stats", "tables", "screens/review") for p in _code(room))
    for path in (*study, *readings, *program):
        with contextlib.suppress(OSError):
            found = path.stat()
            marks.append(f"{path.name}:{path.parent.name}:{found.st_size}:{found.st_mtime_ns}")
    return hashlib.sha256("\n".join(marks).encode()).hexdigest()


def _code(room: str) -> Iterator[Path]:
    return iter(sorted((_PROGRAM / room).glob("*.py")))


def keys(stamped: str, asked: ReviewFilters, names: tuple[str, ...], now: datetime) -> dict[str, str]:
    """The key of each answer: what the study holds, what is asked, and the hour where it matters."""
    return {
        name: hashlib.sha256(
            json.dumps([stamped, asked.to_dict(), name, f"{now:%Y%m%d%H}" if name in _BY_THE_HOUR else ""]).encode()
        ).hexdigest()[:40]
        for name in names
    }  # fmt: skip


def recall(key: str) -> Given | None:
    """A kept answer, or None where there is none or it is damaged."""
    try:
        path = cache_folder() / f"{key}.json"
        if path.stat().st_size > _MOST_BYTES:
            return None
        checksum, _, body = path.read_bytes().partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode() != checksum:
            return None
        given = read_given(json.loads(body))
        os.utime(path)
    except (OSError, ValueError, RecursionError, RuntimeError):  # RuntimeError: nobody's home
        return None
    return given


def keep(key: str, raw: dict[str, object]) -> None:
    """Keep an answer. A disk that refuses costs nothing but the time to work it out again."""
    body = json.dumps(raw, ensure_ascii=False, allow_nan=False).encode("utf-8", "surrogatepass")
    try:
        folder = cache_folder()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(dir=folder, suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            stream.write(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
        Path(aside).replace(folder / f"{key}.json")
        _prune(folder)
    except (OSError, RuntimeError):
        return


def _prune(folder: Path) -> None:
    """The longest unused go first, until neither their number nor their size is too much."""
    used = [(p, p.stat()) for p in folder.iterdir() if p.suffix in (".json", ".part")]
    used.sort(key=lambda one: one[1].st_mtime, reverse=True)
    room = _MOST_TOGETHER
    for number, (path, found) in enumerate(used):
        room -= found.st_size
        if number >= _MOST_FILES or room < 0:
            with contextlib.suppress(OSError):
                path.unlink()
