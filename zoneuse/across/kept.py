"""Summaries kept between runs in the user's cache, by a digest of all they depend on; disposable."""

from __future__ import annotations

import contextlib
import hashlib
from pathlib import Path

from ..study import ProblemError, user_folder, write_whole
from ..version import __version__
from .shared import Shared, parse_shared, to_json


def cache_folder() -> Path:
    return user_folder("XDG_CACHE_HOME", ".cache") / "across"


def digest_of(study: Path) -> str:
    """Of study.toml, every journal, every record of an intake (they hold the readings' checksums) and the version."""
    whole = hashlib.sha256(__version__.encode())
    files = [study / "study.toml", *sorted((study / "journal").glob("*.jsonl"))]
    files += sorted((study / "readings" / "taken-in").glob("*.json")) + sorted(
        (study / "readings" / "live").glob("*.jsonl")
    )
    for path in files:
        with contextlib.suppress(OSError):
            if path.is_file():
                whole.update(f"\0{path.name}\0".encode("utf-8", "surrogateescape"))
                whole.update(path.read_bytes())
    return whole.hexdigest()[:40]


def recall(digest: str) -> Shared | None:
    """A kept summary, or None where there is none or it is damaged."""
    path = cache_folder() / f"{digest}.json"
    with contextlib.suppress(OSError, ProblemError, RuntimeError):
        return parse_shared(path.read_bytes(), path)
    return None


def keep(digest: str, shared: Shared) -> None:
    """Keep a summary. A disk that refuses costs nothing but the time to work it out again."""
    with contextlib.suppress(OSError, RuntimeError):
        write_whole(cache_folder() / f"{digest}.json", to_json(shared).encode())
