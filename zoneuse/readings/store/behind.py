"""Work that lets the interpreter go (hashing, packing a Parquet group), done in order by one thread of its own."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

# Pieces that may wait: enough to keep both cores busy, few enough that memory stays flat.
_MOST_WAITING = 2


class Backlog:
    """``do`` hands a call over, waiting where too many are; ``finish`` waits for all. Errors come out of both."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1)
        self._waiting: deque[Future[Any]] = deque()

    def do(self, call: Callable[..., Any], *args: Any) -> None:
        if len(self._waiting) >= _MOST_WAITING:
            self._waiting.popleft().result()
        self._waiting.append(self._pool.submit(call, *args))

    def finish(self) -> None:
        """All that was handed over is done when this returns. Raises the first error of it."""
        while self._waiting:
            self._waiting.popleft().result()
        self._pool.shutdown()

    def drop(self) -> None:
        """Whatever has not begun is left undone, and no error is raised."""
        self._pool.shutdown(cancel_futures=True)
        self._waiting.clear()
