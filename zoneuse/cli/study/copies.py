"""Whether a copy of a study is whole: each file of the record by its digest, and one fingerprint over all of them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from ...study import STUDY_FILE, require_regular, sha256_of

# newest.json is derived from the readings and made anew at any time: it belongs to no copy.
_DERIVED = frozenset({"readings/newest.json"})
_FOLDERS = ("journal", "readings", "tracks")
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class Differences:
    """How a copy differs from its original, names of files relative to the study, sorted.

    ``shorter``: the copy holds the beginning of the original's file, as where a copy stopped or a journal grew since.
    """

    missing: tuple[str, ...]
    shorter: tuple[str, ...]
    other: tuple[str, ...]
    more: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.missing or self.shorter or self.other or self.more)


def files_of(study: Path) -> Iterator[Path]:
    """study.toml and every file of journal/, readings/ and tracks/, sorted, but for what is derived or half written."""
    if (study / STUDY_FILE).is_file():
        yield study / STUDY_FILE
    for folder in _FOLDERS:
        for path in sorted((study / folder).rglob("*")):
            name = path.relative_to(study).as_posix()
            if not path.is_dir() and not path.name.startswith(".") and name not in _DERIVED:
                yield path


def digests(study: Path) -> dict[str, str]:
    """SHA-256 of each file by its name in the study, read in pieces.

    Raises OSError for what cannot be read or is no ordinary file."""
    found = {}
    for path in files_of(study):
        require_regular(path)
        found[path.relative_to(study).as_posix()] = sha256_of(path)
    return found


def fingerprint(of: Mapping[str, str]) -> str:
    """Sixteen hex digits in fours over names and digests: equal for two studies of the same files, byte for byte.

    >>> fingerprint({"study.toml": "00"})
    '5b42 916e 68b5 547a'
    """
    whole = hashlib.sha256("".join(f"{name}\0{of[name]}\n" for name in sorted(of)).encode("utf-8", "replace"))
    text = whole.hexdigest()[:16]
    return " ".join(text[i : i + 4] for i in range(0, 16, 4))


def differences(copy: Path, original: Path, held: Mapping[str, str]) -> Differences:
    """What a copy lacks or holds otherwise; ``held`` are its digests. Raises OSError where either cannot be read."""
    meant = digests(original)
    unlike = [name for name in meant if name in held and held[name] != meant[name]]
    shorter = [name for name in unlike if _begins(copy / name, original / name)]
    return Differences(
        missing=tuple(name for name in meant if name not in held),
        shorter=tuple(shorter),
        other=tuple(name for name in unlike if name not in shorter),
        more=tuple(name for name in held if name not in meant),
    )


def _begins(short: Path, long: Path) -> bool:
    """Whether a file is the beginning of a longer one."""
    if short.stat().st_size >= long.stat().st_size:
        return False
    with short.open("rb") as one, long.open("rb") as two:
        while piece := one.read(_PIECE):
            if two.read(len(piece)) != piece:
                return False
    return True
