"""What a face shows and a person answers: the question, its keys, and what was said of the last key."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from ..session.plan import Who


@dataclass(frozen=True, slots=True)
class LiveKey:
    """A key of the keeper's that means something now; ``kind`` is zone, behaviour, event or who."""

    key: str
    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class Prompt:
    """What is asked: ``ask`` in words, what is typed so far, what was before, and the keys that answer.

    ``counting``: a number is asked for, and digits are part of it. ``doubt``: Enter must say so first. ``half``
    is the first character of a key of two.
    """

    ask: str
    typed: str = ""
    before: str = ""
    choices: tuple[LiveKey, ...] = ()
    who: Who | None = None
    counting: bool = False
    doubt: bool = False
    half: str = ""


class Code(Enum):
    """What a notice is about, for faces that act on it: words are for people alone."""

    TOLD = "told"
    RECORDED = "recorded"
    UNKNOWN_KEY = "unknown key"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Notice:
    says: str = ""
    code: Code = Code.TOLD
