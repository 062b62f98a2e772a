"""Every command that writes, cut and killed: the old state or the new one, and all that was said."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.trust.commands import TRIALS, fresh_copy, holds, make_base, prepared, run
from tests.trust.cutting import KINDS, Cut
from tests.trust.kill import cut_everywhere, kill_often

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork") or not Path("/proc/self/fd").exists(), reason="needs Linux"
)


@pytest.fixture(scope="module")
def base() -> Iterator[Path]:
    # In memory where there is such a place: thousands of fsyncs wear no disk.
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:
        yield make_base(Path(folder) / "base")


# One operation of each command for each kind of cut; `python -m tests.trust.kill 200` does them all. What takes
# seconds to work out and is written by the same function as `zones --csv` is left to that.
@pytest.mark.parametrize(
    "name", [name for name in TRIALS if name not in ("report", "plan --ics", "across --csv", "zones --plot")]
)
def test_cut_at_some_operations(base: Path, name: str) -> None:
    shift = sorted(TRIALS).index(name)
    found = cut_everywhere(TRIALS[name], base, base.with_name("place"), few=shift)
    assert sum(counts.tried for counts in found.values()) in (len(KINDS), len(KINDS) + 1)


@pytest.mark.parametrize("name", ["seen", "sightings", "readings", "watch"])
def test_killed_at_some_instants(base: Path, name: str) -> None:
    assert kill_often(TRIALS[name], base, base.with_name("place"), 3).tried == 3


# Of those that say on stdout what they did, one of each file of commands.
@pytest.mark.parametrize(
    "name", ["seen", "note over", "mend", "adjust", "sightings", "readings", "readings --undo", "export"]
)
def test_words_that_cannot_be_shown_do_not_make_what_is_saved_a_failure(base: Path, name: str) -> None:
    """Standard output on a full disk: told as failed, the command would be given again and count twice."""
    place, trial = base.with_name("place"), TRIALS[name]
    (_, after), _ = prepared(trial, base, place)
    fresh_copy(base, place)
    ended = run(trial, place, Cut(), shown=Path("/dev/full"))
    assert ended.status == 0 and "It is saved; only the words could not be shown" in ended.err, ended
    assert holds(place, trial) == after


@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_closed_streams_end_nothing_and_no_word_gets_into_a_file(base: Path, closed: str) -> None:
    study = fresh_copy(base, base.with_name("place")) / "study"
    before = len(list(study.glob("journal/*")))
    ended = subprocess.run(
        f"{sys.executable} -m zoneuse seen a1 moss --study {study} {closed}", shell=True, check=False
    )
    assert ended.returncode == 0
    assert len(list(study.glob("journal/*"))) == before + 1
    assert not any(b"Saved" in path.read_bytes() for path in study.glob("journal/*"))


@pytest.mark.calibration
@pytest.mark.parametrize("name", TRIALS)
def test_cut_everywhere_and_killed_two_hundred_times(base: Path, name: str) -> None:
    cut_everywhere(TRIALS[name], base, base.with_name("place"))
    assert kill_often(TRIALS[name], base, base.with_name("place"), 200).tried == 200
