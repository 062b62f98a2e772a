"""A made-up enclosure to practise on: two animals that move by a known script. Nothing of it is a study's."""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Container, Mapping
from dataclasses import dataclass
from math import inf

from ...study import SketchFigure

STUDY = """
format = 1
title = "Practice enclosure (made up)"
timezone = "UTC"
[enclosure]
sketch = ["hhhooowww", "hhhooowww", "bbbooolll", "bbbooolll"]
measured_in = "floor_cm2"
[zones.hide]
label = "Hide"
key = "h"
amount = 600
role = "retreat"
[zones.open]
label = "Open ground"
key = "o"
amount = 1200
[zones.water]
label = "Water"
key = "w"
amount = 600
[zones.bark]
label = "Bark"
key = "b"
amount = 600
role = "retreat"
[zones.litter]
label = "Litter"
key = "l"
amount = 600
[animals.diamond]
label = "Diamond"
key = "1"
[animals.ring]
label = "Ring"
key = "2"
[behaviours.resting]
label = "Resting"
key = "r"
lasts = true
means = "Still, head down"
[behaviours.alert]
label = "Alert"
key = "a"
lasts = true
means = "Still, head up"
[behaviours.moving]
label = "Moving"
key = "m"
lasts = true
means = "It changes its place"
"""
# From where to where it can walk.
_NEXT_TO = {
    "hide": ("open", "bark"), "open": ("hide", "water", "bark", "litter"), "water": ("open", "litter"),
    "bark": ("hide", "open"), "litter": ("open", "water"),
}  # fmt: skip
# How each animal is drawn: never as a record's mark, which is its key.
SHAPES = {"diamond": "◆", "ring": "○"}
ROUND_SHAPES = {**SHAPES, "square": "■", "triangle": "△"}
LEGEND = "◆ is 1, ○ is 2 · ◆^ head up · ◆» walks"
ROUND_LEGEND = "◆ 1, ○ 2, ■ 3, △ 4 · ◆^ head up"
# In a round there are more retreats, more animals, and one of them may be in none of the retreats.
ROUND_STUDY = (
    STUDY.replace('label = "Litter"\nkey = "l"', 'label = "Litter"\nkey = "l"\nrole = "retreat"')
    + """
[animals.square]
label = "Square"
key = "3"
[animals.triangle]
label = "Triangle"
key = "4"
"""
)
_HIDDEN_IN = ("hide", "bark", "litter")
_STEP = 0.02
# Two beats with what comes between belong to a practice's scale; shorter than this nobody can follow.
_LEAST_S, _MOST_S = 4.0, 60.0


@dataclass(frozen=True, slots=True)
class Stay:
    """What an animal does from ``start`` until ``until`` (seconds from the beginning).

    ``visit`` numbers its visits to zones; ``x`` is where it starts in the room (0 to 1), ``speed`` rooms a second.
    """

    animal: str
    number: int
    visit: int
    start: float
    until: float
    zone: str
    behaviour: str
    x: float
    speed: float = 0.0

    def place(self, t: float) -> tuple[float, int]:
        """Where in the room it is, 0 to 1, and which way it goes (0: it stays). It turns at the walls."""
        along = (self.x + self.speed * (min(t, self.until) - self.start)) % 2.0
        x = along if along <= 1 else 2 - along
        return round(x / _STEP) * _STEP, 0 if not self.speed else 1 if along <= 1 else -1


@dataclass(frozen=True, slots=True)
class Script:
    """What the animals do, second by second. The same seed and beat give the same script."""

    seed: int
    stays: Mapping[str, tuple[Stay, ...]]

    def at(self, animal: str, t: float) -> Stay:
        """What an animal does at a time; its last stay lasts for ever."""
        stays = self.stays[animal]
        return stays[max(0, bisect_right([s.start for s in stays], t) - 1)]

    def figures(self, t: float, covered: Container[str] = ()) -> dict[str, tuple[SketchFigure, ...]]:
        """Zone id to what is to be drawn in its room; nothing shows in a zone that is covered."""
        rooms: dict[str, tuple[SketchFigure, ...]] = {}
        for row, animal in enumerate(self.stays):
            shape, stay = ROUND_SHAPES[animal], self.at(animal, t)
            if stay.zone in covered:
                continue
            x, way = stay.place(t)
            text = {1: f"{shape}»", -1: f"«{shape}", 0: f"{shape}^" if stay.behaviour == "alert" else shape}[
                way
            ]
            rooms[stay.zone] = (*rooms.get(stay.zone, ()), SketchFigure(text, x, row))
        return rooms


@dataclass(frozen=True, slots=True)
class Practice:
    """One practice: its script, and how to have it again."""

    script: Script
    again: str


def make_script(seed: int, every_s: float, length_s: float) -> Script:
    """A script whose stays are about as long as the time from scan to scan, for at least so many seconds.

    >>> one, same = make_script(7, 15, 60), make_script(7, 15, 60)
    >>> one == same, one.at("ring", 30.0).animal
    (True, 'ring')
    """
    unit = min(max(every_s, _LEAST_S), _MOST_S)
    return Script(seed, {animal: tuple(_stays(animal, seed, unit, length_s)) for animal in SHAPES})


def make_round_script(seed: int) -> Script:
    """Where four animals lie while the retreats are looked into: nobody moves in a round.

    >>> make_round_script(3) == make_round_script(3)
    True
    """
    stays = {}
    for animal in ROUND_SHAPES:
        chance = random.Random(f"{seed} {animal} round")
        zone = chance.choice(_HIDDEN_IN) if chance.random() < 0.85 else "open"
        doing = chance.choice(("resting", "alert"))
        stays[animal] = (Stay(animal, 0, 1, 0.0, inf, zone, doing, chance.uniform(0.05, 0.95)),)
    return Script(seed, stays)


def _stays(animal: str, seed: int, unit: float, length_s: float) -> list[Stay]:
    """Rests, looks about and walks in turn; it goes from zone to zone only while it walks."""
    chance = random.Random(f"{seed} {animal}")
    zone, t, visit = chance.choice(list(_NEXT_TO)), 0.0, 1
    stays: list[Stay] = []
    while t < length_s:
        for behaviour, low, high in (
            (chance.choice(("resting", "alert")), 0.5, 1.8),
            (chance.choice(("resting", "alert", "alert")), 0.3, 1.0),
        ):
            lasts = chance.uniform(low, high) * unit
            stays.append(
                Stay(animal, len(stays), visit, t, t + lasts, zone, behaviour, chance.uniform(0.05, 0.95))
            )
            t += lasts
        for _ in range(chance.choice((1, 2, 2))):
            lasts = chance.uniform(0.3, 0.9) * unit
            stays.append(
                Stay(animal, len(stays), visit, t, t + lasts, zone, "moving", chance.uniform(0, 1), 0.25)
            )
            t += lasts
            zone, visit = chance.choice(_NEXT_TO[zone]), visit + 1
    return stays
