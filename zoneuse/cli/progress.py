"""Work that takes a while says so on stderr: a bar once a second has passed, and nothing where nobody looks."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_QUIET_S, _EVERY_S = 1.0, 0.2
# How many are done, and of how many.
Progress = Callable[[int, int], None]


@contextmanager
def working(what: str) -> Iterator[Progress]:
    """Show that something is being worked out, with the time it has taken, until the block ends.

    The block may call what it is given with how many of how many are done.
    """
    counts = [0, 0]

    def progress(done: int, total: int) -> None:
        counts[:] = done, total

    if not sys.stderr.isatty():
        yield progress
        return
    ended = threading.Event()
    shown = threading.Thread(target=_show, args=(what, counts, ended), daemon=True)
    shown.start()
    try:
        yield progress
    finally:
        ended.set()
        shown.join()


def _show(what: str, counts: list[int], ended: threading.Event) -> None:
    if ended.wait(_QUIET_S):
        return
    # Only what takes long pays for loading this.
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = TextColumn("{task.description}"), BarColumn(20), TimeElapsedColumn()
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        while not ended.wait(_EVERY_S):
            done, total = counts
            if total:
                bar.update(task, completed=done, total=total, description=f"{what}: {done:,} of {total:,}")
