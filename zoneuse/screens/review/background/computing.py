"""Kept answers first, the rest from a process of its own, which ends when nobody waits for it any more."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from .asked import ReviewFilters
from .crossing import Given, read_given
from .kept import keys, recall, stamp

# An answer is one line; retreats and changes of a large study take some hundred kilobytes.
_LONGEST_LINE = 64_000_000
_ROOT = str(Path(__file__).resolve().parents[3])
# -P: the current folder may be a stranger's study, and no module is looked for there. The package is taken from where
# this one lies, and nothing else is: what lies beside it must not stand before the standard library.
_BEGIN = (
    "import sys; sys.path.insert(0, sys.argv[1]); import zoneuse; sys.path.pop(0); "
    "from zoneuse.screens.review.background.child import main; main()"
)
_COMMAND = ("-P", "-c", _BEGIN, _ROOT)


@dataclass(frozen=True, slots=True)
class Reply:
    """What became known: an answer, what stopped it, or (``doing``) what is being worked out."""

    name: str
    given: Given | None = None
    problems: tuple[str, ...] = ()
    doing: bool = False


class Computing:
    """One round of answers: kept ones at once, then those worked out, in the order they are wanted."""

    def __init__(
        self,
        folder: Path,
        asked: ReviewFilters,
        names: Sequence[str],
        now: datetime,
        tell: Callable[[Reply], None],
    ) -> None:
        self._folder, self._asked, self._names, self._now = folder, asked, tuple(names), now
        self._tell = tell
        self._process: asyncio.subprocess.Process | None = None

    async def run(self) -> None:
        """Tell every answer; whatever happens, the process beside does not outlive this."""
        known = await asyncio.to_thread(self._keys)
        missing = []
        for name in self._names:
            given = await asyncio.to_thread(recall, known[name])
            if given is not None and given.name == name:
                self._tell(Reply(name, given))
            else:
                missing.append(name)
        if missing:
            await self._work_out(missing, known)

    def _keys(self) -> dict[str, str]:
        return keys(stamp(self._folder), self._asked, self._names, self._now)

    def first(self, name: str) -> None:
        """This answer is being looked at: it comes next."""
        process = self._process
        if process is not None and process.stdin is not None and process.returncode is None:
            with contextlib.suppress(OSError, RuntimeError):
                process.stdin.write(json.dumps({"first": name}).encode() + b"\n")

    async def _work_out(self, missing: list[str], known: dict[str, str]) -> None:
        pipe = asyncio.subprocess.PIPE
        try:
            process = self._process = await asyncio.create_subprocess_exec(
                sys.executable, *_COMMAND, stdin=pipe, stdout=pipe, stderr=pipe, limit=_LONGEST_LINE
            )
        except OSError as error:
            self._stopped(missing, f"Nothing can be worked out: {error.strerror}.")
            return
        beside = asyncio.create_task(_last_lines(process.stderr))
        try:
            assert process.stdin is not None and process.stdout is not None
            process.stdin.write(json.dumps(self._request(missing, known)).encode() + b"\n")
            waiting = set(missing)
            async for line in process.stdout:
                self._heard(json.loads(line), waiting)
            status = await process.wait()
            if waiting:
                said = await beside
                why = f": {said}" if said else ""
                self._stopped(
                    [n for n in missing if n in waiting], f"Working it out stopped (status {status}{why})."
                )
        finally:
            beside.cancel()
            if process.returncode is None:
                with contextlib.suppress(ProcessLookupError):
                    process.kill()
                await process.wait()

    def _request(self, missing: list[str], known: dict[str, str]) -> dict[str, Any]:
        return {
            "folder": str(self._folder.resolve()), "asked": self._asked.to_dict(), "names": missing,
            "now": self._now.isoformat(), "keys": {name: known[name] for name in missing},
        }  # fmt: skip

    def _heard(self, reply: dict[str, Any], waiting: set[str]) -> None:
        if "doing" in reply:
            self._tell(Reply(reply["doing"], doing=True))
        elif "given" in reply:
            waiting.discard(reply["name"])
            self._tell(Reply(reply["name"], read_given(reply["given"])))
        else:
            # Without a name it stands in the way of all of them.
            names = [reply["name"]] if reply["name"] else sorted(waiting)
            waiting.difference_update(names)
            for name in names:
                self._tell(Reply(name, problems=tuple(reply["problems"])))

    def _stopped(self, names: Sequence[str], says: str) -> None:
        for name in names:
            self._tell(Reply(name, problems=(says,)))


async def _last_lines(stream: asyncio.StreamReader | None) -> str:
    """The last line the process said beside its answers; all of it is read, so that it never has to wait."""
    last = b""
    while stream is not None and (piece := await stream.read(65536)):
        last = (last + piece)[-4000:]
    lines = last.decode(errors="replace").strip().splitlines()
    return lines[-1] if lines else ""
