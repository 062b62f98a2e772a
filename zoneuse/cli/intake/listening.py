"""`zoneuse listen`: readings as they come."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
import time
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ...study import Declaration, Span, fault
from ..narration import say, say_wrapped, tell
from ..options import study_option, wall_clock

if TYPE_CHECKING:
    from ...live.heard import Listener


@click.command(epilog="Example:  zoneuse listen --study my-study")
@click.option("--publish", metavar="TOPIC", help="Put what needs you today on this MQTT topic.")
@click.option("--for", "seconds", type=float, metavar="SECONDS", help="Stop after this long.")
@study_option
def listen(*, publish: str | None, seconds: float | None, folder: Path) -> None:
    """Listen for readings: MQTT topics and BTHome adverts that study.toml names. Ctrl-C stops and takes them in.

    Each reading is on the disk before it is acknowledged. Names and passwords come from the file that [live] secrets
    names, outside the study, or from ZONEUSE_MQTT_USER and ZONEUSE_MQTT_PASSWORD.
    """
    from ...live.heard import Listener, ListenOptions
    from ...study import load_declaration

    declared = load_declaration(folder)
    live = declared.live
    if not live.broker and not live.adverts:
        raise fault("nothing-to-hear", folder / "study.toml", "live", "names no broker and no adverts",
                    "[live.mqtt] with broker and topics, or [live.bthome]", remedy="See docs/live.md")  # fmt: skip
    _need(live.broker != "", live.adverts)
    if publish is not None:
        declared = replace(declared, live=replace(live, publish=publish))
    if declared.live.publish and not live.broker:
        raise click.UsageError("--publish needs a broker: [live.mqtt] broker in study.toml")
    user, password, keys = secrets_of(declared)
    asked = ListenOptions(
        wall_clock, time.monotonic, lambda text: _line(declared, text),
        (lambda: needs(folder)) if declared.live.publish else None, user, password, keys,
    )  # fmt: skip
    with _alone(folder):
        asyncio.run(_listen(Listener(declared, asked), seconds))


def _line(declared: Declaration, text: str) -> None:
    say_wrapped(f"{wall_clock().astimezone(declared.timezone):%H:%M:%S}  {text}")


def _need(broker: bool, adverts: bool) -> None:
    from importlib.util import find_spec

    for wanted, module in ((broker, "aiomqtt"), (adverts, "bleak"), (adverts, "cryptography")):
        if wanted and find_spec(module) is None:
            raise fault("not-installed", module, "", "is not installed", "what listening needs",
                        remedy="pip install 'zoneuse[live]'")  # fmt: skip


def secrets_of(declared: Declaration) -> tuple[str | None, str | None, dict[str, bytes]]:
    """User, password and devices' keys, from the file outside the study and the environment (which goes first)."""
    said: dict[str, Any] = {}
    if declared.live.secrets:
        path = Path(declared.live.secrets).expanduser()
        try:
            said = tomllib.loads(path.read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise fault(
                "secrets", path, "", f"cannot be read ({type(error).__name__})",
                'a TOML file with [mqtt] user = "…", password = "…"', remedy="Write it, or name none in study.toml",
            ) from None  # fmt: skip
    mqtt = said.get("mqtt", {})
    keys = {}
    for address, text in said.get("bthome", {}).items():
        with contextlib.suppress(ValueError, TypeError):
            if len(key := bytes.fromhex(text)) == 16:
                keys[address.upper()] = key
                continue
        raise fault(
            "key",
            Path(declared.live.secrets),
            f"bthome.{address}",
            "is no key",
            "32 hex digits",
            remedy="Correct it",
        )
    user = os.environ.get("ZONEUSE_MQTT_USER") or mqtt.get("user")
    return user, os.environ.get("ZONEUSE_MQTT_PASSWORD") or mqtt.get("password"), keys


def needs(folder: Path) -> dict[str, Any]:
    """What needs the keeper today, and what cannot be told, as `climate --alert` has it."""
    from ...answers.study import Study

    now = wall_clock()
    answer = Study(folder).climate(now=now, clock=now)
    return {
        "needs": answer.parts["alerts"]["why"].tolist(),
        "cannot_tell": answer.parts["untold"]["why"].tolist(),
    }


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One listener to a study: two would each write what both hear. The system lets go of it with the process."""
    try:
        import fcntl
    except ImportError:  # Windows: told in docs/live.md
        yield
        return
    handle = os.open(folder / "study.toml", os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        raise fault("listening", folder, "", "another `zoneuse listen` is running here", "one to a study",
                    remedy="Stop the other one first") from None  # fmt: skip
    try:
        yield
    finally:
        os.close(handle)


async def _listen(listener: Listener, seconds: float | None) -> None:
    from ...live.heard import listen

    until = asyncio.Event()
    loop = asyncio.get_running_loop()
    for name in ("SIGINT", "SIGTERM"):
        with contextlib.suppress(NotImplementedError, AttributeError):
            loop.add_signal_handler(getattr(signal, name), until.set)
    if seconds is not None:
        loop.call_later(seconds, until.set)
    with _keys(loop, Keys(listener, until)):
        await listen(listener, until)
    heard = sum(source.count for source in listener.sources.values())
    tell(f"Stopped; heard {heard:,} messages of {len(listener.sources)} sources.")


# A key for each logger that a heard thing may be.
_CHOICES = "123456789abcdefghijklmnopqrstuvwxyz"


def _told(source: Any) -> str:
    """One line of what is heard: who it is, what it said, how often."""
    who = source.logger or ("unknown" + (f" (press {source.key})" if source.key else ""))
    often = "once" if source.count == 1 else f"{source.count:,} times"
    return f"{source.name}: {who}, {source.says or source.trouble or 'nothing to read'}, {often}"


class Keys:
    """What a key does: ? shows what is heard, q stops, a source's key and then a number says which logger it is."""

    def __init__(self, listener: Listener, until: asyncio.Event) -> None:
        self.listener, self.until = listener, until
        self._name = ""

    def press(self, key: str) -> None:
        """One key."""
        say_ = self.listener.asked.say
        loggers = list(self.listener.declared.loggers)
        if self._name:
            name, self._name = self._name, ""
            if key in _CHOICES[: len(loggers)]:
                self._bind(name, loggers[_CHOICES.index(key)])
            else:
                say_(f"{name} stays unknown.")
            return
        if key == "q":
            self.until.set()
        elif key == "?":
            for source in self.listener.sources.values():
                say_(_told(source))
            if not self.listener.sources:
                say_("Nothing heard yet.")
        elif found := next(
            (s for s in self.listener.sources.values() if s.key == key and not s.logger), None
        ):
            self._name = found.name
            each = "  ".join(f"{k} {self._named(name)}" for k, name in zip(_CHOICES, loggers, strict=False))
            say_(f"{found.name} is which logger?  {each}")

    def _named(self, logger: str) -> str:
        """A logger with the zone it lies in now, as that is how it is known."""
        declared = self.listener.declared
        now = self.listener.asked.wall()
        for place in declared.loggers[logger].placed:
            if Span(place.start, place.until).holds(now):
                return f"{logger} ({declared.zones[place.zone].label})"
        return logger

    def _bind(self, name: str, logger: str) -> None:
        from ...live.heard import bind
        from ...study import ProblemError

        try:
            bind(self.listener, name, logger)
        except (ProblemError, OSError) as error:
            self.listener.asked.say(f"{name} could not be written to study.toml: {error}")


@contextlib.contextmanager
def _keys(loop: asyncio.AbstractEventLoop, keys: Keys) -> Iterator[None]:
    """Keys as they are pressed, where there is a terminal."""
    if not sys.stdin.isatty():
        yield
        return
    try:
        import termios
        import tty
    except ImportError:
        yield
        return
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)

    def press() -> None:
        keys.press(os.read(handle, 1).decode("ascii", "replace"))

    tty.setcbreak(handle)
    loop.add_reader(handle, press)
    say("?: what is heard.  q: stop and take it in.")
    try:
        yield
    finally:
        loop.remove_reader(handle)
        termios.tcsetattr(handle, termios.TCSADRAIN, before)
