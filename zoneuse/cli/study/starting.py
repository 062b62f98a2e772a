"""`zoneuse new` and `zoneuse demo`: a study folder to begin with."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill

import click

from ...study import (
    FILE_NAME,
    PENDING,
    Beginning,
    ProblemError,
    blank_text,
    copy_study,
    create_study,
    fault,
    local_timezone,
    read_declaration,
    refuse_used,
    starter_text,
)
from ..narration import say, tell
from ..options import someone_there, wall_clock
from .beginning import ask_beginning
from .building import fits_screen, on_screen

_WIDTH = 79


@click.command(epilog="Example:  zoneuse new my-study   or   zoneuse new copy --from my-demo/study.toml")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--from",
    "source",
    metavar="STUDY.TOML",
    type=click.Path(path_type=Path),
    help="Start from that study.toml.",
)
@click.option("--plain", is_flag=True, help="Plain questions, one a line, instead of the screen.")
def new(folder: Path, source: Path | None, plain: bool) -> None:
    """Start a study folder on a screen, by plain questions, or from another study's study.toml."""
    if source is None and not plain and fits_screen():
        _on_screen(folder)
        return
    if source is not None:
        text = _copied(source)
    elif someone_there():
        text = starter_text(ask_beginning())
    else:
        text = starter_text(Beginning(timezone=local_timezone()))
    create_study(folder, text)
    say(f"Started {folder / FILE_NAME}.")
    say(f"Next: cd {folder}, then  zoneuse watch  to record, or  zoneuse sightings FILE  for notes you have.")
    say("Everything can be changed in study.toml, in any editor; zoneuse check says whether it is sound.")


def _on_screen(folder: Path) -> None:
    """The screen over a folder that is to become a study; what was begun there before is gone on with."""
    begun = (folder / PENDING).is_file() and not (folder / FILE_NAME).exists()
    if not begun:
        refuse_used(folder)
    if on_screen(folder, blank_text(folder)):
        say(f"Started {folder / FILE_NAME}.")
        say(
            f"Next: cd {folder}, then  zoneuse watch  to record, or  zoneuse sightings FILE  for notes you have."
        )
        say("zoneuse build changes it, and so does any editor; zoneuse check says whether it is sound.")
    elif folder.is_dir():
        say(f"What you entered is kept: zoneuse new {folder} picks up where you left off.")


def _copied(source: Path) -> str:
    """The text of a sound study.toml; its faults are said otherwise."""
    if source.name != FILE_NAME or not source.is_file():
        raise fault("no-study", source, "", "is not a study.toml", "the path of a study.toml", remedy="")
    declared, problems = read_declaration(source.parent)
    if declared is None:
        raise ProblemError(problems)
    return source.read_text(encoding="utf-8-sig")


@click.command(epilog="Example:  zoneuse demo my-demo")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--which", type=click.Choice(["cellar", "skink"]), default="cellar",
    help="Fire salamanders in a cellar, or a blue-tongued skink with a warm end.",
)  # fmt: skip
def demo(folder: Path, which: str) -> None:
    """Copy an invented, ready study to DIR and print what it tells, in five sentences."""
    from ...answers.finding import trust_said
    from ...answers.study import Study
    from ...page import gather
    from ...page.sections.five_sentences import five

    _copy_demo(which, folder)
    say(f"An invented study is in {folder}. Its animals do not exist.")
    say("Working out what it tells …")
    for sentence in five(gather(Study(folder), {}, wall_clock(), lambda _: None)):
        trust = f" ({trust_said(sentence.trust)})" if sentence.trust else ""
        tell(fill(sentence.says + trust, _WIDTH) + "\n")
    say(
        f"Next: zoneuse zones --study {folder}, zoneuse report --study {folder}, zoneuse watch --study {folder}"
    )


def _copy_demo(which: str, folder: Path) -> None:
    """Copy a demo study, all at once. In the wheel the demos lie inside the package, in the tree beside it."""
    package = Path(__file__).parents[2]
    source = next(
        (d for d in (package / "demo_sessions", package.parent / "demo_sessions") if d.is_dir()), None
    )
    if source is None:
        raise fault(
            "no-demo", package, "", "the demo studies are not installed", "", remedy="Install zoneuse again"
        )
    copy_study(source / which, folder)
