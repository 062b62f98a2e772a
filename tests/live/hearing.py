"""A study that listens, and what it is given to hear."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from zoneuse.live.heard import Listener, ListenOptions
from zoneuse.study.toml.file import load_declaration

STUDY = """
format = 1
title = "Listening"
timezone = "Europe/Vienna"

[enclosure]
measured_in = "floor_cm2"

[zones.moss]
label = "Moss"
key = "m"
amount = 300

[zones.bark]
label = "Bark"
key = "b"
amount = 100

[loggers.L1]
placed = [{zone = "moss"}]

[loggers.L2]
placed = [{zone = "bark"}]

[limits.moss]
humidity_pct = {low = 75}

[live.mqtt]
broker = "127.0.0.1"
port = PORT
publish = "keeper/needs"

[live.mqtt.topics."home/+/moss"]
logger = "L1"
temperature_c = "$.air.t"
humidity_pct = "$.air['rel hum']"

[live.mqtt.topics."timed/bark"]
logger = "L2"
temperature_c = "$.values[0]"
at = "$.at"

[live.mqtt.topics."new/#"]
temperature_c = "$.t"

[live.bthome.devices]
"A4:C1:38:00:11:22" = "L2"
"""


class Clocks:
    """Time as a parameter: the wall's and the machine's own."""

    def __init__(self) -> None:
        self.now, self.since = datetime(2026, 3, 4, 18, tzinfo=UTC), 100.0

    def go(self, seconds: float, step: float = 0.0) -> None:
        self.now += timedelta(seconds=seconds + step)
        self.since += seconds


def listener_at(folder: Path, port: int = 1883) -> tuple[Listener, Clocks, list[str]]:
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "study.toml").exists():
        (folder / "study.toml").write_text(STUDY.replace("PORT", str(port)), "utf-8")
    clocks, said = Clocks(), []
    asked = ListenOptions(lambda: clocks.now, lambda: clocks.since, said.append)
    return Listener(load_declaration(folder), asked), clocks, said
