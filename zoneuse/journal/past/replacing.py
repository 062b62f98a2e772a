"""What a later version of a table says instead: corrections with a trace, as `mend` makes them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from zoneuse.study.model import Declaration

from ..fold import Place, reference
from ..rows import Row, write_rows
from ..writer import new_file_id, new_session_id
from .rows import Sighting, record_fields
from .table import TableFile
from .versions import Change


def replace_rows(declared: Declaration, table: TableFile, changes: Sequence[Change], now: datetime) -> int:
    """Let the table's rows count instead of the old ones, and take back what stands in it no longer.

    All in one journal file, whole or not at all. Returns how many rows it was. Raises OSError where the disk
    refuses.
    """
    observer = declared.watching.observer
    session, file = new_session_id(now, observer), new_file_id()
    source = {"name": table.path.name, "sha256": table.sha256}
    rows: list[Row] = []
    for change in changes:
        back = {"of": reference(change.place), "source": source}
        if change.new is not None:
            scan = change.scan if change.new.at == change.old.at else None
            rows.append(Row(change.new.kind, _fields(change.new, scan), change.new.at))
            # The journal's opening is its record 1.
            back["replaces"] = reference(Place(session, 1, len(rows) + 1, file))
        rows.append(Row("took-back", back))
    write_rows(declared, now, rows, observer=observer, session=session, file=file)
    return len(changes)


def _fields(new: Sighting, scan: int | None) -> dict[str, object]:
    return {name: value for name, value in record_fields(new, scan).items() if value is not None}
