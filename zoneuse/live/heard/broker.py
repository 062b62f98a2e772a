"""A broker listened to over MQTT: connected again whenever it goes, acknowledged only what is on the disk."""

from __future__ import annotations

import asyncio
import json
import os
import re
import ssl
import time
import zlib
from pathlib import Path
from typing import Any

from .keeping import WAITS_S
from .listener import Listener

_ACKED, _ALERT_S = {1, 2}, 600.0


async def broker_loop(listener: Listener) -> None:
    """Connect, listen, and connect again; whatever a broker does is told and never the end."""
    from aiomqtt import MqttError

    tries, told = 0, ""
    while True:
        began = time.monotonic()
        try:
            await _connected(listener)
        except (MqttError, OSError, ValueError) as error:
            says = _refused(listener, error)
            if says != told or time.monotonic() - began > 60:
                listener.asked.say(says)
            told = says
        tries = 0 if time.monotonic() - began > 5 else tries + 1
        await asyncio.sleep(WAITS_S[min(tries, len(WAITS_S) - 1)])


def _refused(listener: Listener, error: Exception) -> str:
    """Why a broker is not listened to, and what can be done about it."""
    live, why = listener.declared.live, str(error)
    if isinstance(error, _CaError):
        return f"The authority ca = {live.ca} {why}. Trying again."
    if "certificate verify failed" in why.lower() or "CERTIFICATE_VERIFY" in why:
        found = why.rpartition("certificate verify failed:")[2].partition("(_ssl")[0].strip() or why
        return (
            f"The broker {live.broker} shows a certificate that is not trusted ({found}); nothing was said to it. "
            "Name its authority's file as ca under [live.mqtt] if you know it to be yours. Trying again."
        )
    if getattr(error, "rc", None) is not None and re.search("authori[sz]ed|user ?name|password", why, re.I):
        whose = "this name and password" if listener.asked.user else "a visitor without a name and password"
        return (
            f"The broker {live.broker} refuses {whose}. They stand in the file that [live] secrets names, or in "
            "ZONEUSE_MQTT_USER and ZONEUSE_MQTT_PASSWORD. Trying again."
        )
    if "during message iteration" in why:
        return f"The broker {live.broker} ended the connection; trying again."
    tls = " over TLS" if live.tls else ""
    shown = re.sub(r"^\[Errno -?\d+\] ", "", why) or type(error).__name__
    return f"The broker {live.broker} is not there{tls} ({shown}); trying again."


class _CaError(OSError):
    """The file of a broker's own authority cannot be used."""


def _secured(ca: str) -> ssl.SSLContext:
    """TLS that trusts this authority, or those of the machine. Raises _CaError where the file is none."""
    try:
        return ssl.create_default_context(cafile=str(Path(ca).expanduser()) if ca else None)
    except FileNotFoundError:
        raise _CaError("is not there") from None
    except (OSError, ValueError) as error:
        raise _CaError(f"cannot be read as a certificate ({type(error).__name__})") from None


def _identity(listener: Listener) -> str:
    """The same for a study on a machine, so that the broker keeps for it what it missed."""
    where = f"{os.uname().nodename if hasattr(os, 'uname') else ''}|{listener.declared.folder.resolve()}"
    return f"zoneuse-{zlib.crc32(where.encode()):08x}"


async def _connected(listener: Listener) -> None:
    from aiomqtt import Client

    live, asked = listener.declared.live, listener.asked
    context = _secured(live.ca) if live.tls else None
    client = Client(
        live.broker, live.port, username=asked.user, password=asked.password, identifier=_identity(listener),
        clean_session=False, tls_context=context, keepalive=30,
    )  # fmt: skip
    inner = client._client  # acknowledging by hand is not in the library's own words
    inner.manual_ack_set(True)
    fresh = asyncio.Event()

    def came(_: Any, __: Any, message: Any) -> None:
        def ack() -> None:
            if message.qos in _ACKED:
                inner.ack(message.mid, message.qos)

        number = message.mid if message.qos in _ACKED else 0
        listener.take_message(message.topic, message.payload, ack, retained=bool(message.retain), number=number,
                              again=bool(message.dup))  # fmt: skip
        fresh.set()

    usual = inner.on_connect

    def answered(one: Any, data: Any, flags: Any, *rest: Any) -> None:
        listener.connected(bool(flags.session_present))
        usual(one, data, flags, *rest)

    inner.on_message, inner.on_connect = came, answered
    async with client:
        for heard in live.topics:
            await client.subscribe(heard.topic, qos=1)
        asked.say(f"Listening to {live.broker}, {len(live.topics)} topic{'s' * (len(live.topics) != 1)}.")
        tasks = [asyncio.create_task(_until_gone(client)), asyncio.create_task(_write_loop(listener, fresh))]
        if asked.alerts is not None and live.publish:
            tasks.append(asyncio.create_task(_publish_loop(listener, client)))
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            # While the connection stands it can still be told what is on the disk.
            listener.write_all()
            listener.gone()


async def _until_gone(client: Any) -> None:
    async for _ in client.messages:  # ours come by the callback; this ends with the connection
        pass


async def _write_loop(listener: Listener, fresh: asyncio.Event) -> None:
    while True:
        await fresh.wait()
        fresh.clear()
        while listener.waiting:
            if not listener.write() and listener.waiting:
                await asyncio.sleep(1.0)
            await asyncio.sleep(0)


async def _publish_loop(listener: Listener, client: Any) -> None:
    """What needs the keeper, whenever it has changed."""
    said = ""
    while True:
        assert listener.asked.alerts is not None
        try:
            found = await asyncio.to_thread(listener.asked.alerts)
        except Exception as error:  # an answer that cannot be given is itself worth knowing
            found = {"needs": [], "cannot_tell": [f"{type(error).__name__}: {error}"]}
        text = json.dumps(found, ensure_ascii=False)
        if text != said:
            body = {"at": listener.asked.wall().isoformat(timespec="seconds"), **found}
            topic = listener.declared.live.publish
            await client.publish(topic, json.dumps(body, ensure_ascii=False), qos=1, retain=True)
            said = text
        await asyncio.sleep(_ALERT_S)
