"""What is on record: journals written, read and folded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .adjustments import (
        SHIFTING,
        Change,
        draw_day,
        new_adjustment_id,
        read_expects,
        record_change,
        split_amount,
    )
    from .against import check_journals
    from .columns import RecordColumns, read_columns
    from .fold import Entry, Place, place_named, reference
    from .past.cells import Cells, read_cells
    from .past.gaps import USUAL_GAP_MIN, by_gaps
    from .past.headers import COLUMNS, HeaderPlaces, find_columns
    from .past.intake import Taken, take_in
    from .past.kept import read_before, with_said, words
    from .past.local_times import numbered_days
    from .past.naming import Unknown, elsewhere, names_of, told, unknown_names
    from .past.rows import understand
    from .past.table import ReadAs, TableFile, lay_out
    from .past.timed import UndecidedDatesError, with_times
    from .past.undo import named, undo
    from .past.versions import RowChange, compare
    from .reader import Journals, Session, read_journals
    from .records import ADJUSTMENTS, FORMAT, RECORD_METHOD, SETTLE_H, Record, RecordError, decode, parse_time
    from .rows import RecordToWrite, write_rows
    from .steady import LEAST_STEP, steadied
    from .temperatures import (
        POSSIBLE_C,
        TEMP,
        Temperatures,
        not_yet_here,
        read_temperatures,
        take_in_temperatures,
        undo_temperatures,
    )
    from .writer import FOLDER, Journal, new_file_id, new_session_id, part_of, table_session_id, write_journal

__all__ = [
    "ADJUSTMENTS",
    "COLUMNS",
    "FOLDER",
    "FORMAT",
    "LEAST_STEP",
    "POSSIBLE_C",
    "RECORD_METHOD",
    "SETTLE_H",
    "SHIFTING",
    "TEMP",
    "USUAL_GAP_MIN",
    "Cells",
    "Change",
    "Entry",
    "HeaderPlaces",
    "Journal",
    "Journals",
    "Place",
    "ReadAs",
    "Record",
    "RecordColumns",
    "RecordError",
    "RecordToWrite",
    "RowChange",
    "Session",
    "TableFile",
    "Taken",
    "Temperatures",
    "UndecidedDatesError",
    "Unknown",
    "by_gaps",
    "check_journals",
    "compare",
    "decode",
    "draw_day",
    "elsewhere",
    "find_columns",
    "lay_out",
    "named",
    "names_of",
    "new_adjustment_id",
    "new_file_id",
    "new_session_id",
    "not_yet_here",
    "numbered_days",
    "parse_time",
    "part_of",
    "place_named",
    "read_before",
    "read_cells",
    "read_columns",
    "read_expects",
    "read_journals",
    "read_temperatures",
    "record_change",
    "reference",
    "split_amount",
    "steadied",
    "table_session_id",
    "take_in",
    "take_in_temperatures",
    "told",
    "understand",
    "undo",
    "undo_temperatures",
    "unknown_names",
    "with_said",
    "with_times",
    "words",
    "write_journal",
    "write_rows",
]
__getattr__ = opened(
    __name__,
    {
        "adjustments": "Change SHIFTING draw_day new_adjustment_id read_expects record_change split_amount",
        "against": "check_journals",
        "columns": "RecordColumns read_columns",
        "fold": "Entry Place place_named reference",
        "past.cells": "Cells read_cells",
        "past.gaps": "USUAL_GAP_MIN by_gaps",
        "past.headers": "COLUMNS HeaderPlaces find_columns",
        "past.intake": "Taken take_in",
        "past.kept": "read_before with_said words",
        "past.local_times": "numbered_days",
        "past.naming": "Unknown elsewhere names_of told unknown_names",
        "past.rows": "understand",
        "past.table": "ReadAs TableFile lay_out",
        "past.timed": "UndecidedDatesError with_times",
        "past.undo": "named undo",
        "past.versions": "RowChange compare",
        "reader": "Journals Session read_journals",
        "records": "ADJUSTMENTS FORMAT RECORD_METHOD Record RecordError SETTLE_H decode parse_time",
        "rows": "RecordToWrite write_rows",
        "steady": "LEAST_STEP steadied",
        "temperatures": (
            "POSSIBLE_C TEMP Temperatures not_yet_here read_temperatures take_in_temperatures "
            "undo_temperatures"
        ),
        "writer": "FOLDER Journal new_file_id new_session_id part_of table_session_id write_journal",
    },
)
