"""Files of a study that somebody else may have made: ordinary ones only, of bounded size, and in the study itself."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

_NOT_WAITING = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def read_regular(path: Path, most: int) -> bytes:
    """A whole file of at most ``most`` bytes.

    Raises OSError as any reading does, and for what is no ordinary file (a pipe would wait for ever, a device never
    ends) or is larger.
    """
    handle = os.open(path, os.O_RDONLY | _NOT_WAITING)
    with os.fdopen(handle, "rb") as stream:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            raise OSError(errno.EINVAL, "it is no ordinary file", str(path))
        if about.st_size > most:
            raise OSError(errno.EFBIG, f"it is larger than {most // 1_000_000} MB", str(path))
        return stream.read(most)


def require_regular(path: Path) -> None:
    """Raise OSError for what is no ordinary file: a pipe would wait for ever, a device never ends."""
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError(errno.EINVAL, "it is no ordinary file", str(path))


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, 64 hex digits, read in pieces. Raises OSError."""
    import hashlib  # loads OpenSSL: the recorder opens beside a moving animal and needs no digest

    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def refuse_elsewhere(study: Path, folder: Path) -> None:
    """Stop where a folder of a study is a link that leads out of it: nothing is written to where a stranger points.

    The study itself may be a link, and may lie anywhere. Raises OSError, as a disk that refuses does.
    """
    if not folder.resolve().is_relative_to(study.resolve()):
        found = "this folder leads out of the study, so nothing was written; put a real folder in its place"
        raise OSError(errno.EPERM, found, str(folder))
