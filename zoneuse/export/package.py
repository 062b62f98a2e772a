"""A study's tables as a Data Package: one file a table, and datapackage.json that says what every column is.

The descriptor follows the Data Package standard (https://datapackage.org, version 2). It is written last: a folder
without it is an export that was not finished.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from .. import __version__
from ..answers.study import Study
from ..study import fault, make_folder, put_in_place, sha256_of, visible, write_whole
from .column import PackageColumn
from .csv_text import readable
from .dictionary import ABOUT, dictionary
from .keys import PRIMARY, foreign
from .tables import tables

FORMATS = ("parquet", "csv")
DESCRIPTOR = "datapackage.json"
DICTIONARY = "data-dictionary.md"
_MEDIA = {"parquet": "application/vnd.apache.parquet", "csv": "text/csv"}
# How frictionless reads a null of these types from Parquet (through pandas); texts stay what they are.
_NULLS = {"integer": ["", "nan"], "number": ["", "nan"], "datetime": ["", "NaT"], "date": ["", "NaT"]}


@dataclass(frozen=True, slots=True)
class TableWritten:
    """One table as it was written."""

    name: str
    path: Path
    rows: int
    columns: tuple[PackageColumn, ...]


def export(study: Study, target: Path, form: str, made: datetime, force: bool = False) -> list[TableWritten]:
    """Write all tables into a folder of their own. ``made``: when, on the wall clock.

    Raises ProblemError where the folder holds something else (unless ``force``) or lies in the study's own records,
    OSError where the disk refuses: nothing is then described, and the same export may be run again.
    """
    _check_target(study.folder, target, force)
    make_folder(target)
    # From here until the new one stands, the folder does not claim to be whole.
    (target / DESCRIPTOR).unlink(missing_ok=True)
    zone = study.declared.timezone.key
    written = [
        _write(target, name, pieces, columns, form, zone=zone) for name, pieces, columns in tables(study)
    ]
    for other in (f for f in FORMATS if f != form):
        for table in written:
            (target / f"{table.name}.{other}").unlink(missing_ok=True)
    write_whole(target / DICTIONARY, dictionary({t.name: t.columns for t in written}).encode())
    described = json.dumps(describe(study, written, form, made), ensure_ascii=False, indent=1)
    write_whole(target / DESCRIPTOR, described.encode("utf-8", "backslashreplace"))
    return written


def _check_target(study: Path, target: Path, force: bool) -> None:
    _check_place(study, target)
    if (target / DESCRIPTOR).exists() and not force:
        raise fault(
            "output-exists", target, "", "holds exported tables already", "a new folder",
            remedy="Name another folder, or replace them with --force; nothing was written",
        )  # fmt: skip
    names = {f"{table}.{form}" for table in ABOUT for form in FORMATS} | {DESCRIPTOR, DICTIONARY}
    there = sorted(p.name for p in target.iterdir()) if target.is_dir() else []
    others = [name for name in there if name not in names and not name.endswith(".tmp")]
    if others and not force:
        raise fault(
            "export-place", target, "", f"holds other files ({', '.join(others[:3])})", "an empty or new folder",
            remedy="Name another folder, or give --force to write among them; nothing was written",
        )  # fmt: skip


def _check_place(study: Path, target: Path) -> None:
    try:
        str(target).encode()
    except UnicodeEncodeError:
        raise fault(
            "export-place", visible(str(target)), "", "has a name of bytes that are no text", "a name in UTF-8",
            remedy="Name another folder; nothing was written",
        ) from None  # fmt: skip
    inside, own = target.resolve(), study.resolve()
    if inside == own or any(inside.is_relative_to(own / part) for part in ("journal", "readings", "tracks")):
        raise fault("export-place", target, "", "is the study itself, or where its records lie", "a folder of its own",
                    remedy="Name another folder; nothing was written")  # fmt: skip
    if target.exists() and not target.is_dir():
        raise fault(
            "export-place",
            target,
            "",
            "is a file",
            "a folder",
            remedy="Name another folder; nothing was written",
        )


def _write(
    target: Path,
    name: str,
    pieces: Iterable[pa.Table],
    columns: tuple[PackageColumn, ...],
    form: str,
    *,
    zone: str,
) -> TableWritten:
    final = target / f"{name}.{form}"
    # Under a name nobody can have put a link at.
    # Absolute: pyarrow takes a name such as s3:x for an address.
    aside = target.absolute() / f".{final.name}-{secrets.token_hex(4)}.tmp"
    writer: Any = None
    rows = 0
    try:
        for piece in _at_least_one(pieces, columns, zone):
            table = readable(piece) if form == "csv" else piece
            if writer is None:
                writer = _writer(aside, table.schema, form)
            writer.write_table(table)
            rows += len(table)
        writer.close()
        put_in_place(aside, final)
    except BaseException:
        if writer is not None:
            writer.close()
        aside.unlink(missing_ok=True)
        raise
    return TableWritten(name, final, rows, columns)


def _writer(path: Path, schema: pa.Schema, form: str) -> Any:
    if form == "csv":
        return pacsv.CSVWriter(path, schema, write_options=pacsv.WriteOptions(quoting_style="needed"))
    return pq.ParquetWriter(path, schema, compression="zstd")


def _at_least_one(
    pieces: Iterable[pa.Table], columns: tuple[PackageColumn, ...], zone: str
) -> Iterable[pa.Table]:
    """The pieces, or an empty table where there is none: each table stands in the package."""
    from .columns import arrow_type

    found = False
    for piece in pieces:
        found = True
        yield piece
    if not found:
        yield pa.schema([(c.name, arrow_type(c, zone)) for c in columns]).empty_table()


def describe(study: Study, written: Iterable[TableWritten], form: str, made: datetime) -> dict[str, Any]:
    """The descriptor: what each table and column is, with the file's size and checksum."""
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "zoneuse-export",
        "title": study.declared.title,
        "created": made.isoformat(timespec="seconds"),
        "version": "1",
        "zoneuse": __version__,
        "description": "Where animals were in an enclosure, and what it was like there. Times are local, with their "
        f"offset, and in UTC; the study's zone is {study.declared.timezone.key}.",
        "resources": [_resource(table, form) for table in written],
    }


def _resource(table: TableWritten, form: str) -> Mapping[str, Any]:
    digest = sha256_of(table.path)
    size = table.path.stat().st_size
    shared: dict[str, Any] = {"encoding": "utf-8"} if form == "csv" else {}
    return {
        "name": table.name,
        "type": "table",
        "path": table.path.name,
        "description": ABOUT[table.name],
        "format": form,
        "mediatype": _MEDIA[form],
        **shared,
        # frictionless counts no bytes of a Parquet file and would call every checksum wrong: it stands beside.
        **(
            {"bytes": size, "hash": f"sha256:{digest}"} if form == "csv" else {"size": size, "sha256": digest}
        ),
        "schema": {
            "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
            "fields": [
                {"name": c.name, "type": c.type, "description": c.meaning}
                | ({"unit": c.unit} if c.unit else {})
                | ({"missingValues": _NULLS[c.type]} if form == "parquet" and c.type in _NULLS else {})
                for c in table.columns
            ],
            "missingValues": [""],
            "primaryKey": list(PRIMARY[table.name]),
            "foreignKeys": [
                {"fields": [column], "reference": {"resource": other, "fields": list(PRIMARY[other])}}
                for column, other in foreign(table.name, [c.name for c in table.columns])
            ],
        },
    }
