"""`zoneuse listen` killed at any instant while messages arrive: `python -m tests.live.kill 200`.

A real broker keeps what is not acknowledged; every message says a number of its own. What the broker took must in the
end be on the disk, each once, whether it has a time of its own or not.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from zoneuse.readings.store import intakes, read
from zoneuse.readings.store.live_days import live_taken, read_days

from .broker import Broker
from .hearing import STUDY

_EACH_S, _MOST_AWAY_S = 0.02, 100.0


def _listening(study: Path) -> subprocess.Popen[str]:
    line = [sys.executable, "-m", "zoneuse", "listen", "--study", str(study)]
    return subprocess.Popen(
        line, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )


def _heard(one: subprocess.Popen[str]) -> None:
    assert one.stderr is not None
    for said in one.stderr:
        assert "Traceback" not in said
        if "Listening to" in said:
            return
    raise AssertionError("listen ended by itself")


def on_disk(study: Path) -> int:
    return sum(len(read(study, logger).times) for logger in ("L1", "L2"))


class Sender:
    """Numbers sent with QoS 1, every other one with its own time, until told to stop."""

    def __init__(self, port: int) -> None:
        self.port, self.sent, self.going = port, 0, True

    async def send(self) -> None:
        from aiomqtt import Client

        async with Client("127.0.0.1", self.port) as client:
            while self.going:
                i = self.sent
                at = {"at": 1_772_640_000 + i} if i % 2 else {}
                body = {"values": [float(i)], **at} if i % 2 else {"air": {"t": float(i)}}
                await client.publish("timed/bark" if i % 2 else "home/a/moss", json.dumps(body), qos=1)
                self.sent += 1
                await asyncio.sleep(_EACH_S)


async def _killed(study: Path, sender: Sender, times: int, seed: int) -> tuple[int, list[int]]:
    """Kill so often; how many were killed while messages waited, and how many readings each left."""
    lots, left, busy = random.Random(seed), [], 0
    going = asyncio.create_task(sender.send())
    before = time.monotonic()
    for _ in range(times):
        one = await asyncio.to_thread(_listening, study)
        await asyncio.to_thread(_heard, one)
        if time.monotonic() - before > _MOST_AWAY_S:
            raise TimeoutError(
                "this machine is too busy: what has no time of its own is left out after two minutes"
            )
        await asyncio.sleep(lots.uniform(0.0, 0.6))
        before = time.monotonic()
        os.kill(one.pid, signal.SIGKILL)
        one.wait()
        assert one.stderr is not None
        assert "Traceback" not in one.stderr.read()
        left.append(sum(len(t) for day in read_days(study, live_taken(study)) for t in day.times.values()))
        busy += len(left) < 2 or left[-1] != left[-2]
    sender.going = False
    await going
    return busy, left


def killed(folder: Path, times: int, seed: int) -> tuple[int, int]:
    """Messages that the broker took, and kills amid them. Raises AssertionError where one is lost or doubled."""
    broker = Broker(folder)
    try:
        study = folder / "s"
        study.mkdir()
        (study / "study.toml").write_text(
            STUDY.replace("PORT", str(broker.port))
            .split("[live.bthome")[0]
            .replace('publish = "keeper/needs"', ""),
            "utf-8",
        )
        first = _listening(study)  # from now on the broker keeps what it misses
        _heard(first)
        first.kill()
        first.wait()
        sender = Sender(broker.port)
        busy, _ = asyncio.run(_killed(study, sender, times, seed))
        last = _listening(study)
        _heard(last)
        end = time.monotonic() + 60
        while on_disk(study) < sender.sent and time.monotonic() < end:
            time.sleep(0.1)
        time.sleep(0.5)
        last.send_signal(signal.SIGINT)
        last.wait(60)
        _counted(study, sender.sent)
        return sender.sent, busy
    finally:
        broker.end()


def _counted(study: Path, sent: int) -> None:
    found = {
        logger: sorted(read(study, logger).values["temperature_c"].astype(int).tolist())
        for logger in ("L1", "L2")
    }
    assert found["L1"] == list(range(0, sent, 2)), _wrong(found["L1"], range(0, sent, 2))
    assert found["L2"] == list(range(1, sent, 2)), _wrong(found["L2"], range(1, sent, 2))
    taken, problems = intakes(study)
    assert not problems and not any(i.id.startswith("~") for i in taken)
    rows = sum(part.rows for intake in taken for part in intake.parts)
    assert rows == sent, f"{rows} rows in the store for {sent} messages"


def _wrong(has: Sequence[int], wanted: Sequence[int]) -> str:
    doubled = sorted({i for i in has if has.count(i) > 1})[:10]
    return f"lost {sorted(set(wanted) - set(has))[:10]}, doubled {doubled}, of {len(wanted)}"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        begun = time.monotonic()
        many, amid = killed(Path(made), int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
        print(
            f"{sys.argv[1]} kills, {amid} amid messages, {many} messages, each once; {time.monotonic() - begun:.0f} s"
        )
