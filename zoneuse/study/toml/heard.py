"""What is heard as it is measured: ``[live.mqtt]`` and ``[live.bthome]`` in study.toml."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from ..model import Declaration, Heard, Live
from ..quantities import QUANTITIES
from .fields import Notes, Table

# A step into a payload: a name, a quoted name, or a number in a list.
PATH = re.compile(r"\$(?:\.[^.\[\]\s]+|\[\d{1,4}\]|\['[^']+'\])*")
_PATH_FORM = 'a path into the payload such as "$.air.temperature" or "$.values[0]"; "$" is the payload itself'
FAHRENHEIT = "temperature_f"
_ADDRESS = re.compile(r"[0-9A-Fa-f]{2}(:[0-9A-Fa-f]{2}){5}|[0-9A-Fa-f-]{36}")
_SECRET = ("user", "username", "password", "token", "key", "keys")


def live(table: Table | None) -> Live:
    """``[live]``: a broker and its topics, devices that advertise, and where alerts go."""
    if table is None:
        return Live()
    mqtt, bthome = table.table("mqtt"), table.table("bthome")
    read = _devices(_broker(Live(secrets=table.text("secrets")), mqtt), bthome)
    table.done(must_count=True)
    return read


def _no_secrets(table: Table) -> None:
    for key in _SECRET:
        if key in table.values:
            table.asked.add(key)
            table.notes.fault(
                "secret", table.at(key), "is a secret, and a study is given away", "no secrets in study.toml",
                'Put it into a file outside the study and name that: [live] secrets = "~/zoneuse-secrets.toml"',
            )  # fmt: skip


def _broker(read: Live, table: Table | None) -> Live:
    if table is None:
        return read
    _no_secrets(table)
    tls = bool(table.flag("tls"))
    read = replace(
        read,
        broker=table.text("broker", True, expected="the broker's name or address"),
        port=table.whole("port", 8883 if tls else 1883, most=65_535),
        tls=tls,
        ca=table.text("ca"),
        publish=table.text("publish"),
        topics=tuple(_heard(name, inner) for name, inner in table.named("topics").items()),
    )
    table.done(must_count=True)
    return read


def _heard(topic: str, table: Table) -> Heard:
    parts = topic.split("/")
    if not topic or "#" in parts[:-1] or any(len(p) > 1 and ("#" in p or "+" in p) for p in parts):
        table.notes.fault(
            "topic", table.place, "is no topic", "a topic or filter such as home/+/moss", "Correct it there"
        )
    values = {}
    for quantity in (*QUANTITIES, FAHRENHEIT):
        if path := _path(table, quantity):
            values[quantity] = path
    read = Heard(topic, table.text("logger"), values, _path(table, "at"))
    if not values:
        table.notes.fault("missing", table.place, "no quantity is read from it", 'temperature_c = "$.temperature"',
                          f"Add one of {', '.join((*QUANTITIES, FAHRENHEIT))}")  # fmt: skip
    table.done(must_count=True)
    return read


def _path(table: Table, key: str) -> str:
    text = table.text(key, expected=_PATH_FORM)
    if text and not PATH.fullmatch(text):
        table.wrong(key, text, _PATH_FORM)
        return ""
    return text


def _devices(read: Live, table: Table | None) -> Live:
    if table is None:
        return read
    _no_secrets(table)
    devices = {}
    inner = table.table("devices")
    for address in inner.values if inner else ():
        assert inner is not None
        logger = inner.text(address, True, expected="a logger's id")
        if not _ADDRESS.fullmatch(address):
            inner.wrong(address, logger, 'a device\'s address such as "A4:C1:38:00:11:22"')
        devices[address.upper()] = logger
    table.done(must_count=True)
    return replace(read, devices=devices, adverts=True)


def check_heard(declared: Declaration, notes: Notes) -> None:
    """Loggers that topics and devices name are there; secrets lie outside the study."""
    for heard in declared.live.topics:
        if heard.logger and heard.logger not in declared.loggers:
            notes.unknown(f"live.mqtt.topics.{heard.topic}.logger", heard.logger, declared.loggers, "logger")
    for address, logger in declared.live.devices.items():
        if logger not in declared.loggers:
            notes.unknown(f"live.bthome.devices.{address}", logger, declared.loggers, "logger")
    if declared.live.secrets:
        where = Path(declared.live.secrets).expanduser()
        inside = not where.is_absolute() or where.resolve().is_relative_to(declared.folder.resolve())
        if inside:
            notes.fault("secret", "live.secrets", f"found {declared.live.secrets!r}", "a file outside the study",
                        'Write where it lies, from the root or from home: "~/zoneuse-secrets.toml"')  # fmt: skip
