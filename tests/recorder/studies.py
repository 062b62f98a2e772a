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
# The same with four retreats and what is told of an animal found in one.
ROUND = (
    HEAD
    + ZONES.replace("amount = 700", 'amount = 700\nrole = "retreat"')
    .replace("amount = 900", 'amount = 900\nrole = "retreat"')
    .replace("amount = 300", 'amount = 300\nrole = "retreat"')
    + LIVING.replace(
        "[behaviours.resting]",
        """[behaviours.asleep]
label = "Asleep"
key = "a"
lasts = true
[behaviours.alert]
label = "Alert"
key = "e"
lasts = true
[behaviours.resting]""",
    )
    + HABITS.replace('"scan"', '"retreat-round"')
)
_LONG = {
    'key = "c"': 'key = "h1"',
    'key = "w"': 'key = "h2"',
    'key = "1"': 'key = "A1"',
    'key = "r"': 'key = "rs"',
}


def two_characters(text: str = STUDY) -> str:
    """A study with some keys of two characters, and one of another alphabet."""
    text = text.replace('sketch = ["ccccwwbb", "cccclldd", "oooollff"]', 'sketch = ["h1 h1 h2 b", "o o l ж"]')
    text = text.replace('key = "d"', 'key = "ж"')
    for old, new in _LONG.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


TWO_TUBS = (
    """
format = 1
title = "Two tubs"
timezone = "Europe/Vienna"
[enclosures.tub_1]
measured_in = "surface_cm2"
[enclosures.tub_2]
measured_in = "surface_cm2"
"""
    + "".join(
        f"""
[zones.{name}_{tub}]
label = "{name.capitalize()} {tub}"
key = "{name[0]}"
enclosure = "tub_{tub}"
place = "{name}"
amount = 100
role = "{role}"
"""
        for tub in (1, 2)
        for name, role in (("hide", "retreat"), ("bark", "retreat"), ("open", "open"))
    )
    + "".join(
        f"""
[animals.a{tub}]
label = "Number {tub}"
key = "1"
lives = [{{enclosure = "tub_{tub}"}}]
[animals.b{tub}]
label = "Other {tub}"
key = "2"
lives = [{{enclosure = "tub_{tub}"}}]
"""
        for tub in (1, 2)
    )
)


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
