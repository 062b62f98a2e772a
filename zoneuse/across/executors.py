"""Many studies to their summaries: in this process, in several, or on a cluster. One seam, the same figures."""

from __future__ import annotations

import multiprocessing
import os
import re
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from ..study import Problem, ProblemError, fault
from .shared import Consent, Shared, read_shared

# A scheduler on this machine, or one that is only spoken to over TLS.
_SAFE = re.compile(r"tls://|tcp://(localhost|127\.0\.0\.1|\[::1\])(:|$)")
_NO_CONSENT = Consent("", "", "")


def summary_of(path: str) -> Shared | tuple[Problem, ...]:
    """The summary of a study's folder or of a shared file; its problems where there is none. Never raises for data."""
    from ..answers.study import Study
    from .kept import digest_of, keep, recall
    from .summary import summarise

    place = Path(path)
    try:
        if place.is_file():
            return read_shared(place)
        digest = digest_of(place)
        kept = recall(digest)
        if kept is None:
            # A study that is looked at and not given away needs no token of its keeper: its place stands for it.
            kept = summarise(Study(place), "0" * 16, digest[:16], _NO_CONSENT)
            keep(digest, kept)
        return kept
    except ProblemError as error:
        return tuple(error.problems)
    except Exception as error:
        return (
            Problem(
                "cannot-summarise",
                path,
                "",
                f"stopped with {type(error).__name__}: {str(error)[:200]}",
                "",
                "It is left out",
            ),
        )


Outcome = tuple[int, Shared | tuple[Problem, ...]]
Executor = Callable[[Sequence[str]], Iterator[Outcome]]


def one_by_one(paths: Sequence[str]) -> Iterator[Outcome]:
    """In this process, in order."""
    for i, path in enumerate(paths):
        yield i, summary_of(path)


def in_processes(jobs: int | None = None) -> Executor:
    """In so many processes (default: one for each core), as they are done."""

    def run(paths: Sequence[str]) -> Iterator[Outcome]:
        most = min(
            jobs or len(os.sched_getaffinity(0))
            if hasattr(os, "sched_getaffinity")
            else jobs or os.cpu_count() or 1,
            len(paths),
        )
        if most <= 1:
            yield from one_by_one(paths)
            return
        # Forked children of a process with threads can hang; a fresh one loads pandas once.
        with ProcessPoolExecutor(most, mp_context=multiprocessing.get_context("spawn")) as pool:
            waiting = {pool.submit(summary_of, path): i for i, path in enumerate(paths)}
            for done in as_completed(waiting):
                yield waiting[done], done.result()

    return run


def on_scheduler(address: str) -> Executor:
    """On a cluster's scheduler (extra ``cluster``). Raises ProblemError where it may not or cannot be used.

    A scheduler runs what it is sent, so one off this machine is only asked over TLS.
    """
    if not _SAFE.match(address):
        raise fault("scheduler", address, "", "is not on this machine and not reached over TLS", "tls://HOST:PORT",
                    remedy="Start the scheduler with TLS; whoever can speak to it can run programs on it")  # fmt: skip
    try:
        from distributed import Client
        from distributed import as_completed as completed
    except ImportError:
        raise fault("scheduler", address, "", "needs dask.distributed, which is not installed", "the extra cluster",
                    remedy="pip install 'zoneuse[cluster]'") from None  # fmt: skip

    def run(paths: Sequence[str]) -> Iterator[Outcome]:
        try:
            client = Client(address, timeout="10s")
        except OSError as error:
            raise fault(
                "scheduler", address, "", f"does not answer ({error})", "a running scheduler"
            ) from None
        with client:
            futures = {f: i for i, f in enumerate(client.map(summary_of, paths, pure=False))}
            for future in completed(list(futures)):
                yield futures[future], future.result()

    return run
