"""What comes from brokers and adverts: read, told, kept, acknowledged."""

from __future__ import annotations

import zlib
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from ...readings.store import LiveRow, last_written
from ...study import QUANTITIES, Declaration, to_ms
from .adverts import Adverts
from .keeping import Keeper, Say
from .payload import heard_as, values_of

_SILENT_S, _STEP_S = 900.0, 2.0
_MOST_AT_ONCE = 500
# Away for longer, what has no time of its own would get one that is wrong by as much; a broker sends what it kept at
# once on connecting, each within so little of the last.
_AWAY_S, _BACKLOG_S, _BURST_S, _MOST_BACKLOG_S = 120.0, 2.0, 0.25, 30.0


@dataclass(slots=True)
class HeardSource:
    """A source of readings: which logger it is ("" where nobody said), when it last spoke, how often."""

    name: str
    logger: str
    last: datetime
    count: int = 0
    says: str = ""
    trouble: str = ""
    silent: bool = False
    key: str = ""
    mono: float = 0.0


@dataclass(slots=True)
class ListenOptions:
    """How to listen: the clocks, where to say things, what needs the keeper (None: not published), TLS and names."""

    wall: Callable[[], datetime]
    mono: Callable[[], float]
    say: Say
    alerts: Callable[[], dict[str, Any]] | None = None
    user: str | None = None
    password: str | None = None
    keys: dict[str, bytes] = field(default_factory=dict)
    scan: Callable[[Callable[[str, bytes], None]], Awaitable[None]] | None = None
    silent_s: float = _SILENT_S


class Listener:
    """One study listening. ``take_message`` and ``take_advert`` are what brokers and scanners call."""

    def __init__(self, declared: Declaration, asked: ListenOptions) -> None:
        self.declared, self.asked = declared, asked
        self.keeper = Keeper(declared.folder)
        self.sources: dict[str, HeardSource] = {}
        self.adverts = Adverts(asked.keys)
        self.waiting: list[tuple[LiveRow, Callable[[], None]]] = []
        # Numbers of messages begin anew where a broker has forgotten its session: packets of each are told apart.
        self.mqtt_session = self.keeper.newest_packet().rpartition("-")[0]
        self._away = last_written(declared.folder)
        self._backlog_until, self._backlog_ends, self._late = 0.0, 0.0, 0
        self._dirty = True
        self._was: tuple[datetime, float] | None = None
        if self.keeper.damaged:
            where = "; ".join(
                f"{file}, line {', '.join(map(str, n))}" for file, n in self.keeper.lines.items()
            )
            are = "line is" if self.keeper.damaged == 1 else "lines are"
            asked.say(f"{self.keeper.damaged} {are} damaged and left out ({where}); the rest is there.")

    # --- what comes -------------------------------------------------------------------------------------------

    def take_message(
        self, topic: str, payload: bytes, ack: Callable[[], None], *, retained: bool = False, number: int = 0,
        again: bool = False,
    ) -> None:  # fmt: skip
        """An MQTT message; ``ack`` is called once it is on the disk, or is nothing to keep."""
        heard = heard_as(self.declared.live.topics, topic)
        packet = f"{self.mqtt_session}-{number:04x}{zlib.crc32(topic.encode() + b'|' + payload):08x}"
        if heard is None or retained or (again and self.keeper.knows(packet)):
            ack()
            return
        values, at, trouble = values_of(heard, payload)
        source = self._source(topic, heard.logger, values, trouble)
        if not heard.logger or not values:
            ack()
            return
        if at is None and self._came_late():
            source.trouble = "waited at the broker, without a time of its own"
            self._late += 1
            ack()
            return
        row = LiveRow(
            to_ms(at or self.asked.wall()), heard.logger, values, packet if number else "", at is not None
        )
        self.waiting.append((row, ack))

    def _came_late(self) -> bool:
        """Whether a message is among those that the broker kept while nobody listened: they come one on the other."""
        mono = self.asked.mono()
        if mono > self._backlog_until:
            return False
        # Sensors that are many look like a backlog for ever: there is an end to it.
        self._backlog_until = max(self._backlog_until, min(mono + _BURST_S, self._backlog_ends))
        return True

    def gone(self) -> None:
        """The connection ended."""
        self._away = self.asked.wall()

    def connected(self, remembered: bool) -> None:
        """A broker answered; ``remembered``: it still knows what was not acknowledged, and sends that again."""
        long = self._away is not None and (self.asked.wall() - self._away).total_seconds() > _AWAY_S
        mono = self.asked.mono()
        self._backlog_ends = mono + _MOST_BACKLOG_S
        self._backlog_until = mono + _BACKLOG_S if remembered and long else 0.0
        if remembered:
            # What waits here with a number comes again: it must not be kept twice.
            self.waiting = [(row, ack) for row, ack in self.waiting if not row.packet]
        else:
            self.mqtt_session = f"{to_ms(self.asked.wall()):x}"

    def take_advert(self, address: str, data: bytes) -> None:
        """The service data of a BTHome advert."""
        address = address.upper()
        packet = self.adverts.new(address, data, self.asked.mono())
        if packet is None:
            return
        logger = self.declared.live.devices.get(address, "")
        self._source(address, logger, dict(packet.values), packet.trouble)
        if logger and packet.values:
            row = LiveRow(to_ms(self.asked.wall()), logger, packet.values, "")
            self.waiting.append((row, lambda: None))

    def _source(self, name: str, logger: str, values: dict[str, float], trouble: str) -> HeardSource:
        now = self.asked.wall()
        source = self.sources.get(name)
        says = ", ".join(
            f"{v:.{QUANTITIES[q].brief_digits}f} {QUANTITIES[q].unit}" for q, v in values.items()
        )
        if source is None:
            source = self.sources[name] = HeardSource(name, logger, now)
            if not logger:
                source.key = next((k for k in "abcdefghijklmnoprstuvwxyz" if k not in self._keys()), "")
                self.asked.say(f"{name}: {says or trouble or 'nothing to read'}; no logger of the study"
                               + (f" (press {source.key} to say which)" if source.key else ""))  # fmt: skip
            else:
                self.asked.say(f"{name}: {says or trouble or 'nothing to read'}; this is {logger}")
        if source.silent:
            source.silent = False
            self.asked.say(f"{name} ({source.logger}): heard again, {says}")
        if trouble and trouble != source.trouble:
            self.asked.say(f"{name}: {trouble}")
        source.last, source.says, source.trouble, source.logger = now, says, trouble, logger
        source.count, source.mono = source.count + 1, self.asked.mono()
        return source

    def _keys(self) -> set[str]:
        return {s.key for s in self.sources.values() if s.key and not s.logger}

    # --- what is done with it ---------------------------------------------------------------------------------

    def write(self) -> int:
        """Put on the disk what waits, then acknowledge it; a disk that refuses is told, and tried again."""
        some = self.waiting[:_MOST_AT_ONCE]
        if not some:
            return 0
        try:
            new = self.keeper.put(row for row, _ in some)
        except OSError as error:
            waiting = len(self.waiting)
            self.asked.say(
                f"The disk refuses ({error.strerror}); {waiting} readings wait, none is acknowledged."
            )
            return 0
        del self.waiting[: len(some)]
        for _, ack in some:
            ack()
        self._dirty = self._dirty or new > 0
        return new

    def write_all(self) -> None:
        """All that waits, as far as the disk takes it."""
        waiting = len(self.waiting) + 1
        while self.waiting and len(self.waiting) < waiting:
            waiting = len(self.waiting)
            self.write()

    def look_around(self) -> None:
        """What time brings: a clock that stepped, a sensor gone silent, a day that is over, the newest values."""
        now, mono = self.asked.wall(), self.asked.mono()
        if self._was is not None:
            step = (now - self._was[0]).total_seconds() - (mono - self._was[1])
            if abs(step) > _STEP_S:
                way = "forward" if step > 0 else "back"
                self.asked.say(
                    f"This machine's clock was set {way} by {abs(step):.0f} s; readings follow it."
                )
        self._was = now, mono
        for source in list(self.sources.values()):
            quiet = mono - source.mono  # a clock that was set is no silence
            if source.logger and not source.silent and quiet > self.asked.silent_s:
                source.silent = True
                told = f"silent for {quiet / 60:.0f} min; nothing is filled in"
                self.asked.say(f"{source.name} ({source.logger}): {told}.")
        if self._late and mono > self._backlog_until:
            late, self._late = self._late, 0
            self.asked.say(
                f"{late:,} messages without a time of their own had waited at the broker. When they were measured "
                'cannot be told, so they are left out. With at = "$.…" they would count.'
            )
        if self._dirty:
            self._dirty = False
            self.keeper.refresh(self.declared)
        for intake in self.keeper.commit_days(now, to_ms(now)):
            self.asked.say(f"{intake.file}: {intake.kept:,} readings taken in.")

    def stop(self) -> None:
        """Keep what waits and commit the day. What a broker sends again is known by its packet."""
        self.write_all()
        for intake in self.keeper.commit_days(self.asked.wall()):
            self.asked.say(f"{intake.file}: {intake.kept:,} readings taken in.")
        self.keeper.refresh(self.declared)


def bind(listener: Listener, name: str, logger: str) -> None:
    """Say in study.toml which logger a device or topic is. Raises ProblemError where that would be unsound."""
    from ...study import Edit, edit_study, edited

    live = listener.declared.live
    heard = heard_as(live.topics, name)
    if heard is not None:
        stands = {"logger": logger, **heard.values, **({"at": heard.at} if heard.at else {})}
        edit = Edit(("live", "mqtt", "topics", name), stands)
    else:
        edit = Edit(("live", "bthome", "devices", name), logger)
    listener.declared = edit_study(Path(listener.declared.folder), lambda text: edited(text, [edit]))
    listener.sources.pop(name, None)
    listener.asked.say(f"{name} is {logger} from now on; written to study.toml.")
