"""Every committed file of readings read to its last value, a piece at a time."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from ...study import Problem
from .store import intakes, part_path

_AT_ONCE = 1 << 16


def read_through(study: Path) -> tuple[int, int, list[Problem]]:
    """Rows and files that count and could be read whole, and what could not.

    Checksums, rows and times were held against the intakes' records by ``intakes``, whose problems are not
    repeated here. Memory stays flat, whatever the files hold.
    """
    rows, files = 0, 0
    problems = []
    for intake in intakes(study)[0]:
        # What is only heard so far lies in its day file, each line under its own checksum.
        for part in intake.parts if not intake.id.startswith("~") else ():
            path = part_path(study, part.logger, intake.id)
            try:
                rows += _rows(path)
                files += 1
            except (OSError, ValueError, pa.ArrowException) as error:
                problems.append(
                    Problem("damaged-readings", str(path), "", f"cannot be read ({type(error).__name__})",
                            "the readings of a committed intake", "Restore the file from a copy")
                )  # fmt: skip
    return rows, files, problems


def _rows(path: Path) -> int:
    with pq.ParquetFile(path.absolute()) as file:
        return sum(batch.num_rows for batch in file.iter_batches(_AT_ONCE))
