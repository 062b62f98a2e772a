"""A file system that fails on purpose: every operation that writes is counted, and the n-th one goes wrong.

The opening of files to read is counted by itself: ``unreadable`` fails one of those.

Installed in a forked child only. ``Cut(kind, at)``: what goes wrong at operation ``at`` (from 1).

- ``full``: no space from there on (names may still be removed)
- ``broken``: this one operation fails with an input/output error
- ``short``: half of that write is done, then no space
- ``before``, ``after``: the process is gone before or after it
- ``torn``: half of that write is done, then the process is gone
- ``power``: as ``after`` (or once the command has ended), and all that no fsync has put on the disk is gone
  with it: bytes, new names, renames
"""

# This stands below pathlib, so it calls os itself.
# ruff: noqa: PTH100, PTH110, PTH112, PTH113, PTH115, PTH116, PTH120, PTH123, PTH202

from __future__ import annotations

import builtins
import contextlib
import errno
import io
import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

UNREADABLE = "unreadable"
KINDS = ("full", "broken", "short", "before", "after", "torn", "power")
GONE = 137
_REMOVES = ("unlink", "ftruncate", "rmdir")
_WRITING = os.O_WRONLY | os.O_RDWR
REAL = {
    name: getattr(os, name)
    for name in (
        "open",
        "write",
        "fsync",
        "link",
        "replace",
        "rename",
        "mkdir",
        "unlink",
        "ftruncate",
        "close",
    )
}


@dataclass
class Cut:
    """What goes wrong, and when; ``done`` counts the operations, ``slowly`` waits so many seconds before each."""

    kind: str = ""
    at: int = 0
    slowly: float = 0.0
    done: int = 0
    root: str = "/"
    reads: int = 0
    told: list[str] = field(default_factory=list)
    # What the disk would hold after a power cut: bytes safe in each file; names not yet safe, with their undoing.
    safe: dict[str, int] = field(default_factory=dict)
    names: list[tuple[str, Callable[[], None]]] = field(default_factory=list)
    paths: dict[int, str] = field(default_factory=dict)

    def meet(
        self, what: str, path: object, act: Callable[[], Any], half: Callable[[], Any] | None = None
    ) -> Any:
        """Do one operation, or have it go wrong."""
        self.done += 1
        self.told.append(f"{what} {Path(os.fsdecode(str(path))).name}")
        if self.slowly:
            time.sleep(self.slowly)
        now = self.done == self.at
        if self.kind == "full" and self.at and self.done >= self.at and what not in _REMOVES:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
        if not now:
            if self.kind == "short" and self.at and self.done > self.at and what not in _REMOVES:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
            return act()
        if self.kind == "broken":
            raise OSError(errno.EIO, os.strerror(errno.EIO), str(path))
        if self.kind in ("short", "torn") and half is not None:
            wrote = half()
            if self.kind == "short":
                return wrote
            os._exit(GONE)
        if self.kind == "before":
            os._exit(GONE)
        result = act()
        if self.kind == "power":
            self.lose()
        if self.kind in ("after", "torn", "power"):
            os._exit(GONE)
        return result

    def lose(self) -> None:
        """The power is gone: names the folder was not told of, and bytes no fsync came after."""
        for _, undo in reversed(self.names):
            undo()
        for path, length in self.safe.items():
            if os.path.exists(path) and os.path.getsize(path) > length:
                os.truncate(path, length)

    def synced(self, handle: int) -> None:
        path = self.paths.get(handle) or os.readlink(f"/proc/self/fd/{handle}")
        if os.path.isdir(path):
            self.names = [(folder, undo) for folder, undo in self.names if folder != path]
        else:
            # A hard link or a new name shares its bytes: they are safe under every name.
            one = os.stat(path)
            for known in list(self.safe):
                if os.path.exists(known) and os.path.samestat(os.stat(known), one):
                    self.safe[known] = one.st_size


def _folder(path: object) -> str:
    return os.path.realpath(os.path.dirname(os.path.abspath(os.fsdecode(str(path)))))


def _quietly(act: Callable[[], Any]) -> Callable[[], None]:
    def undo() -> None:
        with contextlib.suppress(OSError):
            act()

    return undo


def install(cut: Cut) -> None:
    """Put the layer under os, open and pathlib, for the rest of this process."""

    def new_name(path: object) -> None:
        full = os.path.realpath(str(path))
        cut.safe.setdefault(full, 0)
        cut.names.append((_folder(path), _quietly(lambda: REAL["unlink"](full))))

    def os_open(path: Any, flags: int, mode: int = 0o777, **more: Any) -> int:
        if not flags & (_WRITING | os.O_CREAT):
            return REAL["open"](path, flags, mode, **more)
        new = not os.path.exists(path)
        handle = cut.meet("open", path, lambda: REAL["open"](path, flags, mode, **more))
        cut.paths[handle] = os.path.realpath(path)
        if new:
            new_name(path)
        return handle

    def os_write(handle: int, data: Any) -> int:
        if handle not in cut.paths:
            return REAL["write"](handle, data)
        return cut.meet(
            "write", cut.paths[handle], lambda: REAL["write"](handle, data),
            lambda: REAL["write"](handle, bytes(data)[: len(data) // 2]),
        )  # fmt: skip

    def os_fsync(handle: int) -> None:
        path = os.readlink(f"/proc/self/fd/{handle}")
        cut.meet("fsync", path, lambda: (REAL["fsync"](handle), cut.synced(handle)))

    def os_close(handle: int) -> None:
        cut.paths.pop(handle, None)
        REAL["close"](handle)

    def naming(what: str) -> Callable[..., None]:
        def act(src: Any, dst: Any, **more: Any) -> None:
            old = Path(dst).read_bytes() if os.path.isfile(dst) else None
            length = cut.safe.get(os.path.realpath(src), None)

            def go() -> None:
                REAL[what](src, dst, **more)
                full = os.path.realpath(dst)
                if length is not None:
                    cut.safe[full] = length
                undo = (lambda: Path(full).write_bytes(old)) if old is not None else (lambda: _remove(full))
                cut.names.append((_folder(dst), _quietly(undo)))

            cut.meet(what, dst, go)

        return act

    def removing(what: str) -> Callable[..., None]:
        return lambda path, *a, **k: cut.meet(what, path, lambda: REAL[what](path, *a, **k))

    def os_mkdir(path: Any, *a: Any, **k: Any) -> None:
        if os.path.isdir(path):
            return REAL["mkdir"](path, *a, **k)
        return cut.meet("mkdir", path, lambda: REAL["mkdir"](path, *a, **k))

    os.open, os.write, os.fsync, os.close, os.mkdir = os_open, os_write, os_fsync, os_close, os_mkdir  # type: ignore[assignment]
    os.link, os.replace, os.rename = naming("link"), naming("replace"), naming("rename")  # type: ignore[assignment]
    os.unlink = os.remove = removing("unlink")  # type: ignore[assignment]
    os.ftruncate = removing("ftruncate")  # type: ignore[assignment]
    io.open = builtins.open = _opener(cut, new_name)  # type: ignore[assignment]
    _under_parquet()


def _remove(path: str) -> None:
    if os.path.isdir(path):
        import shutil

        shutil.rmtree(path)
    else:
        REAL["unlink"](path)


def _opener(cut: Cut, new_name: Callable[[object], None]) -> Callable[..., Any]:
    real = io.open

    class Raw(io.FileIO):
        def write(self, data: Any) -> int:
            data = bytes(data)
            act = super().write
            return cut.meet("write", self.name, lambda: act(data), lambda: act(data[: len(data) // 2]))

    def opened(file: Any, mode: str = "r", buffering: int = -1, encoding: Any = None, errors: Any = None,
               newline: Any = None, closefd: bool = True, opener: Any = None) -> Any:  # fmt: skip
        if isinstance(file, int) or opener or not set(mode) & set("wxa+"):
            if not isinstance(file, int) and str(file).startswith(cut.root):
                cut.reads += 1
                if cut.kind == UNREADABLE and cut.reads == cut.at:
                    raise OSError(errno.EIO, os.strerror(errno.EIO), str(file))
            return real(file, mode, buffering, encoding, errors, newline, closefd, opener)
        new = not os.path.exists(file)
        raw = cut.meet("open", file, lambda: Raw(file, mode.replace("b", "").replace("t", "")))
        if new:
            new_name(file)
        whole = io.BufferedRandom(raw) if "+" in mode else io.BufferedWriter(raw)
        return whole if "b" in mode else io.TextIOWrapper(whole, encoding or "utf-8", errors, newline)

    return opened


def _under_parquet() -> None:
    """Have pyarrow write through a file of Python's, so that its writes are met too."""
    import pyarrow.parquet as parquet

    real_init, real_close = parquet.ParquetWriter.__init__, parquet.ParquetWriter.close

    def begin(self: Any, where: Any, *a: Any, **k: Any) -> None:
        self.our_stream = open(where, "wb")  # noqa: SIM115
        real_init(self, self.our_stream, *a, **k)

    def close(self: Any) -> None:
        try:
            real_close(self)
        finally:
            self.our_stream.close()

    parquet.ParquetWriter.__init__, parquet.ParquetWriter.close = begin, close
