"""The process beside the screens: it answers, is asked first for what is looked at, fails alone, and ends."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.making import study_folder
from tests.review.showing import NOW, SKETCHED, answer_all, small_study
from zoneuse.screens.review.background import giving
from zoneuse.screens.review.background.asked import ReviewFilters
from zoneuse.screens.review.background.child import Wanted
from zoneuse.screens.review.background.computing import Computing, Reply

NAMES = ("sessions", "zones", "activity")


@pytest.fixture
def fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small study that nobody has asked yet."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return small_study(tmp_path / "study")


def alive(process: asyncio.subprocess.Process) -> bool:
    try:
        os.kill(process.pid, 0)
    except ProcessLookupError:
        return False
    return process.returncode is None


def test_it_answers_and_the_next_opening_needs_no_process(
    fresh: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The current folder may be a stranger's study: nothing in it is run.
    monkeypatch.chdir(fresh)
    for name in ("pandas", "json", "zoneuse"):
        (fresh / f"{name}.py").write_text(f"open({str(fresh / 'mark')!r}, 'w')\n")
    told: list[Reply] = []
    asyncio.run(Computing(fresh, ReviewFilters(), NAMES, NOW, told.append).run())
    assert [r.name for r in told if r.given is not None] == list(NAMES), told
    assert "Moss" in next(r.given for r in told if r.name == "zones" and r.given).findings[0].says
    assert not (fresh / "mark").exists()
    again: list[Reply] = []
    asyncio.run(Computing(fresh, ReviewFilters(), NAMES, NOW, again.append).run())
    assert again == [r for r in told if not r.doing]


def test_leaving_ends_it(fresh: Path) -> None:
    async def leave() -> asyncio.subprocess.Process:
        told: list[Reply] = []
        computing = Computing(fresh, ReviewFilters(), NAMES, NOW, told.append)
        task = asyncio.create_task(computing.run())
        while not told:
            await asyncio.sleep(0.02)
        process = computing._process
        assert process is not None and alive(process)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        return process

    assert not alive(asyncio.run(leave()))


def test_one_that_dies_is_told_for_all_that_were_waiting(fresh: Path) -> None:
    async def die() -> list[Reply]:
        told: list[Reply] = []
        computing = Computing(fresh, ReviewFilters(), NAMES, NOW, told.append)
        task = asyncio.create_task(computing.run())
        while not told:
            await asyncio.sleep(0.02)
        assert computing._process is not None
        os.kill(computing._process.pid, signal.SIGKILL)
        await task
        return told

    told = asyncio.run(die())
    # On a busy machine the first may have been given before the blow fell.
    given = [r.name for r in told if r.given is not None]
    stopped = [r for r in told if r.problems]
    assert stopped
    assert given + [r.name for r in stopped] == list(NAMES)
    assert all("stopped (status -9" in r.problems[0] for r in stopped)


def test_it_does_not_outlive_whoever_asked() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", "from zoneuse.screens.review.background.child import main; main()"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdin is not None
    process.stdin.write(
        b'{"folder": "/dev/null/x", "asked": {}, "names": [], "keys": {}, "now": "2026-01-01"}\n'
    )
    process.stdin.close()
    assert process.wait(timeout=60) == 0


def test_an_answer_that_fails_does_not_take_the_others_with_it(
    fresh: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = giving.give

    def give(study: object, name: str, *rest: object) -> object:
        if name == "zones":
            raise RuntimeError("a bolt is missing")
        return real(study, name, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(giving, "give", give)
    failed = answer_all(fresh, NAMES)
    assert list(failed) == ["zones"]
    assert (
        "A fault of zoneuse's own: RuntimeError: a bolt is missing (test_computing.py" in failed["zones"][0]
    )


def test_a_study_that_cannot_be_read_says_so_for_every_answer(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study", SKETCHED.replace("amount = 300", 'amount = "much"'))
    failed = answer_all(folder, NAMES)
    assert list(failed) == [""] and "zones.moss" in failed[""][0]


def test_an_answer_looked_at_comes_next() -> None:
    wanted = Wanted(["a", "b", "c"])
    order = iter(wanted)
    assert next(order) == "a"
    wanted.first("c")
    wanted.first("a")  # done already
    assert list(order) == ["c", "b"]
