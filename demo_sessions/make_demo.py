"""Make the demo studies: invented animals in invented enclosures, from a fixed seed.

``python demo_sessions/make_demo.py`` writes demo_sessions/cellar and demo_sessions/skink anew. Running it
again gives the same files: nothing here asks the clock or the machine.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from zoneuse.journal.records import FORMAT, Record, encode
from zoneuse.journal.writer import file_name
from zoneuse.readings.store.store import Intake, PartWriter, commit
from zoneuse.readings.trust.newest import refresh_newest
from zoneuse.study.model import Declaration
from zoneuse.study.toml.file import load_declaration

HERE = Path(__file__).parent
ZONE = ZoneInfo("Europe/Vienna")
STEP = timedelta(minutes=30)
SECOND_COMES, CLOCK_BEHIND = timedelta(seconds=60), timedelta(seconds=20)
Truth = tuple[datetime, int, str, str, str | None]
"""When, in which scan, which animal, in which zone, and doing what, where that was seen."""
Weather = Callable[[str, datetime], tuple[float, float]]
"""(temperature °C, humidity %) in a zone at a time."""


@dataclass(frozen=True)
class Taste:
    """What an animal of the demo goes by when it chooses a place."""

    temperature_c: float
    temperature_width: float
    humidity_pct: float
    humidity_width: float
    liking: Mapping[str, float]
    stays: float
    # How often it is still where it was when the session before ended.
    returns: float = 0.15


@dataclass(frozen=True)
class Plan:
    """A demo study: how long, who watches when, and how the world in it behaves."""

    name: str
    first: date
    days: int
    animals: Sequence[str]
    loggers: Mapping[str, str]
    weather: Weather
    tastes: Mapping[str, Taste]
    sizes: Mapping[str, float]
    behave: Callable[[np.random.Generator, str, datetime], tuple[str, str | None]]
    hard_to_see: Mapping[str, float]
    hour_pull: Callable[[str, datetime], float] = lambda zone, at: 0.0
    # Lux in a zone at a time, for the loggers that measure light.
    light: Callable[[str, datetime], float] | None = None


def local(day: date, clock: time) -> datetime:
    return datetime.combine(day, clock, ZONE)


class Pen:
    """Writes journal files as the recorder would, with ids that depend on nothing but the plan."""

    def __init__(self, folder: Path, title: str, observer: str = "mk") -> None:
        self.folder, self.title, self.observer, self.count = folder, title, observer, 0

    def session(self, at: datetime, method: str, **header: Any) -> list[Record]:
        self.count += 1
        session = f"{at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}-{self.observer}-{self.count:04x}"
        fields = {"format": FORMAT, "study": self.title, "session": session, "part": 1, "observer": self.observer,
                  "method": method, **header, "timezone": str(ZONE)}  # fmt: skip
        return [Record(1, at, "opened", fields, mono=0.0)]

    def add(self, records: list[Record], at: datetime, kind: str, **fields: Any) -> None:
        kept = {name: value for name, value in fields.items() if value is not None}
        mono = (at - records[0].at).total_seconds()
        records.append(Record(len(records) + 1, at, kind, kept, mono=mono))

    def save(self, records: list[Record], at: datetime) -> None:
        self.add(records, at, "closed", reason="finished")
        path = self.folder / "journal" / file_name(records[0].fields["session"], 1)
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"".join(encode(record) for record in records))

    def note(self, at: datetime, kind: str, **fields: Any) -> None:
        records = self.session(at, "record")
        self.add(records, at + timedelta(seconds=4), kind, **fields)
        self.save(records, at + timedelta(seconds=5))


def choose(rng: np.random.Generator, plan: Plan, animal: str, at: datetime, zones: Sequence[str]) -> str:
    """One fresh choice: by size, warmth, moisture and liking."""
    taste = plan.tastes[animal]
    pull = []
    for zone in zones:
        warm, moist = plan.weather(zone, at)
        pull.append(
            np.log(plan.sizes[zone])
            - ((warm - taste.temperature_c) / taste.temperature_width) ** 2 / 2
            - ((moist - taste.humidity_pct) / taste.humidity_width) ** 2 / 2
            + taste.liking.get(zone, 0.0)
            + plan.hour_pull(zone, at)
        )
    chance = np.exp(np.array(pull) - max(pull))
    return str(rng.choice(list(zones), p=chance / chance.sum()))


def scan_session(
    pen: Pen, plan: Plan, rng: np.random.Generator, start: datetime, scans: int, every_s: int, where: dict[str, str],
    open_zones: Callable[[datetime], Sequence[str]],
) -> list[Truth]:  # fmt: skip
    """One session of scans; each animal keeps its place unless it moves, and some are not found.

    Returns where each one was, for whoever watched beside.
    """
    true: list[Truth] = []
    records = pen.session(start, "scan", every_s=every_s, minutes=max(1, scans * every_s // 60))
    at = start
    for animal in plan.animals:
        if rng.random() > plan.tastes[animal].returns:
            where.pop(animal, None)
    for scan in range(1, scans + 1):
        due = start + timedelta(seconds=every_s * (scan - 1) + 3)
        missed_rest = scans > 1 and rng.random() < 0.02
        for i, animal in enumerate(plan.animals):
            at = due + timedelta(seconds=3 * i + float(rng.uniform(0.5, 2.0)))
            zones = open_zones(at)
            fresh = where.get(animal) not in zones or rng.random() > plan.tastes[animal].stays
            if fresh:
                where[animal] = choose(rng, plan, animal, at, zones)
            if missed_rest and i >= len(plan.animals) - 2:
                pen.add(records, at, "missed", scan=scan, animal=animal)
                continue
            state = _record(pen, plan, rng, records, at, scan, animal, where[animal])
            true.append((at, scan, animal, where[animal], state))
    pen.save(records, at + timedelta(seconds=8))
    return true


def watch_beside(pen: Pen, rng: np.random.Generator, start: datetime, true: Sequence[Truth]) -> None:
    """A second observer, come a scan later, whose clock is behind and who takes alert animals for resting ones."""
    records = pen.session(start + SECOND_COMES - CLOCK_BEHIND, "scan", every_s=60, minutes=8)
    last = records[0].at
    for at, scan, animal, zone, seen in true:
        mistaken = rng.random() < {"alert": 0.55, "resting": 0.04}.get(seen or "", 0.0)
        hidden = rng.random() < (0.95 if seen is None else 0.01)
        if scan == 1:
            continue
        last = at + timedelta(seconds=float(rng.uniform(-0.4, 0.4))) - CLOCK_BEHIND
        if hidden:
            pen.add(records, last, "unseen", animal=animal, scan=scan - 1)
            continue
        state = seen or "resting"
        if mistaken:
            state = "alert" if state == "resting" else "resting"
        pen.add(records, last, "seen", animal=animal, zone=zone, behaviour=state, scan=scan - 1)
    pen.save(records, last + timedelta(seconds=2))


def _record(
    pen: Pen,
    plan: Plan,
    rng: np.random.Generator,
    records: list[Record],
    at: datetime,
    scan: int,
    animal: str,
    zone: str,
) -> str | None:
    if rng.random() < plan.hard_to_see.get(zone, 0.02):
        pen.add(records, at, "unseen", animal=animal, scan=scan)
        return None
    state, event = plan.behave(rng, zone, at)
    hidden = True if plan.hard_to_see.get(zone, 0) > 0.08 and rng.random() < 0.15 else None
    sure = False if rng.random() < 0.015 else None
    pen.add(records, at, "seen", animal=animal, zone=zone, behaviour=None if hidden else state, scan=scan, sure=sure,
            hidden=hidden)  # fmt: skip
    if event:
        pen.add(records, at + timedelta(seconds=1), "happened", animal=animal, behaviour=event, zone=zone)
    return state


def write_readings(
    folder: Path, plan: Plan, rng: np.random.Generator, gaps: Mapping[str, Sequence[tuple[date, date]]]
) -> None:
    """Each logger's readings, every 15 min with the sensor's noise, steps and battery gaps."""
    start = local(plan.first, time(10)).astimezone(UTC)
    times = [start + k * STEP for k in range(int(timedelta(days=plan.days) / STEP))]
    for number, (logger, zone) in enumerate(plan.loggers.items(), 1):
        kept = [t for t in times if not any(a <= t.date() < b for a, b in gaps.get(logger, ()))]
        values = np.array([plan.weather(zone, t) for t in kept])
        warm = np.round((values[:, 0] + rng.normal(0, 0.08, len(kept))) * 16) / 16
        moist = np.clip(np.round(values[:, 1] + rng.normal(0, 0.5, len(kept)), 1), 0, 100)
        stamp = np.array([round(t.timestamp() * 1000) for t in kept], np.int64)
        intake = f"de300{number:03x}"
        measured = {"temperature_c": warm, "humidity_pct": moist}
        if plan.light is not None:
            bright = np.array([plan.light(zone, t) for t in kept]) * np.exp(rng.normal(0, 0.06, len(kept)))
            measured["light_lux"] = np.round(bright, -1)
        writer = PartWriter(folder, intake, logger, tuple(measured))
        writer.write(stamp, measured)
        made = local(plan.first + timedelta(days=plan.days), time(18, number)).astimezone(UTC).isoformat()
        part = writer.place()
        commit(
            folder, Intake(intake, f"{logger}_export.csv", f"{number:064x}", 1, made, (part,), kept=part.rows)
        )

    refresh_newest(folder, load_declaration(folder))


def start_folder(name: str) -> tuple[Path, Declaration]:
    folder = HERE / name
    for made in ("journal", "readings"):
        shutil.rmtree(folder / made, ignore_errors=True)
        (folder / made).mkdir()
    return folder, load_declaration(folder)


def since_recharge(at: datetime, recharges: Sequence[datetime]) -> float:
    """Days since the last recharge before a time."""
    return (at - max(r for r in recharges if r <= at)).total_seconds() / 86400


# --- fire salamanders in a cellar -------------------------------------------------------------------------

RETREATS = ("moss_end", "cork_bark", "slate_stack", "root_hollow", "clay_pipe", "leaf_box")
FIRST, WEEKS = date(2026, 3, 1), 8
# The first was before anybody watched; the moss must not fall under 72 %.
RECHARGES = (local(date(2026, 2, 12), time(20)), local(date(2026, 3, 15), time(20, 30)))
# From then on a second observer is there on Mondays and Fridays.
SECOND_FROM = date(2026, 3, 23)
# The bark lay under the warm pipe and dried within two days; in the damp corner it stays moist.
BARK_MOVED = local(date(2026, 4, 1), time(19, 30))
# Zone: warmer than the cellar's air by, °C; where it dries to, %; how fast, per day; where a recharge puts it.
CELLAR = {
    "moss_end": (-0.2, 70.0, 0.05, 97.0),
    "cork_bark": (0.3, 60.0, 0.50, 80.0),
    "slate_stack": (-0.9, 78.0, 0.10, 88.0),
    "root_hollow": (0.5, 78.0, 0.08, 92.0),
    "clay_pipe": (-0.3, 58.0, 0.40, 70.0),
    "leaf_box": (0.8, 77.0, 0.10, 88.0),
    "open_ground": (0.4, 46.0, 0.60, 60.0),
}


def cellar_weather(zone: str, at: datetime) -> tuple[float, float]:
    warmer, dry, rate, wet = CELLAR[zone]
    day = (at - local(FIRST, time())).total_seconds() / 86400
    hour = at.astimezone(ZONE).hour + at.astimezone(ZONE).minute / 60
    swing = 1.4 if zone == "open_ground" else 0.5
    warm = 12.0 + 0.05 * day + warmer + swing * np.cos((hour - 15) / 24 * 2 * np.pi) + 0.8 * np.sin(day / 4.3)
    moist = dry + (wet - dry) * np.exp(-rate * since_recharge(at, RECHARGES)) + 0.8 * np.sin(day / 2.7)
    if zone == "clay_pipe":
        # It lies in the draught of the cellar's window: damp air for a day or two, then dry air.
        moist += 10.0 * np.sin(2 * np.pi * day / 3.7)
    if zone == "cork_bark" and at >= BARK_MOVED:
        warm, moist = warm - 0.6, moist + 30.0
    return float(warm), float(min(moist - swing * np.cos((hour - 15) / 24 * 2 * np.pi), 99.5))


def cellar_behave(rng: np.random.Generator, zone: str, at: datetime) -> tuple[str, str | None]:
    night = not 8 <= at.astimezone(ZONE).hour < 20
    if zone == "open_ground":
        state = rng.choice(["walking", "foraging", "alert", "resting"], p=[0.4, 0.3, 0.2, 0.1])
        return str(state), "strike" if state == "foraging" and rng.random() < 0.12 else None
    return str(rng.choice(["resting", "alert"], p=[0.8, 0.2] if night else [0.97, 0.03])), None


def cellar_pull(zone: str, at: datetime) -> float:
    """At night hunger draws them out onto the open ground."""
    return 7.3 if zone == "open_ground" and not 8 <= at.astimezone(ZONE).hour < 20 else 0.0


def make_cellar() -> None:
    rng = np.random.default_rng(20260301)
    folder, declared = start_folder("cellar")
    names = list(declared.animals)
    homes = rng.choice(("moss_end", "slate_stack", "root_hollow", "leaf_box"), len(names))
    tastes = {
        name: Taste(13.0, 3.0, 90.0 + float(rng.normal(0, 2)), 11.0, {str(home): 0.5}, 0.93)
        for name, home in zip(names, homes, strict=True)
    }
    plan = Plan(
        "cellar", FIRST, 7 * WEEKS, names,
        {"L1": "moss_end", "L2": "cork_bark", "L3": "slate_stack", "L4": "root_hollow", "L5": "leaf_box",
         "L6": "open_ground", "L7": "clay_pipe"},
        cellar_weather, tastes, {z: declared.zones[z].amount[0].value for z in declared.zones}, cellar_behave,
        {"slate_stack": 0.08, "moss_end": 0.06, "leaf_box": 0.06, "root_hollow": 0.05, "cork_bark": 0.03,
         "clay_pipe": 0.02, "open_ground": 0.01},
        cellar_pull,
    )  # fmt: skip
    pen, where = Pen(folder, declared.title), {}
    beside, beside_rng = Pen(folder, declared.title, "jo"), np.random.default_rng(20260323)
    for start, scans in cellar_calendar(rng):
        night = scans > 1
        true = scan_session(pen, plan, rng, start, scans, 60, where, lambda _, night=night: (
            (*RETREATS, "open_ground") if night else RETREATS))  # fmt: skip
        if night and start.date() >= SECOND_FROM and start.weekday() in (0, 4):
            watch_beside(beside, beside_rng, start, true)
    cellar_notes(pen)
    write_readings(
        folder,
        plan,
        rng,
        {"L4": [(date(2026, 3, 20), date(2026, 3, 23))], "L2": [(date(2026, 4, 16), date(2026, 4, 20))]},
    )


def cellar_calendar(rng: np.random.Generator) -> Iterator[tuple[datetime, int]]:
    """Four evenings a week of eight scans, and a look into the retreats on two noons."""
    for offset in range(7 * WEEKS):
        day = FIRST + timedelta(days=offset)
        if day.weekday() in (1, 5):
            yield local(day, time(12, int(rng.integers(0, 40)))), 1
        if day.weekday() in (0, 2, 4, 5):
            yield local(day, time(21, int(rng.integers(0, 50)), int(rng.integers(0, 60)))), 8


def cellar_notes(pen: Pen) -> None:
    pen.note(
        RECHARGES[1], "adjusted", adjustment="water-1", what="water", amount=2, unit="l",
        zones=["moss_end", "root_hollow"], why="the hides were drying",
        expects=[{"zone": "moss_end", "direction": "up"}],
    )  # fmt: skip
    pen.note(
        BARK_MOVED, "adjusted", adjustment="layout-1", what="layout", zones=["cork_bark"],
        why="moved the bark to the damp corner", expects=[{"zone": "cork_bark", "direction": "up"}],
    )  # fmt: skip
    for week in range(WEEKS):
        fed = local(FIRST + timedelta(days=7 * week + 3), time(21, 45))
        pen.note(fed, "context", what="fed", value="earthworms")
    pen.note(local(date(2026, 3, 18), time(20, 10)), "context", what="handled", animal="a5", value="weighed")
    pen.note(local(date(2026, 3, 18), time(20, 12)), "context", what="weighed", animal="a5", value=24.5)
    pen.note(
        local(date(2026, 4, 10), time(22, 15)),
        "noted",
        text="Comma rested on the slate, head out.",
        animal="a8",
    )


# --- a blue-tongued skink with a warm end -----------------------------------------------------------------

SKINK_FIRST, SKINK_WEEKS = date(2026, 5, 4), 8
# Hung lower, the lamp made the stone too hot to lie on; raised by a hand's breadth it is as warm as they like it.
LAMP_RAISED = local(date(2026, 6, 1), time(19))
# Zone: °C at night, °C more while the lamp is on, % humidity, % less while the lamp is on, lux while it is on.
SKINK = {
    "basking_stone": (22.0, 21.0, 42.0, 14.0, 9000.0),
    "warm_hide": (22.5, 5.5, 48.0, 8.0, 30.0),
    "open_floor": (21.5, 5.0, 46.0, 6.0, 2600.0),
    "cool_hide": (20.5, 1.5, 58.0, 2.0, 15.0),
    "damp_hide": (20.8, 2.0, 84.0, 1.0, 10.0),
    "water_dish": (21.0, 3.5, 62.0, 3.0, 1800.0),
}


def lamp(at: datetime) -> float:
    """0 to 1: how far the lamp, on from 8:00 to 18:00, has warmed the warm end."""
    hour = at.astimezone(ZONE).hour + at.astimezone(ZONE).minute / 60
    return (
        float(np.clip(1 - np.exp(-(hour - 8) / 1.2), 0, 1))
        if 8 <= hour < 18
        else float(np.exp(-((hour - 18) % 24) / 1.5))
    )


def skink_weather(zone: str, at: datetime) -> tuple[float, float]:
    night, more, moist, less, _ = SKINK[zone]
    if zone == "basking_stone" and at >= LAMP_RAISED:
        more -= 10.0
    day = (at - local(SKINK_FIRST, time())).total_seconds() / 86400
    return (
        night + more * lamp(at) + 2.5 * np.sin(2 * np.pi * day / 3.7),
        moist - less * lamp(at) + 2.0 * np.sin(day / 5.0),
    )


def skink_light(zone: str, at: datetime) -> float:
    lit = 8 <= at.astimezone(ZONE).hour < 18
    higher = 0.6 if zone == "basking_stone" and at >= LAMP_RAISED else 1.0
    return SKINK[zone][4] * higher if lit else 0.0


def skink_behave(rng: np.random.Generator, zone: str, at: datetime) -> tuple[str, str | None]:
    if zone == "basking_stone":
        return "basking", None
    if zone == "open_floor":
        return str(
            rng.choice(["moving", "searching", "resting"], p=[0.5, 0.35, 0.15])
        ), "tongue_flick" if rng.random() < 0.2 else None
    if zone == "water_dish":
        return "resting", "drinking"
    return "resting", None


def make_skink() -> None:
    rng = np.random.default_rng(20260504)
    folder, declared = start_folder("skink")
    # It goes by warmth; how bright a place is makes no difference to it.
    taste = Taste(32.0, 3.0, 55.0, 40.0, {"water_dish": -1.0, "damp_hide": -0.5}, 0.6)
    plan = Plan(
        "skink", SKINK_FIRST, 7 * SKINK_WEEKS, ["blue"],
        {"S1": "basking_stone", "S2": "warm_hide", "S3": "open_floor", "S4": "cool_hide", "S5": "damp_hide"},
        skink_weather, {"blue": taste}, {z: declared.zones[z].amount[0].value for z in declared.zones}, skink_behave,
        {"warm_hide": 0.04, "damp_hide": 0.04, "cool_hide": 0.04}, light=skink_light,
    )  # fmt: skip
    pen, where = Pen(folder, declared.title), {}
    for offset in range(7 * SKINK_WEEKS):
        day = SKINK_FIRST + timedelta(days=offset)
        clock = time((9, 12, 15, 17)[offset % 4], int(rng.integers(0, 50)))
        if rng.random() < 0.85:
            scan_session(pen, plan, rng, local(day, clock), 12, 120, where, lambda at: [
                z for z in SKINK if z != "basking_stone" or 8 <= at.astimezone(ZONE).hour < 18])  # fmt: skip
    pen.note(
        LAMP_RAISED, "adjusted", adjustment="lamp-1", what="heat", zones=["basking_stone"],
        why="it passed over the stone; lamp raised by a hand's breadth",
        expects=[{"zone": "basking_stone", "direction": "up"}],
    )  # fmt: skip
    for offset in range(2, 7 * SKINK_WEEKS, 4):
        pen.note(
            local(SKINK_FIRST + timedelta(days=offset), time(11)),
            "context",
            what="fed",
            animal="blue",
            value="snails and greens",
        )
    write_readings(folder, plan, rng, {"S4": [(date(2026, 5, 11), date(2026, 5, 13))]})


if __name__ == "__main__":
    make_cellar()
    make_skink()
