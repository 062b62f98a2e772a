"""How fast the recorder opens and saves. Run: python -m tests.bench.recorder [start|keys|record|shell]

start  spawn to first usable screen in a pseudo-terminal, side by side with an empty Textual app
keys   key press to shown-as-saved in the app, beside the disk's own fsync
record a record through the session's core beside a bare append and fsync of as many bytes, by turns
shell  look, seen, note, mend from the shell
"""

from __future__ import annotations

import os
import pty
import select
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from tests.recorder.studies import make_study

EMPTY = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("READY")
Empty().run()
"""
RECORDER = (
    "import sys; sys.argv = ['zoneuse', 'watch', '--study', {study!r}]; from zoneuse.cli import main; main()"
)


def until_shown(code: str, sign: bytes) -> float:
    """Seconds from spawning Python to the first appearance of a text on the terminal."""
    started = time.monotonic()
    pid, terminal = pty.fork()
    if pid == 0:
        os.environ.update(TERM="xterm-256color", COLUMNS="80", LINES="24")
        os.execv(sys.executable, [sys.executable, "-c", code])
    seen = b""
    try:
        while sign not in seen:
            if not select.select([terminal], [], [], 20)[0]:
                raise TimeoutError(seen[-400:])
            seen += os.read(terminal, 65536)
        return time.monotonic() - started
    finally:
        os.kill(pid, 9)
        os.waitpid(pid, 0)
        os.close(terminal)


def start(rounds: int = 15) -> None:
    with tempfile.TemporaryDirectory() as folder:
        study = make_study(Path(folder) / "study")
        code = RECORDER.format(study=str(study))
        empty, ours = [], []
        for _ in range(rounds + 1):
            empty.append(until_shown(EMPTY, b"READY"))
            ours.append(until_shown(code, b"Begin"))
    a, b = statistics.median(empty[1:]), statistics.median(ours[1:])
    print(f"empty Textual app   {a:.3f} s\nzoneuse watch       {b:.3f} s\nratio               {b / a:.2f}")


def keys(presses: int = 400) -> None:
    """Key events through the app, each timed from the event's own time to the record shown as saved."""
    import asyncio

    from textual import events

    from zoneuse.recording.session.instant import Instant, read_clocks
    from zoneuse.recording.session.plan import make_plan
    from zoneuse.recording.session.recall import Recall
    from zoneuse.screens.recorder.app import RecorderApp
    from zoneuse.screens.recorder.watch import WatchScreen
    from zoneuse.study.toml.file import load_declaration

    with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_DIR")) as folder:
        study = make_study(Path(folder) / "study")
        declared = load_declaration(study)
        plan = make_plan(declared, read_clocks().at, method="focal", animals=("a1",), quiet_min=0.0)
        app = RecorderApp(plan, Recall)
        saved: list[float] = []
        syncs: list[float] = []
        real = os.fsync

        def timed(handle: int) -> None:
            before = time.perf_counter()
            real(handle)
            syncs.append(time.perf_counter() - before)

        async def run() -> None:
            async with app.run_test(size=(80, 24)) as pilot:
                await pilot.pause()
                app.open_session(plan, Instant(*_now(read_clocks)))
                app.watch_now()
                await pilot.pause()
                screen = app.screen
                assert isinstance(screen, WatchScreen)
                syncs.clear()
                for i in range(presses):
                    key = "cwbldof"[i % 7]
                    event = events.Key(key, key)
                    before = app.core.saved if app.core else 0
                    app.post_message(event)
                    while app.core is not None and app.core.saved == before:
                        assert time.monotonic() - event.time < 5, app.core.notice
                        await asyncio.sleep(0)
                    # The screen's new state is composed: wait for the write that shows it.
                    await asyncio.sleep(0)
                    screen._compositor_refresh()
                    saved.append(time.monotonic() - event.time)

        os.fsync = timed
        try:
            asyncio.run(run())
        finally:
            os.fsync = real
    print(f"key to shown as saved  median {_ms(saved, 50)}  p99 {_ms(saved, 99)}")
    print(f"the disk's own fsync   median {_ms(syncs, 50)}  p99 {_ms(syncs, 99)}")


def record(times: int = 1500, rounds: int = 5) -> None:
    """Both write to one disk in turns, so that whatever else it does meets both alike."""
    from tests.recorder.driver import drive
    from zoneuse.recording.session.instant import read_clocks

    ratios = []
    for _ in range(rounds):
        with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_DIR")) as folder:
            d = drive(Path(folder), method="ad-libitum")
            bare = os.open(Path(folder) / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
            appended, recorded = [], []
            for i in range(times):
                began = time.perf_counter()
                os.write(bare, b"x" * 190 + b"\n")
                os.fsync(bare)
                appended.append(time.perf_counter() - began)
                now = read_clocks()
                d.core.press("1", now)
                d.core.press("cwbldof"[i % 7], now)
                began = time.perf_counter()
                d.core.press("r", now)
                recorded.append(time.perf_counter() - began)
            os.close(bare)
        print(f"append and fsync  median {_ms(appended, 50)}  p99 {_ms(appended, 99)}")
        print(f"a record          median {_ms(recorded, 50)}  p99 {_ms(recorded, 99)}")
        ratios.append(sorted(recorded)[times * 99 // 100] / sorted(appended)[times * 99 // 100])
    print(f"p99 to p99, median of {rounds}: {statistics.median(ratios):.2f}")


def _now(clocks: Callable[[], object]) -> tuple[object, object]:
    moment = clocks()
    return moment.at, moment.mono  # type: ignore[attr-defined]


def _ms(values: Sequence[float], percent: int) -> str:
    ordered = sorted(values)
    return f"{ordered[min(len(ordered) - 1, len(ordered) * percent // 100)] * 1000:.1f} ms"


def shell(rounds: int = 7) -> None:
    with tempfile.TemporaryDirectory() as folder:
        study = make_study(Path(folder) / "study")
        for words in (
            ["look", "1=c,r", "2=w", "3=-"],
            ["seen", "a1", "moss_end", "resting"],
            ["note", "fed", "a1"],
            ["mend"],
        ):
            times = []
            for _ in range(rounds):
                before = time.monotonic()
                subprocess.run(
                    [sys.executable, "-m", "zoneuse", *words, "--study", str(study)],
                    check=True,
                    capture_output=True,
                )
                times.append(time.monotonic() - before)
            print(f"zoneuse {words[0]:<6} {statistics.median(times):.3f} s")


if __name__ == "__main__":
    chosen = {"start": start, "keys": keys, "record": record, "shell": shell}
    for name in sys.argv[1:] or list(chosen):
        chosen[name]()
