"""What is wrong with something from outside: one record per fault, printed alike by every face."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault or hint, with its place and what to do about it.

    ``place`` is a key path in study.toml, ``line 12``, ``row 7, column zone`` and the like.
    ``hint`` marks advice: `zoneuse check` exits 0 when only hints are left.
    """

    code: str
    file: str
    place: str
    found: str
    expected: str
    remedy: str
    hint: bool = False

    def __str__(self) -> str:
        where = f"{self.file}: {self.place}" if self.place else self.file
        parts = [f"{where}: {self.found}"]
        if self.expected:
            parts.append(f"expected {self.expected}")
        text = "; ".join(parts)
        text += "" if text.endswith("?") else "."
        return f"{text} {self.remedy}" if self.remedy else text


class ProblemError(Exception):
    """Raised where work cannot go on; carries every fault found, not only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def fault(
    code: str, file: object, place: str, found: str, expected: str = "", *, remedy: str = ""
) -> ProblemError:
    """One fault, ready to raise."""
    return ProblemError([Problem(code, str(file), place, found, expected, remedy)])
