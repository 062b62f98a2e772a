"""A study being declared: what is sound is in study.toml at once, what is unfinished waits beside it.

It knows nothing of screens. Every change is a few edits; each can be taken back; none is lost when the program goes.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from ..durable import make_folder, write_whole
from ..model import Declaration
from ..problems import Problem, ProblemError
from ..toml.edit import OnDisk, read_text, write_text
from ..toml.edits import Edit
from ..toml.file import FILE_NAME, declared_zone, load_declaration, read_declaration_text
from ..toml.toml_text import EditError, edited

PENDING = ".study-unfinished.json"
_PUT_ASIDE = "study-unfinished-{}.toml"
_MOST_UNDONE = 500


@dataclass(frozen=True)
class StudyText:
    """A text of study.toml and what it says."""

    folder: Path
    text: str

    @cached_property
    def values(self) -> dict[str, Any]:
        return tomllib.loads(self.text)

    @cached_property
    def _checked(self) -> tuple[Declaration | None, tuple[Problem, ...]]:
        return read_declaration_text(self.folder, self.text)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Every fault and hint, in the words of check."""
        return self._checked[1]

    @property
    def sound(self) -> bool:
        return self._checked[0] is not None

    @property
    def declared_zone(self) -> ZoneInfo:
        """The time zone it declares, or UTC where that is none."""
        return declared_zone(self.values) or ZoneInfo("UTC")

    def with_edits(self, edits: Sequence[Edit]) -> StudyText:
        """What it would say with these edits. Raises EditError."""
        return StudyText(self.folder, edited(self.text, edits))


@dataclass
class Draft:
    """The study as it stands now, and how it came to that. ``told`` is the last thing worth saying."""

    folder: Path
    now: StudyText
    disk: OnDisk | None
    before: list[str] = field(default_factory=list)
    waiting: list[Edit] = field(default_factory=list)
    told: str = ""
    waits: bool = False

    def do(self, edits: Sequence[Edit]) -> bool:
        """Make a change; whether it was made. What came of it is told."""
        self._look_at_disk()
        try:
            after = self.now.with_edits(edits)
        except EditError:
            self.told = "study.toml is written in a way this screen cannot change; an editor can. Nothing was changed."
            return False
        if after.text == self.now.text:
            return True
        self.before = [*self.before[-_MOST_UNDONE:], self.now.text]
        self.now, self.waiting, self.told = after, [*self.waiting, *edits], ""
        self._store()
        return True

    def undo(self) -> bool:
        """Take the last change back; whether there was one."""
        self._look_at_disk()
        if not self.before:
            self.told = self.told or "There is nothing to take back."
            return False
        *self.before, text = self.before
        self.now = StudyText(self.folder, text)
        # What waits cannot be told apart any more: it is whatever differs from the file.
        self.waiting, self.told = [], "Taken back."
        self._store()
        return True

    @property
    def unsaved(self) -> bool:
        """Whether what is shown is not what study.toml says, since a fault stands in the way."""
        return self.disk is None or self.now.text != self.disk.text

    def _store(self) -> None:
        """Into study.toml where it is sound, else beside it. A disk that refuses is told, and tried again."""
        try:
            if self.now.sound:
                for name in ("journal", "readings"):
                    make_folder(self.folder / name)
                if self.unsaved:
                    write_text(self.folder, self.now.text, self.disk)
                self.disk, self.waiting = read_text(self.folder), []
                if self.waits:
                    (self.folder / PENDING).unlink(missing_ok=True)
                self.waits = False
            else:
                self._keep_waiting()
        except OSError as error:
            self.told = f"It could not be written: {error.strerror}. The next change tries again."
        except ProblemError as error:
            self.told = "; ".join(p.found for p in error.problems)
            with contextlib.suppress(OSError):
                self._keep_waiting()

    def _keep_waiting(self) -> None:
        kept = {"of": _mark(self.disk), "text": self.now.text}
        write_whole(self.folder / PENDING, json.dumps(kept, ensure_ascii=False).encode("utf-8"))
        self.waits = True

    def _look_at_disk(self) -> None:
        """Somebody else may have changed study.toml: the recorder adds a zone, an editor is open."""
        try:
            found = read_text(self.folder)
            if self.disk is not None and found.data == self.disk.data:
                return
            load_declaration(self.folder)
        except (OSError, UnicodeDecodeError, ProblemError):
            # Not there yet, or not sound: what is on the screen stays, and nothing is written over it.
            return
        self._take_over(found)

    def _take_over(self, found: OnDisk) -> None:
        fresh = StudyText(self.folder, found.text)
        with contextlib.suppress(EditError, LookupError, TypeError):
            fresh = fresh.with_edits(self.waiting)
        self.now, self.disk, self.before = fresh, found, []
        self.told = "study.toml was changed elsewhere meanwhile; this is what it says now."


def _mark(disk: OnDisk | None) -> str:
    return hashlib.sha256(disk.data).hexdigest() if disk else ""


def open_draft(folder: Path, blank: str | None = None) -> Draft:
    """The study of a folder, to be changed, with what was left unfinished. ``blank``: the text of one not begun yet.

    Raises ProblemError where there is no study, or no readable TOML.
    """
    disk = _on_disk(folder, blank)
    draft = Draft(folder, StudyText(folder, disk.text if disk else blank or ""), disk)
    left = _left_waiting(folder)
    if left is None:
        return draft
    draft.waits = True
    if left["of"] == _mark(disk):
        draft.before, draft.now = [draft.now.text], StudyText(folder, left["text"])
        draft.told = "What was left unfinished is here again; taking it back returns to study.toml."
        return draft
    aside = _PUT_ASIDE.format(hashlib.sha256(left["text"].encode()).hexdigest()[:8])
    write_whole(folder / aside, left["text"].encode("utf-8"))
    draft.told = f"study.toml was changed since; what was left unfinished is in {aside}."
    (folder / PENDING).unlink(missing_ok=True)
    draft.waits = False
    return draft


def _on_disk(folder: Path, blank: str | None) -> OnDisk | None:
    if blank is not None and not (folder / FILE_NAME).exists():
        return None
    # It says what is wrong with the TOML itself, better than the bytes would.
    from ..toml.file import read_declaration

    read_declaration(folder)
    return read_text(folder)


def _left_waiting(folder: Path) -> dict[str, str] | None:
    """What an earlier sitting left unfinished; None where there is nothing, or nothing that can be read."""
    try:
        kept = json.loads((folder / PENDING).read_text("utf-8"))
        tomllib.loads(kept["text"])
        return {"of": str(kept["of"]), "text": kept["text"]}
    except (OSError, ValueError, KeyError, TypeError):
        return None
