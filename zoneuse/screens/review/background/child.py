"""The process beside the screens: asked by lines of JSON, answers by lines of JSON, ends with its input."""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import IO, Any


class Wanted:
    """The answers still to be worked out, in order; one may be asked for first while another is under way."""

    def __init__(self, names: list[str]) -> None:
        self._names, self._lock = list(names), threading.Lock()

    def first(self, name: str) -> None:
        with self._lock:
            if name in self._names:
                self._names.remove(name)
                self._names.insert(0, name)

    def __iter__(self) -> Iterator[str]:
        while True:
            with self._lock:
                if not self._names:
                    return
                name = self._names.pop(0)
            yield name


def main() -> None:
    """Read the request, answer it, end. What anything prints beside goes to stderr."""
    out = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    sys.stdout = sys.stderr
    request = json.loads(sys.stdin.readline())
    wanted = Wanted(request["names"])
    threading.Thread(target=_listen, args=(wanted,), daemon=True).start()
    for reply in replies(request, wanted):
        say(out, reply)
    out.flush()
    # The listener still waits on stdin; nothing is left to finish.
    os._exit(0)


def _listen(wanted: Wanted) -> None:
    """Until the screens are gone: then nobody waits for an answer."""
    for line in sys.stdin:
        wanted.first(json.loads(line)["first"])
    os._exit(0)


def say(out: IO[str], reply: dict[str, Any]) -> None:
    out.write(json.dumps(reply, ensure_ascii=True, allow_nan=False) + "\n")
    out.flush()


def replies(request: dict[str, Any], wanted: Wanted) -> Iterator[dict[str, Any]]:
    """``{"doing": name}`` before each answer, then ``{"name", "given"}`` or ``{"name", "problems"}``."""
    from ....answers.study import Study
    from ....study import ProblemError
    from .giving import give
    from .kept import keep

    yield {"doing": "study"}
    try:
        study = Study(Path(request["folder"]))
        _ = study.moments
    except (ProblemError, OSError) as error:
        yield {"name": "", "problems": _said(error)}
        return
    now = datetime.fromisoformat(request["now"])
    for name in wanted:
        yield {"doing": name}
        try:
            given = give(study, name, request["asked"], now)
            json.dumps(given, allow_nan=False)
        except Exception as error:
            # One answer that fails must not take the others with it; its fault is shown in its place.
            yield {"name": name, "problems": _said(error)}
            continue
        keep(request["keys"][name], given)
        yield {"name": name, "given": given}


def _said(error: Exception) -> list[str]:
    from ....study import ProblemError

    if isinstance(error, ProblemError):
        return [str(problem) for problem in error.problems]
    if isinstance(error, OSError):
        return [f"{error.filename or 'a file'}: {error.strerror or error}"]
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = f" ({Path(trace.tb_frame.f_code.co_filename).name}, line {trace.tb_lineno})" if trace else ""
    return [f"A fault of zoneuse's own: {type(error).__name__}: {error}{where}"]
