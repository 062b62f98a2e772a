"""Listen until told to stop: whatever a broker or a radio does is told, and never the end of the program."""

from __future__ import annotations

import asyncio
import contextlib
import time

from ...study import ProblemError
from .adverts import radio
from .broker import broker_loop
from .keeping import WAITS_S
from .listener import Listener

_REFRESH_S = 2.0


async def listen(listener: Listener, until: asyncio.Event) -> None:
    """Listen until told to stop, then commit."""
    tasks = [asyncio.create_task(_keep_house(listener))]
    if listener.declared.live.broker:
        tasks.append(asyncio.create_task(broker_loop(listener)))
    if listener.declared.live.adverts or listener.declared.live.devices:
        tasks.append(asyncio.create_task(_scan_loop(listener)))
    try:
        await until.wait()
    finally:
        for task in tasks:
            task.cancel()
        for task in tasks:
            with contextlib.suppress(asyncio.CancelledError, Exception):
                await task
        listener.stop()


async def _keep_house(listener: Listener) -> None:
    """Beside what comes: a slow disk or a long day must keep no broker waiting."""
    while True:
        began = time.monotonic()
        try:
            await asyncio.to_thread(listener.look_around)
        except (OSError, ProblemError) as error:
            why = error.strerror if isinstance(error, OSError) else error
            listener.asked.say(f"What was heard could not be looked through ({why}); tried again shortly.")
        # Never more than a fifth of the time, however slow the machine.
        await asyncio.sleep(max(_REFRESH_S, 4 * (time.monotonic() - began)))


async def _scan_loop(listener: Listener) -> None:
    """Adverts, by the machine's own radio or what was given; a scan that fails or ends is begun again."""
    tries = 0
    while True:
        before = len(listener.sources)
        try:
            scan = listener.asked.scan or radio(listener.asked.mono)
            await scan(lambda address, data: _advert(listener, address, data))
            listener.asked.say("The radio has heard nothing for a while; its scan is begun again.")
        except asyncio.CancelledError:
            raise
        except Exception as error:  # a radio fails in many ways, none of which may end the program
            listener.asked.say(f"No adverts are heard ({type(error).__name__}: {error}); trying again.")
        tries = 0 if len(listener.sources) > before else tries + 1
        await asyncio.sleep(WAITS_S[min(tries, len(WAITS_S) - 1)])


def _advert(listener: Listener, address: str, data: bytes) -> None:
    listener.take_advert(address, data)
    listener.write()
