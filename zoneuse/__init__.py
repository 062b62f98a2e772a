"""Watch animals in an enclosure of gradients, and learn honestly which zones they use, and why.

>>> import zoneuse
>>> study = zoneuse.open_study("my-study")  # doctest: +SKIP
>>> study.zones()  # doctest: +SKIP
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from .version import __version__

__all__ = ["Answer", "Caution", "Finding", "Study", "__version__", "open_study"]

if TYPE_CHECKING:
    from .answers.answer import Answer
    from .answers.finding import Caution, Finding
    from .answers.study import Study


def open_study(folder: Path | str) -> Study:
    """Open a study folder. Raises ProblemError with every fault of its study.toml."""
    from .answers.study import Study

    return Study(folder)


def __getattr__(name: str) -> Any:
    # The recorder imports this package too, and must not load pandas for it.
    if name in ("Answer", "Caution", "Finding"):
        from .answers import answer

        return getattr(answer, name)
    if name == "Study":
        from .answers.study import Study

        return Study
    raise AttributeError(f"module 'zoneuse' has no attribute {name!r}")
