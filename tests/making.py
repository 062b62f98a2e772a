"""Small studies for tests, written as a keeper's folder would be."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from click.testing import CliRunner, Result

from zoneuse.cli import cli
from zoneuse.cli.narration import report_error
from zoneuse.journal.writer import Journal, start_session

VIENNA = ZoneInfo("Europe/Vienna")
FIXTURES = Path(__file__).parent / "fixtures"
DEMOS = Path(__file__).parent.parent / "demo_sessions"

TWO_ZONES = """
format = 1
title = "Two zones"
timezone = "Europe/Vienna"

[enclosure]
measured_in = "floor_cm2"

[zones.moss]
label = "Moss"
key = "m"
amount = 300

[zones.bark]
label = "Bark"
key = "b"
amount = 100

[animals.a1]
label = "Dot"
key = "1"

[animals.a2]
label = "Line"
key = "2"

[groups.young]
label = "Young"
key = "Y"
size = 6

[behaviours.resting]
label = "Resting"
key = "r"
lasts = true
active = false

[behaviours.walking]
label = "Walking"
key = "w"
lasts = true
active = true

[behaviours.strike]
label = "Strike"
key = "x"
lasts = false

[loggers.L1]
placed = [{zone = "moss"}]

[loggers.L2]
placed = [{zone = "bark"}]
"""


def study_folder(folder: Path, text: str = TWO_ZONES) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder


def demo_study(folder: Path, which: str = "cellar") -> Path:
    """A demo study as it lies there: `zoneuse demo` also works out what it tells, which takes seconds."""
    return Path(shutil.copytree(DEMOS / which, folder))


def vienna(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=VIENNA)


def session(
    folder: Path, at: str | datetime, *, method: str = "scan", observer: str = "mk", every_s: int = 60
) -> Journal:
    """An open journal, as the recorder starts one."""
    start = vienna(at) if isinstance(at, str) else at
    return start_session(
        folder, at=start, zone=VIENNA, study="Two zones", observer=observer, method=method, every_s=every_s
    )


def scans(
    folder: Path, at: str, rows: Iterable[Sequence[str | None]], animals: Sequence[str] = ("a1",)
) -> None:
    """A closed session of scans: one row a scan, a zone (None: not found) for each animal."""
    start = vienna(at)
    journal = session(folder, start)
    for number, zones in enumerate(rows, 1):
        for animal, zone in zip(animals, zones, strict=True):
            when = start + timedelta(minutes=number - 1, seconds=5)
            if zone is None:
                journal.append("unseen", when, animal=animal, scan=number)
            else:
                journal.append("seen", when, animal=animal, zone=zone, scan=number)
    journal.append("closed", start + timedelta(minutes=30), reason="finished")
    journal.close()


def run(*arguments: object) -> Result:
    """A command as the shell would run it: standard output, standard error and the exit status."""
    result = CliRunner().invoke(cli, [str(a) for a in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        runner = CliRunner()
        with runner.isolation() as streams:
            status = report_error(result.exception)  # raises what is a bug of ours
            said = streams[1].getvalue().decode()
        result.exit_code = int(status)
        result.stderr_bytes = (result.stderr_bytes or b"") + said.encode()
    return result


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, to see that nothing was touched."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
