"""Files that appear whole or not at all: written aside, flushed to the disk, renamed into place; none unasked."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import shutil
from pathlib import Path

from .labels import visible
from .problems import fault

STUDY_FILE = "study.toml"
_RECORDS = ("journal", "readings", "tracks")


def sync_folder(folder: Path) -> None:
    """Make a rename or a new name in this folder survive a power cut."""
    if os.name == "nt":  # Windows has no way to flush a folder, and does not need one
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        # Some network file systems cannot flush a folder; there it is as safe as it gets.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder and the ones above it, each name safe on the disk."""
    missing = [part for part in (folder, *folder.parents) if not part.exists()]
    for part in reversed(missing):
        part.mkdir(exist_ok=True)
        sync_folder(part.parent)


def put_in_place(aside: Path, final: Path) -> None:
    """Flush a finished file and give it its name. The file is complete before the name exists."""
    with aside.open("rb+") as stream:
        os.fsync(stream.fileno())
    aside.replace(final)
    sync_folder(final.parent)


def write_whole(final: Path, data: bytes) -> None:
    """Write a small file so that a crash leaves the old one, or the new one, never a piece.

    A file that is there keeps its permissions; one that is a link stays one, and what it names is written.
    """
    make_folder(final.parent)
    if final.is_symlink():
        final = final.resolve()
    if final.exists() and not final.is_file():
        # A pipe or a device is written to: renamed over, /dev/null would be a file from then on.
        final.write_bytes(data)
        return
    # Two programs at once must not write into one another's piece, nor into one a crash left behind.
    aside = final.with_name(f".{final.name}.{secrets.token_hex(4)}.tmp")
    try:
        with aside.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        with contextlib.suppress(FileNotFoundError):
            shutil.copymode(final, aside)
        aside.replace(final)
    except BaseException:
        with contextlib.suppress(OSError):
            aside.unlink()
        raise
    sync_folder(final.parent)


def refuse_overwriting(path: Path, force: bool) -> None:
    """Raise ProblemError where a file may not be written: it exists, or it lies among a study's records.

    What is no file of its own (a pipe, /dev/stdout) may always be written to.
    """
    final = path.resolve()
    shown = visible(str(path))
    own = (p for p in final.parents if p.name in _RECORDS and (p.parent / STUDY_FILE).exists())
    if next(own, None) is not None or (final.name == STUDY_FILE and final.exists()):
        raise fault(
            "output-place", shown, "", "is the study itself, or lies among its records", "a file outside of them",
            remedy="Name another file; nothing was written",
        )  # fmt: skip
    if final.is_file() and not force:
        raise fault(
            "output-exists", shown, "", "is there already", "a new name",
            remedy="Name another file, or replace it with --force; nothing was written",
        )  # fmt: skip
