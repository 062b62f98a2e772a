"""The command line. Each command loads only when it is asked for, so that the recorder opens at once."""

from __future__ import annotations

import importlib
import io
import os
import sys
from pathlib import Path

import click

from .. import __version__
from ..answers.registry import ANSWERS, answer_kind

# name: (where it lives, one line of help), so that `zoneuse --help` need not load any of them.
COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("study.starting:new", "Start a study folder."),
    "build": ("study.building:build", "Declare or change the enclosure on a screen."),
    "check": ("study.checking:check", "List everything that is wrong or missing in a study."),
    "watch": ("records.watching:watch", "Record a session: one key per record."),
    "look": ("records.recording:look", "Record one planned spot check."),
    "seen": ("records.recording:seen", "Record one sighting in passing."),
    "note": ("records.recording:note", "Put a feed, a shed, a weight or a free note on record."),
    "mend": ("records.mending:mend", "List and correct records, with a trace."),
    "adjust": ("records.adjusting:adjust", "Put a change to the enclosure on record."),
    "readings": ("intake.readings:readings", "Take in what loggers wrote."),
    "sightings": ("intake.sightings:sightings", "Take in a table of past observations."),
    "listen": ("intake.listening:listen", "Take in readings as they come: MQTT, BTHome."),
    "tracks": ("intake.tracks:tracks", "Take in positions of tracked animals, or antenna reads."),
    **{kind.name: (kind.command and f"answers.{kind.command}", kind.line) for kind in ANSWERS},
    "report": ("answers.reporting:report", "The answers as one page: for a screen, a phone, paper."),
    "review": ("answers.reviewing:review", "The answers in terminal screens, with the records behind them."),
    "export": ("answers.exporting:export", "All the tables, as a Data Package."),
    "share": ("study.sharing:share", "One small file of a study's numbers, to give away."),
    "across": ("study.sharing:across", "What holds across enclosures and keepers?"),
    "demo": ("study.starting:demo", "A ready demo study to play with, and its first answers."),
}


class LazyGroup(click.Group):
    """Commands by name, imported on use."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        if not COMMANDS[cmd_name][0]:
            from .answers.answering import plain_command

            return plain_command(answer_kind(cmd_name))
        module, name = COMMANDS[cmd_name][0].split(":")
        command: click.Command = getattr(importlib.import_module(f".{module}", __name__), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, prog_name="zoneuse")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Watch animals in an enclosure of gradients, and learn which places they use and why.

    Start with:  zoneuse demo my-demo. Alone, zoneuse says what to do next in this folder.
    """
    if ctx.invoked_subcommand is None:
        from .options import wall_clock
        from .study.next_step import tell_next

        tell_next(Path(), wall_clock())


def _fill_closed_streams() -> None:
    """Where a script closed stdin, stdout or stderr (``>&-``), words go nowhere.

    Left closed, the first file to be opened would get the number of the stream, and what is printed could get into it.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            # Open until the program ends.
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115


def main() -> None:
    """The `zoneuse` command."""
    from .narration import ExitStatus, report_error, say

    _fill_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # A terminal that cannot show a letter shows its code instead of stopping the answer.
            stream.reconfigure(errors="backslashreplace")
    if hasattr(sys.stdin, "reconfigure"):
        # A byte that is not UTF-8 is a letter nobody knows, not the end of what is read.
        sys.stdin.reconfigure(errors="replace")
    try:
        # Without standalone mode click returns the status a command exited with, instead of exiting.
        sys.exit(cli(standalone_mode=False))
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(ExitStatus.WRONG_DATA)
    except click.ClickException as error:
        # It repeats what was given, and a file's name may hold anything: said as all else is.
        shown = io.StringIO()
        error.show(shown)
        say(shown.getvalue().rstrip("\n"))
        sys.exit(error.exit_code)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except Exception as error:
        sys.exit(report_error(error))
