"""Change study.toml from the program: the keeper's comments and order stay, and nothing unsound is ever written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ..durable import write_whole
from ..ids import new_id
from ..model import ONLY, Declaration
from ..problems import ProblemError, fault
from .file import FILE_NAME, read_declaration_text

_BOM = "\ufeff"


@dataclass(frozen=True, slots=True)
class OnDisk:
    """A study.toml as it was read: its bytes, and its text with plain ends of lines."""

    data: bytes
    text: str

    def encoded(self, text: str) -> bytes:
        """Another text as this file would hold it: with its mark at the front and its ends of lines."""
        found = self.data.decode("utf-8")
        ends = text.replace("\n", "\r\n") if "\r\n" in found else text
        return ((_BOM if found.startswith(_BOM) else "") + ends).encode("utf-8")


def read_text(folder: Path) -> OnDisk:
    """study.toml as it stands. Raises OSError, or UnicodeDecodeError where it is no text."""
    data = (folder / FILE_NAME).read_bytes()
    return OnDisk(data, data.decode("utf-8-sig").replace("\r\n", "\n"))


def write_text(folder: Path, text: str, before: OnDisk | None) -> Declaration:
    """Make this the study's declaration, whole or not at all.

    Raises ProblemError where it has faults, or where the file is not what it was (``before``; None: not there yet):
    nothing is written then. OSError where the disk refuses.
    """
    path = folder / FILE_NAME
    declared, problems = read_declaration_text(folder, text)
    if declared is None:
        raise ProblemError(p for p in problems if not p.hint)
    if (path.read_bytes() if path.exists() else None) != (before.data if before else None):
        raise fault(
            "changed-meanwhile", path, "", "it was changed while this was typed", "the file as it was read",
            remedy="Try again",
        )  # fmt: skip
    write_whole(path, before.encoded(text) if before else text.encode("utf-8"))
    return declared


def edit_study(folder: Path, change: Callable[[str], str]) -> Declaration:
    """Apply a change to the text of study.toml and write it, whole or not at all.

    Returns what it declares now. Raises ProblemError where the file, or what would become of it, has faults, or
    where somebody else changed it in between (nothing is written then); OSError where the disk refuses.
    """
    before = read_text(folder)
    return write_text(folder, change(before.text), before)


@dataclass(frozen=True, slots=True)
class NewZone:
    """A zone to add: ``start`` is when it turned up, in the study's own time. Its amount may be given later."""

    label: str
    key: str
    start: datetime
    enclosure: str = ONLY
    amount: float | None = None


def add_zone(folder: Path, declared: Declaration, new: NewZone) -> tuple[Declaration, str]:
    """Put a zone into study.toml; returns what is declared now, and the zone's id. Raises as `edit_study`."""
    # Loaded on use: few sessions change a study, and the recorder must open at once.
    from .edits import Edit
    from .toml_text import EditError, edited

    taken = {*declared.zones, *(zone.place for zone in declared.zones.values())}
    name = new_id(new.label, taken, "zone")
    start = new.start.astimezone(declared.timezone).replace(microsecond=0, tzinfo=None)
    stands = {
        "label": new.label,
        "key": new.key,
        **({"enclosure": new.enclosure} if declared.several else {}),
        **({} if new.amount is None else {"amount": new.amount}),
        "present": [{"from": start}],
    }
    edits: Sequence[Edit] = [Edit(("zones", name), stands)]
    try:
        return edit_study(folder, lambda text: edited(text, edits)), name
    except EditError:
        raise fault(
            "cannot-edit", folder / FILE_NAME, "zones", "is written in a way the program cannot add to",
            remedy="Add the zone there in an editor",
        ) from None  # fmt: skip
