"""Add a salt point to study.toml, keeping the keeper's comments and order."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

from ...study import Edit, edit_study, fault, read_text
from .salts import salt_humidity_pct, salt_name


def add_salt_point(
    study_file: Path, logger: str, salt: str, at_c: float, shown_pct: float, *, on: date
) -> float:
    """Write a salt point of a logger into study.toml. Returns the true humidity above that salt, %.

    Raises ProblemError for an unknown logger or salt, or values that cannot be; the file is untouched then.
    """
    name = salt_name(salt)
    try:
        true = salt_humidity_pct(salt, at_c)
    except ValueError as error:
        raise fault(
            "salt", study_file, "", str(error), "", remedy="Correct the salt or its temperature in °C"
        ) from None
    if not 0 <= shown_pct <= 110:
        raise fault(
            "salt", study_file, "", f"{shown_pct:g} % is no humidity a sensor shows", "0 to 110 %", remedy=""
        )
    # Loaded on use: tomlkit is needed only here.
    from ...study import edited

    before = read_text(study_file.parent)
    table = tomllib.loads(before.text).get("loggers", {})
    if logger not in table:
        known = ", ".join(table) or "none yet"
        raise fault(
            "no-logger",
            study_file,
            f"loggers.{logger}",
            "there is no such logger",
            f"one of: {known}",
            remedy="",
        )
    entry = {"salt": name, "at_c": at_c, "shown_pct": shown_pct, "on": on}
    points = table[logger].get("salt_points", [])
    if entry in points:
        return true  # the same check, given twice
    place = ("loggers", logger, "salt_points", len(points))
    edit_study(study_file.parent, lambda text: edited(text, [Edit(place, entry)]))
    return true
