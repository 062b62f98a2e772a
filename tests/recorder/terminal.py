"""The real recorder in a real pseudo-terminal, forked from a process that has it loaded already."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

_SAVED = re.compile(rb"(\d+) saved")


def _watch(study: Path, slowly: bool, words: tuple[str, ...]) -> None:
    """The child: exactly what `zoneuse` runs. Never returns."""
    import sys

    if slowly:
        _write_slowly()
    os.environ.update(TERM="xterm-256color", XDG_STATE_HOME=str(study / "state"))
    # Tests run with nohup pass on that a terminal hung up is ignored.
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    # The fork inherits what pytest made of the standard streams; Textual wants the terminal's.
    for number, mode, name in ((0, "r", "stdin"), (1, "w", "stdout"), (2, "w", "stderr")):
        stream = os.fdopen(number, mode, closefd=False)
        setattr(sys, name, stream)
        setattr(sys, f"__{name}__", stream)
    sys.argv = ["zoneuse", *words, "--study", str(study)]
    try:
        from zoneuse.cli import main

        main()
    except SystemExit as end:
        os._exit(end.code if isinstance(end.code, int) else int(end.code is not None))
    finally:
        os._exit(0)


def _write_slowly() -> None:
    """Journal lines reach the file in pieces, so that a kill falls in the middle of them."""
    import zoneuse.journal.writer as writer

    real = os.write

    class Slow:
        def __getattr__(self, name: str) -> object:
            return getattr(os, name)

        def write(self, handle: int, data: bytes) -> int:
            time.sleep(0.0015)
            return real(handle, data[:25])

    writer.os = Slow()  # type: ignore[assignment,attr-defined]


@dataclass
class Terminal:
    """``seen`` is all the terminal received; ``saved`` the last number of saved records it showed."""

    pid: int
    handle: int
    seen: bytearray = field(default_factory=bytearray)
    status: int | None = None

    @property
    def saved(self) -> int:
        found = _SAVED.findall(self.seen)
        return int(found[-1]) if found else 0

    def read(self, seconds: float) -> bool:
        """Take in what arrives for so long; False once the other end is gone."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self.handle], [], [], left)[0]:
                try:
                    data = os.read(self.handle, 65536)
                except OSError:
                    return False
                if not data:
                    return False
                self.seen += data
        return True

    def until(self, sign: bytes, seconds: float = 20.0) -> None:
        end = time.monotonic() + seconds
        while sign not in self.seen:
            assert self.read(0.02) and time.monotonic() < end, (sign, bytes(self.seen[-2000:]))

    def type(self, keys: str) -> None:
        os.write(self.handle, keys.encode())

    def end(self, number: int = signal.SIGKILL) -> int:
        """Signal it, read the rest, and return the wait status."""
        if self.status is None:
            os.kill(self.pid, number)
            self._wait()
        return self.status or 0

    def hang_up(self) -> int:
        """Close the terminal, as a lost connection does."""
        os.close(self.handle)
        self._wait(reading=False)
        return self.status or 0

    def _wait(self, reading: bool = True) -> None:
        end = time.monotonic() + 10
        while True:
            if reading:
                self.read(0.01)
            done, status = os.waitpid(self.pid, os.WNOHANG)
            if done:
                self.status = status
                break
            if time.monotonic() > end:
                os.kill(self.pid, signal.SIGKILL)
                raise AssertionError("it did not end")
            time.sleep(0.005)
        if reading:
            os.close(self.handle)


def open_terminal(study: Path, *, slowly: bool = False, method: str = "scan") -> Terminal:
    """Start the recorder on a study in an 80x24 pseudo-terminal."""
    pid, handle = pty.fork()
    if pid == 0:
        _watch(study, slowly, ("watch", "--quiet", "0", "--method", method))
    return terminal_of(pid, handle)


def open_screen(study: Path, command: str) -> Terminal:
    """Start another screen, ``review`` or ``build``, in the same way."""
    pid, handle = pty.fork()
    if pid == 0:
        _watch(study, False, (command,))
    return terminal_of(pid, handle)


def terminal_of(pid: int, handle: int, size: tuple[int, int] = (80, 24)) -> Terminal:
    """The terminal in which that process was started, of so many columns and rows."""
    fcntl.ioctl(handle, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
    return Terminal(pid, handle)


def begin(terminal: Terminal) -> None:
    """Past the first screen, into the first scan."""
    terminal.until(b"Begin")
    terminal.until(b"Begin")
    while b"0 saved" not in terminal.seen and b" saved" not in terminal.seen:
        terminal.type("\r")
        terminal.read(0.25)


Script = Callable[[Terminal], None]
