"""Change study.toml from the program: the keeper's comments and order stay, and nothing unsound is ever written."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ..durable import write_whole
from ..model import ONLY, Declaration
from ..problems import ProblemError, fault
from .file import FILE_NAME, read_declaration_text

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

_LONGEST_ID = 40


def edit_study(folder: Path, change: Callable[[TOMLDocument], None]) -> Declaration:
    """Apply a change to study.toml and write it, whole or not at all.

    Returns what it declares now. Raises ProblemError where the file, or what would become of it, has faults, or
    where somebody else changed it in between (nothing is written then); OSError where the disk refuses.
    """
    # Loaded on use: few sessions change a study, and the recorder must open at once.
    import tomlkit

    path = folder / FILE_NAME
    before = path.read_bytes()
    document = tomlkit.parse(before.decode("utf-8-sig"))
    change(document)
    after = tomlkit.dumps(document)
    declared, problems = read_declaration_text(folder, after)
    if declared is None:
        raise ProblemError(p for p in problems if not p.hint)
    if path.read_bytes() != before:
        raise fault(
            "changed-meanwhile", path, "", "it was changed while this was typed", "the file as it was read",
            remedy="Try again",
        )  # fmt: skip
    write_whole(path, after.encode("utf-8"))
    return declared


@dataclass(frozen=True, slots=True)
class NewZone:
    """A zone to add: ``start`` is when it turned up, in the study's own time. Its amount may be given later."""

    label: str
    key: str
    start: datetime
    enclosure: str = ONLY
    amount: float | None = None


def new_id(label: str, taken: Declaration) -> str:
    """An id made of a label that nothing in the study bears: ``Under the new bark`` is ``under_the_new_bark``."""
    plain = unicodedata.normalize("NFKD", label).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:_LONGEST_ID] or "zone"
    used = {*taken.zones, *(zone.place for zone in taken.zones.values())}
    number, name = 2, stem
    while name in used:
        name, number = f"{stem}_{number}", number + 1
    return name


def add_zone(folder: Path, declared: Declaration, new: NewZone) -> tuple[Declaration, str]:
    """Put a zone into study.toml; returns what is declared now, and the zone's id. Raises as `edit_study`."""
    name = new_id(new.label, declared)

    def change(document: TOMLDocument) -> None:
        import tomlkit

        table = tomlkit.table()
        table.add("label", new.label)
        table.add("key", new.key)
        if declared.several:
            table.add("enclosure", new.enclosure)
        if new.amount is not None:
            table.add("amount", new.amount)
        span = tomlkit.inline_table()
        span.append("from", new.start.astimezone(declared.timezone).replace(microsecond=0, tzinfo=None))
        present = tomlkit.array()
        present.append(span)
        table.add("present", present)
        document["zones"].append(name, table)

    return edit_study(folder, change), name
