"""An invented study for the recorder's tests: three animals, a group, seven zones, keys that may collide."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

HEAD = """
format = 1
title = "Cellar salamanders"
timezone = "Europe/Vienna"
day_starts = "12:00"

[enclosure]
sketch = ["ccccwwbb", "cccclldd", "oooollff"]
measured_in = "surface_cm2"
lights = {on = "07:30", off = "19:00", clock = "local"}
"""

ZONES = """
[zones.moss_end]
label = "Moss end"
key = "c"
amount = 1800
role = "retreat"
[zones.water_dish]
label = "Water dish"
key = "w"
amount = 400
role = "water"
[zones.bark]
label = "Bark stack"
key = "b"
amount = 700
[zones.leaf_litter]
label = "Leaf litter"
key = "l"
amount = 900
[zones.drain_tube]
label = "Drain tube"
key = "d"
amount = 300
[zones.open_ground]
label = "Open ground"
key = "o"
amount = 2500
[zones.fern]
label = "Fern root"
key = "f"
amount = 400
"""

LIVING = """
[animals.a1]
label = "Broad stripe"
key = "1"
[animals.a2]
label = "Two dots"
key = "2"
[animals.a3]
label = "Old one"
key = "3"
[groups.young]
label = "Unmarked young"
key = "Y"
size = 6

[behaviours.resting]
label = "Resting"
key = "r"
lasts = true
[behaviours.moving]
label = "Walking"
key = "m"
lasts = true
[behaviours.soaking]
label = "Soaking"
key = "s"
lasts = true
[behaviours.strike]
label = "Strike"
key = "x"
lasts = false
"""

HABITS = """
[limits.moss_end]
humidity_pct = {low = 75}
temperature_c = {high = 20}

[watching]
observer = "mk"
method = "scan"
every_s = 60
minutes = 10
"""

STUDY = HEAD + ZONES + LIVING + HABITS


def make_study(folder: Path, text: str = STUDY) -> Path:
    """A study folder holding this study.toml."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(text, "utf-8")
    return folder


def add_newest(folder: Path, now: datetime | None = None) -> None:
    """Newest readings, one of them below its limit."""
    now = now or datetime.now(UTC)
    early, late = (now - timedelta(minutes=m) for m in (12, 4))
    readings = {
        "moss_end": {
            "temperature_c": {"value": 14.2, "at": late.isoformat()},
            "humidity_pct": {"value": 71.0, "at": late.isoformat()},
        },
        "open_ground": {"temperature_c": {"value": 16.8, "at": early.isoformat()}},
    }
    (folder / "readings").mkdir(exist_ok=True)
    (folder / "readings" / "newest.json").write_text(json.dumps(readings), "utf-8")
