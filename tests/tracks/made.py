"""Made-up tracks with known zone times, and studies that declare how to read them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from zoneuse.stats.arrays import Floats

# Three rooms that fill 60 by 40, and two animals.
ROOMS = """
[zones.moss]
label = "Moss"
key = "m"
amount = 1200
outline = [[0, 0], [30, 0], [30, 40], [0, 40]]

[zones.open]
label = "Open"
key = "o"
amount = 1000
outline = [[30, 0], [60, 0], [60, 20], [50, 20], [50, 40], [30, 40]]

[zones.dish]
label = "Dish"
key = "w"
amount = 200
outline = [[50, 20], [60, 20], [60, 40], [50, 40]]

[animals.a]
label = "Ada"
key = "1"

[animals.b]
label = "Bea"
key = "2"
"""
STUDY = (
    """
format = 1
title = "Tracked"
timezone = "Europe/Vienna"

[enclosure]
measured_in = "surface_cm2"
sketch = ["mmmooo", "mmmoow"]
"""
    + ROOMS
    + """
[cameras.top]
size = [60, 40]

[tracks.overhead]
columns = {frame = "frame", animal = "id", x = "x", y = "y", confidence = "p"}
rate = 25
least_confidence = 0.6
every_s = 10

[tracks.wide]
columns = {at = "time"}
wide = {a = {x = "ax", y = "ay"}, b = {x = "bx", y = "by"}}
every_s = 10

[tracks.readers]
columns = {at = "time", animal = "tag", antenna = "reader"}
antennas = {R1 = "moss", R2 = "dish"}
names = {"0007" = "a"}
every_s = 10
"""
)
# A point well inside each zone.
MIDDLE = {"moss": (15.0, 20.0), "open": (40.0, 20.0), "dish": (55.0, 30.0), "": (80.0, 20.0)}


def study_at(folder: Path, text: str = STUDY) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder


def points_of(
    zones: list[str], each: int, random: np.random.Generator, jitter: float = 4.0
) -> tuple[Floats, Floats]:
    """``each`` positions in every zone of the list, one after the other."""
    middles = np.repeat([MIDDLE[z] for z in zones], each, axis=0)
    found = middles + random.uniform(-jitter, jitter, middles.shape)
    return found[:, 0], found[:, 1]
