"""The real protocol, with a broker in another process: QoS 1, a broker that goes, ten thousand messages, alerts."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
import time
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from zoneuse.cli.intake.listening import needs
from zoneuse.live.heard import Listener, listen
from zoneuse.live.heard.bthome import UUID
from zoneuse.readings.store import intakes, read

from .broker import MOSQUITTO, Broker
from .hearing import listener_at
from .kill import killed

aiomqtt = pytest.importorskip("aiomqtt")
pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto: apt-get install mosquitto")


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    one = Broker(tmp_path)
    yield one
    one.end()


@contextlib.asynccontextmanager
async def listening(one: Listener) -> AsyncIterator[None]:
    until = asyncio.Event()
    task = asyncio.create_task(listen(one, until))
    try:
        yield
    finally:
        until.set()
        await task


async def until(what: object, seconds: float = 60.0) -> None:
    assert callable(what)
    end = time.monotonic() + seconds
    while not what() and time.monotonic() < end:
        await asyncio.sleep(0.02)
    assert what()


def quiet(one: Listener) -> Listener:
    one.declared = replace(one.declared, live=replace(one.declared.live, adverts=False, devices={}))
    return one


@pytest.mark.parametrize("many", [300, pytest.param(10_000, marks=pytest.mark.calibration)])
async def test_every_message_once_though_the_broker_goes(tmp_path: Path, broker: Broker, many: int) -> None:
    study, half = tmp_path / "s", many // 2
    one, _, said = listener_at(study, broker.port)
    async with listening(quiet(one)):
        await until(lambda: any("Listening to" in line for line in said))
        for first in (0, half):
            async with aiomqtt.Client("127.0.0.1", broker.port) as sender:
                for i in range(first, first + half):
                    at = 1_772_640_000 + i
                    await sender.publish("timed/bark", json.dumps({"values": [i / 100], "at": at}), qos=1)
            await until(lambda n=first + half: len(read(study, "L2").times) == n)
            if first == 0:
                broker.end()
                await until(lambda: any("is not there" in line for line in said))
                broker.begin()
                await until(lambda: sum("Listening to" in line for line in said) == 2)
    found = read(study, "L2")
    assert len(found.times) == many and found.values["temperature_c"].tolist() == [
        i / 100 for i in range(many)
    ]
    assert all(not i.id.startswith("~") for i in intakes(study)[0])  # committed on stop


async def test_what_was_sent_while_nobody_listened_comes_with_the_next_start(
    tmp_path: Path, broker: Broker
) -> None:
    study = tmp_path / "s"
    for turn in (0, 1):
        one, clocks, said = listener_at(study, broker.port)
        clocks.go(100 * turn)
        async with listening(quiet(one)):
            await until(lambda lines=said: any("Listening to" in line for line in lines))
            await until(lambda n=turn: len(read(study, "L2").times) == 5 * n)
        async with aiomqtt.Client("127.0.0.1", broker.port) as sender:
            for i in range(5 if turn == 0 else 0):
                await sender.publish(
                    "timed/bark", json.dumps({"values": [i], "at": 1_772_640_000 + i}), qos=1
                )
    assert read(study, "L2").values["temperature_c"].tolist() == [0, 1, 2, 3, 4]


async def test_retained_messages_are_not_readings_and_alerts_arrive(tmp_path: Path, broker: Broker) -> None:
    study = tmp_path / "s"
    one, _, _ = listener_at(study, broker.port)
    one.asked.alerts = lambda: needs(study)
    async with aiomqtt.Client("127.0.0.1", broker.port) as sender:
        await sender.publish("home/a/moss", json.dumps({"air": {"t": 1.0}}), qos=1, retain=True)
        await sender.subscribe("keeper/needs")
        async with listening(quiet(one)):
            message = await asyncio.wait_for(anext(sender.messages), 20)
            told = json.loads(message.payload)
            assert set(told) == {"at", "needs", "cannot_tell"} and told["cannot_tell"]
    assert len(read(study, "L1").times) == 0


async def test_an_advert_is_kept_and_a_scan_that_fails_is_begun_again(tmp_path: Path) -> None:
    study = tmp_path / "s"
    one, _, said = listener_at(study, 1)
    one.declared = replace(one.declared, live=replace(one.declared.live, broker=""))
    tries = []

    async def scan(take: object) -> None:
        assert callable(take)
        tries.append(1)
        if len(tries) == 1:
            raise RuntimeError("no radio")
        take("a4:c1:38:00:11:22", bytes.fromhex("4002c40903bf13"))
        await asyncio.sleep(60)

    one.asked.scan = scan
    async with listening(one):
        await until(lambda: len(read(study, "L2").times) == 1)
    assert "no radio" in "\n".join(said) and read(study, "L2").values["humidity_pct"].tolist() == [50.55]


async def test_the_machines_own_radio_by_an_adapter_made_up_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """bleak's own scanner is never run here: no radio was to be had. This one has its shape."""
    from types import SimpleNamespace

    study = tmp_path / "s"
    one, clocks, said = listener_at(study, 1)
    one.declared = replace(one.declared, live=replace(one.declared.live, broker=""))
    begun: list[object] = []

    class Scanner:
        def __init__(self, found: object) -> None:
            self.found = found

        async def __aenter__(self) -> None:
            begun.append(self)
            assert callable(self.found)
            device = SimpleNamespace(address="A4:C1:38:00:11:22")
            self.found(device, SimpleNamespace(service_data={UUID: bytes.fromhex("40000902c409")}))
            self.found(device, SimpleNamespace(service_data={"another": b"1"}))
            self.found(device, SimpleNamespace(service_data={UUID: bytes.fromhex("40000902c409")}))
            clocks.go(301)  # and then nothing at all

        async def __aexit__(self, *_: object) -> None:
            pass

    monkeypatch.setitem(sys.modules, "bleak", SimpleNamespace(BleakScanner=Scanner))
    async with listening(one):
        await until(lambda: len(begun) == 2)
    assert read(study, "L2").values["temperature_c"].tolist() == [25.0, 25.0]  # 301 s apart: another packet
    assert "The radio has heard nothing for a while; its scan is begun again." in said


@pytest.mark.parametrize("kills", [1, pytest.param(200, marks=pytest.mark.calibration)])
def test_killed_at_any_instant_every_message_counts_once(tmp_path: Path, kills: int) -> None:
    sent, _ = killed(tmp_path, kills, 3)
    assert sent > kills
