"""Add a salt point to study.toml, keeping the keeper's comments and order."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from zoneuse.study.problems import fault

from ...study.durable import write_whole
from .salts import salt_humidity_pct, salt_name


def add_salt_point(
    study_file: Path, logger: str, salt: str, at_c: float, shown_pct: float, *, on: date
) -> float:
    """Write a salt point of a logger into study.toml. Returns the true humidity above that salt, %.

    Raises ProblemError for an unknown logger or salt, or values that cannot be; the file is untouched then.
    """
    import tomlkit

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
    document = tomlkit.parse(study_file.read_text(encoding="utf-8-sig"))
    loggers = document.get("loggers", {})
    if logger not in loggers:
        known = ", ".join(loggers) or "none yet"
        raise fault(
            "no-logger",
            study_file,
            f"loggers.{logger}",
            "there is no such logger",
            f"one of: {known}",
            remedy="",
        )
    entry = tomlkit.inline_table()
    entry.update({"salt": name, "at_c": at_c, "shown_pct": shown_pct, "on": on})
    table = loggers[logger]
    if entry.unwrap() in [dict(p) for p in table.unwrap().get("salt_points", [])]:
        return true  # the same check, given twice
    if "salt_points" in table:
        table["salt_points"].append(entry)
    else:
        points = tomlkit.array()
        points.append(entry)
        table["salt_points"] = points
    write_whole(study_file, tomlkit.dumps(document).encode())
    return true
