"""What study.toml declares, as frozen records. Times are aware datetimes in UTC; units stand in names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from typing import Generic, Literal, TypeVar
from zoneinfo import ZoneInfo

T = TypeVar("T")

Method = Literal["scan", "focal", "ad-libitum", "retreat-round"]
METHODS: tuple[Method, ...] = ("scan", "focal", "ad-libitum", "retreat-round")
MEASURES = ("floor_cm2", "surface_cm2", "volume_l", "places")
ROLES = ("retreat", "basking", "perch", "open", "water", "litter", "burrow", "feeding", "other")
SERVES = (
    "security", "radiation", "temperature", "humidity", "water", "food", "egg-laying", "display", "travel",
)  # fmt: skip
# The one enclosure of a study that has only one; it needs no name of its own in the file.
ONLY = "enclosure"


@dataclass(frozen=True, slots=True)
class Span:
    """From ``start`` (included) until ``until`` (excluded); None is open-ended."""

    start: datetime | None = None
    until: datetime | None = None

    def holds(self, at: datetime) -> bool:
        return (self.start is None or self.start <= at) and (self.until is None or at < self.until)


@dataclass(frozen=True, slots=True)
class Dated(Generic[T]):
    """A value and when it held."""

    span: Span
    value: T


def value_at(timeline: Iterable[Dated[T]], at: datetime) -> T | None:
    """The value that held at a moment, or None."""
    for dated in timeline:
        if dated.span.holds(at):
            return dated.value
    return None


@dataclass(frozen=True, slots=True)
class Lights:
    """When the lights go on and off; ``standard`` marks a timer that ignores summer time."""

    on: time
    off: time
    standard: bool = False


@dataclass(frozen=True, slots=True)
class Presence:
    """When a zone is there; ``daily`` limits it to a part of the day (a lit basking spot)."""

    span: Span
    daily: tuple[time, time] | None = None


@dataclass(frozen=True, slots=True)
class Enclosure:
    id: str
    measured_in: str
    # Rows of cells: a zone's key each, or a dot.
    sketch: tuple[tuple[str, ...], ...] = ()
    lights: tuple[Dated[Lights], ...] = ()


Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Outline:
    """A zone's polygon in the units of a camera, and when it was that."""

    camera: str
    span: Span
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class View:
    """Four points in a camera's picture (``seen``), and where they are in the enclosure (``are``)."""

    seen: tuple[Point, ...]
    are: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Camera:
    """What the positions of a camera are in: its pixels, or the enclosure's units where it has ``views``.

    ``size`` is the width and height of the enclosure in those units, for the picture on the sketch.
    """

    id: str
    size: Point | None = None
    views: tuple[Dated[View], ...] = ()


@dataclass(frozen=True, slots=True)
class TrackTable:
    """How a table of positions or of antenna reads is to be understood.

    ``columns``: frame, at, animal, x, y, confidence, antenna to the table's names; ``wide`` the same for each animal
    that has columns of its own; ``names`` the table's names of animals to ids; ``antennas`` to zones. ``at_is`` iso,
    or s or ms since the start. ``holds_s``: how long a position speaks; ``gap_s``: without any row for so long
    nobody looked; ``fastest`` and ``border`` in the units of the outlines (per second).
    """

    id: str
    camera: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    wide: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    antennas: Mapping[str, str] = field(default_factory=dict)
    at_is: str = "iso"
    rate: float | None = None
    every_s: int = 60
    holds_s: float | None = None
    gap_s: float | None = None
    least_confidence: float | None = None
    fastest: float | None = None
    border: float = 0.0


@dataclass(frozen=True, slots=True)
class Heard:
    """What messages of an MQTT topic say: ``values`` by quantity and ``at`` are paths such as ``$.air.t[0]``.

    Without a ``logger`` what comes is shown, and nothing of it is kept.
    """

    topic: str
    logger: str
    values: Mapping[str, str]
    at: str = ""


@dataclass(frozen=True, slots=True)
class Live:
    """Where readings come from as they are made. ``secrets`` names a file outside the study."""

    broker: str = ""
    port: int = 0
    tls: bool = False
    ca: str = ""
    topics: tuple[Heard, ...] = ()
    devices: Mapping[str, str] = field(default_factory=dict)
    adverts: bool = False
    publish: str = ""
    secrets: str = ""


@dataclass(frozen=True, slots=True)
class Zone:
    id: str
    label: str
    key: str
    enclosure: str
    place: str
    amount: tuple[Dated[float], ...]
    role: str = "other"
    serves: tuple[str, ...] = ()
    cover: tuple[Dated[float], ...] = ()
    present: tuple[Presence, ...] = (Presence(Span()),)
    # What the place is called where studies are held together.
    common: str = ""
    outlines: tuple[Outline, ...] = ()


@dataclass(frozen=True, slots=True)
class Animal:
    id: str
    label: str
    key: str
    lives: tuple[Dated[str], ...]
    present: tuple[Span, ...] = (Span(),)


@dataclass(frozen=True, slots=True)
class Group:
    """Animals not told apart, recorded as counts per zone."""

    id: str
    label: str
    key: str
    lives: tuple[Dated[str], ...]
    size: tuple[Dated[int], ...]
    present: tuple[Span, ...] = (Span(),)


@dataclass(frozen=True, slots=True)
class Behaviour:
    id: str
    label: str
    key: str
    lasts: bool
    active: bool | None = None
    means: str = ""


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a logger lay: a dated fact; ``spot`` says where in the zone."""

    zone: str
    start: datetime | None
    until: datetime | None
    spot: str = ""


@dataclass(frozen=True, slots=True)
class ClockCheck:
    """What a logger's clock showed at a true time."""

    true: datetime
    shown: datetime


@dataclass(frozen=True, slots=True)
class SaltPoint:
    """What a humidity sensor showed above a saturated salt."""

    salt: str
    at_c: float
    shown_pct: float
    on: date


@dataclass(frozen=True, slots=True)
class Worn:
    """Which animal carried a logger, and when."""

    animal: str
    span: Span


@dataclass(frozen=True, slots=True)
class Logger:
    """One logger. ``placed`` is where it measured a zone; an empty model of the body lies ``model_in`` zones
    instead, and one that is ``worn`` measures an animal: neither tells a zone's conditions."""

    id: str
    placed: tuple[Placement, ...]
    clock: tuple[ClockCheck, ...] = ()
    salt_points: tuple[SaltPoint, ...] = ()
    accuracy: Mapping[str, float] = field(default_factory=dict)
    model_in: tuple[Placement, ...] = ()
    worn: tuple[Worn, ...] = ()


@dataclass(frozen=True, slots=True)
class Treatment:
    """What a session, an enclosure in it or an animal in it was under."""

    id: str
    label: str
    # What it should do to what is held against it: ``hide:up``.
    expects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PhaseSpan:
    """A stretch of a phase: of one enclosure, of one animal, or of all where both are empty."""

    span: Span
    enclosure: str = ""
    animal: str = ""

    def holds(self, at: datetime, enclosure: str, animal: str | None) -> bool:
        here = self.enclosure in ("", enclosure) and self.animal in ("", animal)
        return here and self.span.holds(at)


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of the study with a name of its own, to be held against another."""

    id: str
    label: str
    spans: tuple[PhaseSpan, ...]
    expects: tuple[str, ...] = ()

    def holds(self, at: datetime, enclosure: str, animal: str | None = None) -> bool:
        return any(span.holds(at, enclosure, animal) for span in self.spans)


@dataclass(frozen=True, slots=True)
class Bounds:
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class SetRange:
    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Watching:
    """The keeper's habits, so that a session asks only what can have changed."""

    observer: str = "keeper"
    method: Method = "scan"
    every_s: int = 60
    minutes: int = 10
    says_minutes: bool = False
    can: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Declaration:
    """A whole study.toml, read and found sound."""

    folder: Path
    title: str
    timezone: ZoneInfo
    day_starts: time
    species: str
    fahrenheit: bool
    enclosures: Mapping[str, Enclosure]
    zones: Mapping[str, Zone]
    animals: Mapping[str, Animal]
    groups: Mapping[str, Group]
    behaviours: Mapping[str, Behaviour]
    loggers: Mapping[str, Logger]
    limits: Mapping[str, Mapping[str, tuple[Dated[Bounds], ...]]]
    set_range: Mapping[str, SetRange]
    treatments: Mapping[str, Treatment]
    phases: Mapping[str, Phase]
    watching: Watching
    cameras: Mapping[str, Camera] = field(default_factory=dict)
    tracks: Mapping[str, TrackTable] = field(default_factory=dict)
    live: Live = Live()

    @property
    def measured_in(self) -> str:
        """How much of each zone there is, is measured in this, in every enclosure alike."""
        return next(iter(self.enclosures.values())).measured_in

    @property
    def several(self) -> bool:
        """Whether answers speak of places in several enclosures."""
        return len(self.enclosures) > 1
