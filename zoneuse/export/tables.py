"""All tables of an export, in the order of the package."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pandas as pd
import pyarrow as pa

from ..answers.study import Study
from ..tables import adjustments
from .column import PackageColumn
from .columns import ADJUSTMENTS, MOMENTS, RECORDS
from .declared import (
    ANIMALS,
    BEHAVIOURS,
    GROUPS,
    LIMITS,
    LOGGERS,
    PERIODS,
    ZONES,
    Row,
    animal_rows,
    behaviour_rows,
    frame,
    group_rows,
    limit_rows,
    logger_rows,
    period_rows,
    zone_rows,
)
from .frames import (
    adjustments_table,
    as_arrow,
    choices_table,
    conditions_table,
    moments_table,
    readings_tables,
    records_table,
)
from .told import (
    CONTEXT,
    EVENTS,
    FEEDS,
    NOTES,
    SESSIONS,
    WEIGHTS,
    context_rows,
    event_frame,
    feed_rows,
    named_animals,
    named_zones,
    note_rows,
    session_rows,
    weight_rows,
)

Table = tuple[str, Iterable[pa.Table], tuple[PackageColumn, ...]]


def tables(study: Study) -> Iterator[Table]:
    """Name, pieces and columns of each table."""
    declared, journals, changes = study.declared, study.journals, adjustments(study.journals)
    yield "moments", [moments_table(declared, study.moments)], MOMENTS
    choices, choices_columns = choices_table(declared, study.moments, changes)
    yield "choices", [choices], choices_columns
    conditions, conditions_columns = conditions_table(declared, study.moments, changes)
    yield "conditions", [conditions], conditions_columns
    readings, readings_columns = readings_tables(declared)
    yield "readings", readings, readings_columns
    yield "records", [records_table(declared, study.records)], RECORDS
    sessions = session_rows(journals)
    yield _table(study, "sessions", sessions, SESSIONS)
    yield "events", [as_arrow(declared, event_frame(study.records), EVENTS)], EVENTS
    yield "adjustments", [adjustments_table(declared, changes)], ADJUSTMENTS
    yield _table(study, "feeds", feed_rows(journals), FEEDS)
    yield _table(study, "weights", weight_rows(journals), WEIGHTS)
    yield _table(study, "notes", note_rows(journals), NOTES)
    yield _table(study, "context", context_rows(journals), CONTEXT)
    yield from _declared(study)


def _declared(study: Study) -> Iterator[Table]:
    """What study.toml declares, with what only records name any more: each key finds its row."""
    declared, records, journals = study.declared, study.records, study.journals
    animals = _named(records, "animal") | named_animals(journals)
    yield _table(study, "zones", zone_rows(declared, _named(records, "zone") | named_zones(journals)), ZONES)
    yield _table(study, "animals", animal_rows(declared, animals), ANIMALS)
    yield _table(study, "groups", group_rows(declared, _named(records, "group")), GROUPS)
    yield _table(study, "behaviours", behaviour_rows(declared, _named(records, "behaviour")), BEHAVIOURS)
    yield _table(study, "loggers", logger_rows(declared), LOGGERS)
    yield _table(study, "periods", period_rows(declared), PERIODS)
    yield _table(study, "limits", limit_rows(declared), LIMITS)


def _table(study: Study, name: str, rows: list[Row], columns: tuple[PackageColumn, ...]) -> Table:
    return name, [as_arrow(study.declared, frame(rows, columns), columns)], columns


def _named(records: pd.DataFrame, column: str) -> set[str]:
    return set(records[column].dropna())
