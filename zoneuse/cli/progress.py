"""Work that takes a while says so on stderr: a bar once a second has passed, and nothing where nobody looks."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_QUIET_S = 1.0


@contextmanager
def working(what: str) -> Iterator[None]:
    """Show that something is being worked out, with the time it has taken, until the block ends."""
    if not sys.stderr.isatty():
        yield
        return
    done = threading.Event()
    shown = threading.Thread(target=_show, args=(what, done), daemon=True)
    shown.start()
    try:
        yield
    finally:
        done.set()
        shown.join()


def _show(what: str, done: threading.Event) -> None:
    if done.wait(_QUIET_S):
        return
    # Only what takes long pays for loading this.
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    with Progress(
        TextColumn(what), BarColumn(20), TimeElapsedColumn(), console=console, transient=True
    ) as bar:
        bar.add_task(what, total=None)
        done.wait()
