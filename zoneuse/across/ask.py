"""What holds across studies: summaries gathered, one species chosen, pooled, and said."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

import pandas as pd

from ..answers.answer import Answer
from ..answers.columns import Schema, typed
from ..answers.finding import in_words
from ..study import Problem, ProblemError
from .columns import PARTS, ROWS, SHOWN
from .executors import Executor, in_processes, summary_of
from .judge import finding
from .pool import Pooled, most_species, pool
from .shared import Shared
from .sources import at_hand, found_at
from .words import cautions, headline, sentence


@dataclass(frozen=True, slots=True)
class Across:
    """The answer, the rows it was made of, and what could not be read and was left out."""

    answer: Answer
    rows: tuple[Pooled, ...]
    problems: tuple[Problem, ...]


Progress = Callable[[int, int], None]


def across(
    addresses: Sequence[str],
    *,
    species: str | None = None,
    without: Sequence[str] = (),
    executor: Executor | None = None,
    progress: Progress | None = None,
    seed: int = 1,
) -> Across:
    """What holds over the studies and shared files at ``addresses``.

    A study that fails is named in ``problems`` and left out, never the run. ``without``: tokens of keepers or
    enclosures who withdrew. Raises ProblemError where nothing at all can be read.
    """
    problems: list[Problem] = []
    with ExitStack() as stack:
        places = list(_places(addresses, stack, problems))
        shared = _gathered(places, executor or in_processes(), problems, progress)
    if not shared:
        raise ProblemError(
            problems
            or [
                Problem(
                    "nothing-shared",
                    ", ".join(addresses),
                    "",
                    "holds nothing to pool",
                    "",
                    "Give studies or shared files",
                )
            ]
        )
    shared = [s for s in _once(shared) if not {s.keeper, s.enclosure.token} & set(without)]
    most, counts = most_species(shared)
    chosen = most if species is None else " ".join(species.split()).capitalize()
    of_it = [s for s in shared if s.species == chosen]
    rows = tuple(pool(of_it, seed))
    found = in_words([finding(row) for row in rows], sentence)
    keepers = {s.keeper for s in of_it}
    effort = {
        "keepers": len(keepers), "enclosures": len(of_it), "sessions": sum(s.enclosure.sessions for s in of_it),
        "left_out": len(problems), "withdrawn": len(without),
    }  # fmt: skip
    folders = any(place.is_dir() for _, place in places)
    answer = Answer(
        "across", chosen, _table([{f.name: getattr(row, f.name) for f in ROWS} for row in rows], ROWS), found,
        tuple(cautions(rows, counts, chosen, folders)), effort, _parts(rows), seed, SHOWN,
        headline=headline(found, len(keepers), len(of_it), chosen),
    )  # fmt: skip
    return Across(answer, rows, tuple(problems))


def _places(
    addresses: Sequence[str], stack: ExitStack, problems: list[Problem]
) -> Iterator[tuple[str, Path]]:
    """Each study and shared file, with whose it is: the folder above it where a tree of folders is given."""
    for address in addresses:
        try:
            root = stack.enter_context(at_hand(address, problems))
            for path in found_at(root, address):
                inside = path.relative_to(root).parts
                yield (f"{address}/{inside[0]}" if len(inside) > 1 else f"{address}/{path.name}"), path
        except ProblemError as error:
            problems += error.problems
        except OSError as error:
            problems.append(
                Problem("unreadable", address, "", f"cannot be read ({error})", "", "Check the address")
            )


def _gathered(
    places: Sequence[tuple[str, Path]], executor: Executor, problems: list[Problem], progress: Progress | None
) -> list[Shared]:
    found: dict[int, Shared] = {}
    studies = [i for i, (_, path) in enumerate(places) if path.is_dir()]
    # A file is read in no time; only studies are work to hand on.
    files = ((i, summary_of(str(path))) for i, (_, path) in enumerate(places) if not path.is_dir())
    worked = ((studies[n], outcome) for n, outcome in executor([str(places[i][1]) for i in studies]))
    for done, (i, outcome) in enumerate(chain(files, worked if studies else ()), 1):
        if progress is not None:
            progress(done, len(places))
        if isinstance(outcome, Shared):
            whose, path = places[i]
            # A folder says nothing of its keeper; a shared file does.
            found[i] = replace(outcome, keeper=whose) if path.is_dir() else outcome
        else:
            problems += outcome
    return [found[i] for i in sorted(found)]


def _once(shared: Sequence[Shared]) -> list[Shared]:
    """Each enclosure once: of two files of one the one with more sessions."""
    best: dict[tuple[str, str], Shared] = {}
    for one in shared:
        key = one.keeper, one.enclosure.token
        if key not in best or one.enclosure.sessions > best[key].enclosure.sessions:
            best[key] = one
    return list(best.values())


def _table(rows: list[dict[str, Any]], schema: Schema) -> pd.DataFrame:
    return typed(pd.DataFrame(rows, columns=[f.name for f in schema]), schema)


def _parts(rows: Sequence[Pooled]) -> dict[str, pd.DataFrame]:
    studies = [{"what": r.what, "name": r.name, **asdict(s)} for r in rows for s in r.studies]
    under = [
        {"name": r.name, "prior": prior, "low": low, "high": high}
        for r in rows
        for prior, (low, high) in sorted(r.under.items())
    ]
    return {
        "studies": _table(studies, PARTS["studies"]),
        "under_other_priors": _table(under, PARTS["under_other_priors"]),
    }
