"""Mosquitto on a port of its own, with what a test asks of it; killed and begun again at will."""

from __future__ import annotations

import contextlib
import shutil
import socket
import subprocess
import time
from pathlib import Path

MOSQUITTO = shutil.which("mosquitto") or shutil.which("/usr/sbin/mosquitto")
PASSWD = shutil.which("mosquitto_passwd")


class Broker:
    """A broker in ``folder``; ``lines`` are its configuration beside the listener, anonymous where they say nothing."""

    def __init__(self, folder: Path, *lines: str, under: str = "") -> None:
        with socket.socket() as some:
            some.bind(("127.0.0.1", 0))
            self.port = some.getsockname()[1]
        self.config = folder / "broker.conf"
        who = [] if any("allow_anonymous" in line for line in lines) else ["allow_anonymous true"]
        said = [f"listener {self.port} 127.0.0.1", under, *who, "max_queued_messages 0", *lines, "user root"]
        self.config.write_text("\n".join(said) + "\n", encoding="utf-8")
        self.begin()

    def begin(self) -> None:
        self.process = subprocess.Popen([MOSQUITTO or "", "-c", str(self.config)], stderr=subprocess.DEVNULL)
        for _ in range(400):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 0.2):
                return
            time.sleep(0.02)

    def end(self) -> None:
        self.process.kill()
        self.process.wait()
