"""The recorder over ssh and tmux, on a link that lags and is cut in mid-key; by hand, against an sshd of this machine.

``python -m tests.recorder.over_ssh 20`` cuts the link twenty times, with tmux and without it. Needs sshd, ssh and tmux.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import pty
import random
import select
import shutil
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from tests.recorder.studies import STUDY, make_study
from tests.recorder.terminal import Terminal, terminal_of
from zoneuse.journal.reader import read_journals

DELAY_S = 0.3
UNITS = list(itertools.product("123", "cwbldof", "rms"))
_NAMES = {"c": "moss_end", "w": "water_dish", "b": "bark", "l": "leaf_litter", "d": "drain_tube", "o": "open_ground",
          "f": "fern", "r": "resting", "m": "moving", "s": "soaking"}  # fmt: skip


class Link(threading.Thread):
    """A port that hands everything on, late, until it is cut."""

    def __init__(self, to: int) -> None:
        super().__init__(daemon=True)
        self.to, self.pairs = to, []  # type: ignore[var-annotated]
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        self.start()

    def run(self) -> None:
        while True:
            here, _ = self.server.accept()
            there = socket.create_connection(("127.0.0.1", self.to))
            self.pairs.append((here, there))
            for one, other in ((here, there), (there, here)):
                threading.Thread(target=self.carry, args=(one, other), daemon=True).start()

    def carry(self, one: socket.socket, other: socket.socket) -> None:
        waiting: list[tuple[float, bytes]] = []
        with contextlib.suppress(OSError, ValueError):
            while True:
                left = max(0.0, waiting[0][0] - time.monotonic()) if waiting else 1.0
                if select.select([one], [], [], left)[0]:
                    data = one.recv(65536)
                    if not data:
                        break
                    waiting.append((time.monotonic() + DELAY_S, data))
                while waiting and waiting[0][0] <= time.monotonic():
                    other.sendall(waiting.pop(0)[1])
        for end in (one, other):
            with contextlib.suppress(OSError):
                end.close()

    def cut(self) -> None:
        """What is on the way is lost, and neither side is told goodbye."""
        for pair in self.pairs:
            for end in pair:
                with contextlib.suppress(OSError):
                    end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                    end.close()
        self.pairs.clear()


def start_sshd(folder: Path) -> tuple[subprocess.Popen[bytes], int]:
    """An sshd of our own on a free port, with keys made for it."""
    for name in ("host", "key"):
        subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(folder / name)], check=True)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    Path("/run/sshd").mkdir(exist_ok=True)
    (folder / "config").write_text(
        f"Port {port}\nListenAddress 127.0.0.1\nHostKey {folder}/host\nAuthorizedKeysFile {folder}/key.pub\n"
        "StrictModes no\nUsePAM no\nPermitRootLogin prohibit-password\nPasswordAuthentication no\n"
    )
    server = subprocess.Popen(
        ["/usr/sbin/sshd", "-D", "-e", "-f", str(folder / "config")], stderr=subprocess.DEVNULL
    )
    time.sleep(1)
    return server, port


def phone(folder: Path, port: int, command: str) -> Terminal:
    """An ssh client in a terminal of 40 columns and 20 rows."""
    pid, handle = pty.fork()
    if pid == 0:
        os.execvp("ssh", [
            "ssh", "-tt", "-F", "none", "-i", str(folder / "key"), "-p", str(port),
            "-o", "StrictHostKeyChecking=no", "-o", "UserKnownHostsFile=/dev/null", "-o", "LogLevel=ERROR",
            "127.0.0.1", command,
        ])  # fmt: skip
    return terminal_of(pid, handle, (40, 20))


def typed(terminal: Terminal, keys: str) -> None:
    """Keys pressed on the phone, whether or not anybody is there to get them."""
    with contextlib.suppress(OSError):
        terminal.type(keys)


def trial(cuts: int, tmux: bool, seed: int) -> str:
    """Record, cut, come back, record on. Returns what was found, in words."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        study = make_study(folder / "study", STUDY.replace("day_starts", "# day_starts"))
        server, port = start_sshd(folder)
        link = Link(port)
        watch = f"XDG_STATE_HOME={folder} {sys.executable} -m zoneuse watch --study {study} --quiet 0"
        watch += " --method ad-libitum"
        inside = f"tmux -S {folder}/tmux -f /dev/null new -A -s tank '{watch}'" if tmux else watch
        command = f"cd {Path.cwd()}; export TERM=xterm-256color; {inside}"
        done, shown, keys_back, at = 0, 0, 0, 0
        try:
            for number in range(cuts + 1):
                here = phone(folder, link.port, command)
                if number == 0 or not tmux:
                    here.until(b"Begin", 60.0)
                    here.until(b"More:")
                    typed(here, "\r")
                    keys_back += number > 0
                here.until(b" saved")
                for _ in range(chance.randrange(3, 9)):
                    keys = "".join(UNITS[at % len(UNITS)])
                    at += 1
                    for key in keys:
                        typed(here, key)
                        here.read(chance.uniform(0.0, 0.25))
                if number == cuts:
                    here.read(2.0)
                else:
                    here.read(chance.uniform(0.0, 1.0))
                    link.cut()
                    here.read(0.5)
                shown = max(shown, here.saved)
                here.end()
                done += 1
                time.sleep(0.5)
        finally:
            subprocess.run(["tmux", "-S", f"{folder}/tmux", "kill-server"], stderr=subprocess.DEVNULL)
            server.terminate()
        journals = read_journals(study)
        assert all(p.hint for p in journals.problems), journals.problems
        (session,) = journals.sessions.values()
        made = [dict(e.record.fields) for e in session.entries if e.record.kind == "seen"]
        # Each record is one of what was typed, in order, none twice; of a cut answer its zone alone may stand.
        place = 0
        for fields in made:
            while not _is(fields, UNITS[place % len(UNITS)]):
                place += 1
                assert place < at, f"{fields} was not typed then"
            place += 1
        assert len(made) >= shown, f"{shown} shown as saved, {len(made)} on record"
        how = "tmux" if tmux else "ssh alone"
        back = "no key" if tmux else f"one key each ({keys_back} times)"
        return (
            f"{how}: {done - 1} cuts, {at} answers typed, {shown} shown as saved, {len(made)} on record in "
            f"{session.parts} parts, none doubled; coming back took {back}"
        )


def _is(fields: dict[str, object], unit: tuple[str, ...]) -> bool:
    animal, zone, doing = f"a{unit[0]}", _NAMES[unit[1]], _NAMES[unit[2]]
    return fields["animal"] == animal and fields["zone"] == zone and fields.get("behaviour") in (None, doing)


if __name__ == "__main__":
    for program in ("ssh", "tmux", "ssh-keygen"):
        assert shutil.which(program), f"{program} is not installed"
    print(trial(int(sys.argv[1]), True, 1), flush=True)
    print(trial(int(sys.argv[1]), False, 2), flush=True)
