"""``zoneuse watch --practice``: the recorder on a made-up enclosure, and how well it was recorded."""

from __future__ import annotations

import os
import secrets
import shutil
import signal
import sys
import tempfile
from pathlib import Path

import click

from ...recording import (
    ROUND_STUDY,
    STUDY,
    Plan,
    PlanError,
    Practice,
    Recall,
    Script,
    make_plan,
    make_round_script,
    make_script,
)
from ...study import UnknownNameError, find_who, load_declaration
from ..options import wall_clock

EVERY_S, FOCAL_EVERY_S, MINUTES, QUIET_MIN = 15.0, 5.0, 4.0, 0.1
# Whom to follow where no animal is named, and about how long each thing it does then lasts.
FIRST, FOCAL_PACE_S = "1", 10.0
# A practice may run on, late or paused: the animals do not stop where the scans do.
_LONGER_S = 1800.0


def practise(
    *, method: str, animals: tuple[str, ...], quiet: float | None, observer: str | None, every: float | None,
    minutes: float | None, seed: int | None, bell: bool, plain: bool,
) -> None:  # fmt: skip
    """Watch the made-up animals; say at the end how well. Everything lies in a folder that is removed."""
    every_s, length = every or (EVERY_S if method == "scan" else FOCAL_EVERY_S), minutes or MINUTES
    number = secrets.randbelow(10_000) if seed is None else seed
    followed = (animals or (FIRST,)) if method == "focal" else ()
    with tempfile.TemporaryDirectory(prefix="zoneuse-practice-") as name:
        folder = Path(name)
        _removed_when_hung_up(folder)
        (folder / "study.toml").write_text(ROUND_STUDY if method == "retreat-round" else STUDY, "utf-8")
        declared, now = load_declaration(folder), wall_clock()
        try:
            plan = make_plan(
                declared, now, method=method, observer=observer or "practice",  # type: ignore[arg-type]
                every_s=every_s, minutes=length, quiet_min=QUIET_MIN if quiet is None else quiet,
                animals=tuple(find_who(declared, one, now).id for one in followed),
            )  # fmt: skip
        except (PlanError, UnknownNameError) as error:
            raise click.UsageError(f"{error}.") from None
        practice = Practice(
            _script(plan, number, every_s, length),
            _again(method, number, every_s, length, followed, plain=plain),
        )
        if plain:
            _by_lines(plan, practice)
            return
        from ...screens.recorder.app import RecorderApp

        app = RecorderApp(plan, Recall, bell=bell, practice=practice)
        said = app.run()
    if said:
        click.echo(said, err=True)
    if app.return_code:
        sys.exit(app.return_code)


def _by_lines(plan: Plan, practice: Practice) -> None:
    """The same in the line mode; what a screen would draw is said."""
    from ...recording import practised, run_plain, seen_words

    run_plain(
        plan,
        plan.declared.folder,
        ends=lambda core: practised(core, practice),
        sees=lambda core, now: seen_words(core, practice, now),
    )


def _removed_when_hung_up(folder: Path) -> None:
    """A closed terminal ends the process at once; the made-up records must not stay behind.

    Asked to end (SIGTERM) before the screen is there it is the same; the screen then answers for itself.
    """

    def remove(number: int, frame: object) -> None:
        shutil.rmtree(folder, ignore_errors=True)
        os._exit(128 + number)

    for name in ("SIGHUP", "SIGTERM"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), remove)


def _script(plan: Plan, seed: int, every_s: float, minutes: float) -> Script:
    """What the made-up animals do."""
    if plan.method == "retreat-round":
        return make_round_script(seed)
    # Who follows one animal needs time for each change.
    pace = every_s if plan.method == "scan" else FOCAL_PACE_S
    return make_script(seed, pace, minutes * 60 + plan.quiet_s + _LONGER_S)


def _again(
    method: str, seed: int, every_s: float, minutes: float, followed: tuple[str, ...], *, plain: bool
) -> str:
    """The command that begins the same practice again."""
    words = ["zoneuse watch --practice --seed", str(seed)]
    if method == "retreat-round":
        words.append("--method retreat-round")
    else:
        words.append(f"--every {every_s:g} --minutes {minutes:g}")
    if followed:
        words.append(f"--method focal --animal {','.join(followed)}")
    return " ".join([*words, "--plain"] if plain else words)
