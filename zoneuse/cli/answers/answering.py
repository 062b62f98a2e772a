"""The commands that answer a question."""

from __future__ import annotations

import gc
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ...study import ANY_TIME, SLOTS
from ..narration import say_problems
from ..options import answer_options, asked_time, study_option, wall_clock
from ..output import print_answer
from ..progress import working

if TYPE_CHECKING:
    from ...answers.registry import AnswerKind
    from ...answers.study import FilterOptions, Study


def filter_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The filters every answer takes."""
    for option in (
        click.option("--phase", "phases", metavar="IDS", help="Only moments in these phases of study.toml."),
        click.option("--treatment", "treatments", metavar="IDS", help="Only moments under these treatments."),
        click.option("--behaviour", "behaviours", metavar="IDS", help="Only moments with these behaviours."),
        click.option("--slot", type=click.Choice([*SLOTS, ANY_TIME]), help="Only this time of day."),
        click.option("--until", metavar="TIME", help="Only moments before this time."),
        click.option("--since", metavar="TIME", help="Only moments from this time on."),
        click.option("--animal", "animals", metavar="IDS", help="Only these animals or groups: a1,a2."),
    ):
        command = option(command)
    return command


UNITS = ("session", "day", "animal", "enclosure")


def unit_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """What counts as independent, and how what is offered is measured."""
    command = click.option(
        "--availability", type=click.Choice(["measured", "equal"]), default="measured", show_default=True,
        help="Zones by their amount in study.toml, or all alike.",
    )(command)  # fmt: skip
    return per_option("moment")(command)


OLD_UNIT = "zoneuse.old_unit"


def per_option(*more: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """What counts once: ``--per``, and ``--cluster``, its old name, which alone knows ``more``."""

    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        # Read before --per, which stands for both: one value cannot be checked against two lists.
        command = click.option(
            "--cluster", "old_name", type=click.Choice([*UNITS, *more]), is_eager=True, expose_value=False,
            callback=lambda ctx, _, given: ctx.meta.update({OLD_UNIT: given}), help="The old name of --per.",
        )(command)  # fmt: skip
        return click.option(
            "--per",
            "cluster",
            type=click.Choice(UNITS),
            callback=lambda ctx, _, given: given or ctx.meta.get(OLD_UNIT),
            help="What counts once (default: what the design calls for; the answer says which).",
        )(command)

    return add


def second_opinion_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """A standard method beside the answer's own."""
    return click.option(
        "--second-opinion",
        "second",
        is_flag=True,
        help="Also say what a standard method would find (slower).",
    )(command)


def open_for(folder: Path, asked: dict[str, str | None]) -> tuple[Study, FilterOptions]:
    """The study and the filters asked for; what of the journals and readings cannot be read is said first."""
    # An answer makes much, drops little and is over in seconds: looking for what to free would be a tenth of them.
    gc.set_threshold(100_000)
    from ...answers.study import Study

    study = Study(folder)
    say_problems(p for p in study.problems if not p.hint)
    now = wall_clock()
    times = {
        name: asked_time(asked[name], study.declared, now) if asked[name] else None
        for name in ("since", "until")
    }
    return study, {
        "animals": asked["animals"], "behaviours": asked["behaviours"], "slot": asked["slot"],
        "since": times["since"], "until": times["until"],
        "treatments": asked["treatments"], "phases": asked["phases"],
    }  # fmt: skip


def plain_command(kind: AnswerKind) -> click.Command:
    """The command of an answer without options of its own: the filters, JSON and CSV."""

    @click.command(kind.name, help=kind.line, epilog=f"Example:  zoneuse {kind.name} --study my-demo")
    @filter_options
    @answer_options
    @study_option
    def command(folder: Path, as_json: bool, csv_file: Path | None, **asked: str | None) -> None:
        study, filters = open_for(folder, asked)
        with working("Working it out"):
            answer = study.answer(kind.name, **filters)
        print_answer(answer, as_json, csv_file)

    return command


@click.command(epilog="Example:  zoneuse zones --study my-demo --slot night")
@second_opinion_option
@filter_options
@unit_options
@click.option(
    "--even-within",
    nargs=2,
    type=click.FloatRange(0, min_open=True),
    default=(0.67, 1.5),
    show_default=True,
    metavar="LOW HIGH",
    help="Ratios between which use counts as in proportion.",
)
@answer_options
@study_option
def zones(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    cluster: str | None,
    availability: str,
    even_within: tuple[float, float],
    second: bool,
    **asked: str | None,
) -> None:
    """Which zones are avoided, which favoured, how sure is that, and what would settle it."""
    study, filters = open_for(folder, asked)
    with working("Working out the zones"):
        # The cuts by animal and slot stand in JSON only: a printed answer need not wait for them.
        answer = study.zones(
            cluster=cluster,
            availability=availability,
            even_within=even_within,
            cuts=as_json,
            second_opinion=second,
            **filters,
        )
    print_answer(answer, as_json, csv_file)


@click.command(epilog="Example:  zoneuse activity --study my-demo --slot night")
@second_opinion_option
@filter_options
@per_option()
@click.option(
    "--usual-within",
    type=click.FloatRange(0, 0.5, min_open=True),
    default=0.10,
    show_default=True,
    help="How far either way a share may differ and still count as usual.",
)
@click.option("--recent-from", metavar="TIME", help="Compare sessions from then on with those before.")
@answer_options
@study_option
def activity(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    cluster: str | None,
    usual_within: float,
    recent_from: str | None,
    second: bool,
    **asked: str | None,
) -> None:
    """What is done, how much, at which hours, and whether that is more than usual."""
    study, filters = open_for(folder, asked)
    with working("Working out the activity"):
        recent = asked_time(recent_from, study.declared, wall_clock()) if recent_from else None
        answer = study.activity(
            cluster=cluster, usual_within=usual_within, recent_from=recent, second_opinion=second, **filters
        )
    print_answer(answer, as_json, csv_file)


@click.command(epilog="Example:  zoneuse prefer --study my-demo --what-if moss_end.humidity_pct=85")
@second_opinion_option
@filter_options
@unit_options
@click.option("--what-if", metavar="ZONE.QUANTITY=VALUE", help="The shares to expect under that change.")
@click.option(
    "--sessions", type=click.IntRange(1, 100_000), help="For how many sessions those shares are meant."
)
@answer_options
@study_option
def prefer(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    cluster: str | None,
    availability: str,
    what_if: str | None,
    sessions: int | None,
    second: bool,
    **asked: str | None,
) -> None:
    """Which temperature and humidity are chosen, is it that or the place, and why zones are avoided."""
    study, filters = open_for(folder, asked)
    try:
        with working("Working out what is preferred"):
            answer = study.preference(
                cluster=cluster,
                availability=availability,
                what_if=what_if,
                sessions=sessions,
                compare=as_json,
                second_opinion=second,
                **filters,
            )
    except ValueError as error:
        raise click.UsageError(str(error)) from None
    print_answer(answer, as_json, csv_file)
