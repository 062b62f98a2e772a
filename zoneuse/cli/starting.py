"""`zoneuse new` and `zoneuse demo`: a study folder to begin with."""

from __future__ import annotations

from pathlib import Path

import click

from ..study.file import FILE_NAME, read_declaration
from ..study.model import MEASURES
from ..study.problems import ProblemError, fault
from ..study.starter import Beginning, copy_study, create_study, local_timezone, starter_text
from .narration import say
from .options import someone_there


@click.command(epilog="Example:  zoneuse new my-study   or   zoneuse new copy --from my-demo/study.toml")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--from",
    "source",
    metavar="STUDY.TOML",
    type=click.Path(path_type=Path),
    help="Start from that study.toml.",
)
def new(folder: Path, source: Path | None) -> None:
    """Start a study folder from a few questions, or from another study's study.toml."""
    if source is not None:
        text = _copied(source)
    elif someone_there():
        text = starter_text(_ask())
    else:
        text = starter_text(Beginning(timezone=local_timezone()))
    create_study(folder, text)
    say(f"Started {folder / FILE_NAME}.")
    say(
        f"Next: open it in an editor, then  zoneuse check --study {folder}  and  zoneuse watch --study {folder}"
    )


def _copied(source: Path) -> str:
    """The text of a sound study.toml; its faults are said otherwise."""
    if source.name != FILE_NAME or not source.is_file():
        raise fault("no-study", source, "", "is not a study.toml", "the path of a study.toml", remedy="")
    declared, problems = read_declaration(source.parent)
    if declared is None:
        raise ProblemError(problems)
    return source.read_text(encoding="utf-8-sig")


def _ask() -> Beginning:
    """A few questions; everything can be changed in the file afterwards."""
    title = click.prompt("What shall the study be called", default="My enclosure", err=True)
    species = click.prompt("Which species lives in it", default="", show_default=False, err=True)
    zone = click.prompt("Your time zone", default=local_timezone(), err=True)
    nocturnal = click.confirm("Is it active at night", default=False, err=True)
    measured = click.prompt(
        "Zones are measured in", type=click.Choice(MEASURES), default="floor_cm2", err=True
    )
    say(f"Name its zones and how much of each there is ({measured}): Moist hide 400. Empty when done.")
    zones: list[tuple[str, float]] = []
    while line := click.prompt(f"Zone {len(zones) + 1}", default="", show_default=False, err=True).strip():
        label, _, amount = line.rpartition(" ")
        try:
            value = float(amount.replace(",", "."))
        except ValueError:
            value = -1.0
        if label and value > 0:
            zones.append((label.strip(), value))
        else:
            say("A name and a number, please: Moist hide 400")
    names = click.prompt("Your animals' names, with commas between", default="Animal one", err=True)
    animals = tuple(name.strip() for name in names.split(",") if name.strip())
    return Beginning(title, species, zone, nocturnal, measured, tuple(zones) or Beginning().zones, animals)


@click.command(epilog="Example:  zoneuse demo my-demo")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--which", type=click.Choice(["cellar", "skink"]), default="cellar",
    help="Fire salamanders in a cellar, or a blue-tongued skink with a warm end.",
)  # fmt: skip
def demo(folder: Path, which: str) -> None:
    """Copy an invented, ready study to DIR and print its first answers."""
    from ..answers.study import Study
    from .output import print_answer

    _copy_demo(which, folder)
    say(f"An invented study is in {folder}. Its animals do not exist.")
    study = Study(folder)
    for answer in (study.zones(), study.preference()):
        click.echo()
        print_answer(answer, as_json=False, csv_file=None)
    click.echo()
    say(f"Next: zoneuse watch --study {folder}   or   zoneuse prefer --study {folder} -h")


def _copy_demo(which: str, folder: Path) -> None:
    """Copy a demo study, all at once. In the wheel the demos lie inside the package, in the tree beside it."""
    package = Path(__file__).parent.parent
    source = next(
        (d for d in (package / "demo_sessions", package.parent / "demo_sessions") if d.is_dir()), None
    )
    if source is None:
        raise fault(
            "no-demo", package, "", "the demo studies are not installed", "", remedy="Install zoneuse again"
        )
    copy_study(source / which, folder)
