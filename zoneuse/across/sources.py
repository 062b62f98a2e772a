"""Where studies come from: folders, shared files, trees of either, and object storage by its address."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..study import Problem, fault

_ADDRESS = re.compile(r"(s3|gs|gcs|abfs|abfss|hdfs|file)://")
MOST_FOUND = 20_000
# What one object may hold, and all behind one address together: a stranger's storage shall not fill the disk.
MOST_OBJECT, MOST_FETCHED = 1_000_000_000, 20_000_000_000


def found_at(path: Path, named: str = "") -> list[Path]:
    """The studies and shared files at a path: itself, or everything below it, in order of their names.

    ``named`` is the address it was fetched from. Raises ProblemError where there is neither, or more than
    ``MOST_FOUND``.
    """
    if path.is_file():
        return [path]
    if (path / "study.toml").exists():
        return [path]
    found = sorted({p.parent for p in path.rglob("study.toml")} | set(path.rglob("*.zoneuse.json")))
    if not found:
        raise fault(
            "nothing-shared", named or path, "", "holds no study and no shared file",
            "a folder with a study.toml, or NAME.zoneuse.json",
            remedy="Give the folder of a study, or a file written by zoneuse share",
        )  # fmt: skip
    if len(found) > MOST_FOUND:
        raise fault(
            "too-many", named or path, "", f"holds {len(found):,} studies", f"at most {MOST_FOUND:,}",
            remedy="Give the folders in it one by one",
        )  # fmt: skip
    return found


@contextmanager
def at_hand(address: str, problems: list[Problem]) -> Iterator[Path]:
    """A path on this machine: itself, or what stands at an address, fetched into a folder that goes.

    What is too large to fetch is named in ``problems``; its study is read without it, or fails by itself.
    """
    if not _ADDRESS.match(address):
        yield Path(address)
        return
    with tempfile.TemporaryDirectory(prefix="zoneuse-") as folder:
        _fetch(address, Path(folder), problems)
        yield Path(folder)


def _fetch(address: str, folder: Path, problems: list[Problem]) -> None:
    from pyarrow import fs

    system, place = fs.FileSystem.from_uri(address)
    fetched = 0
    for info in system.get_file_info(fs.FileSelector(place, recursive=True, allow_not_found=True)):
        inside = Path(info.path).relative_to(place) if info.path.startswith(place) else Path(info.base_name)
        wanted = inside.name == "study.toml" or inside.suffix in (".jsonl", ".json", ".parquet")
        if not info.is_file or not wanted or ".." in inside.parts or inside.is_absolute():
            continue
        size = info.size or 0
        if size > MOST_OBJECT or fetched + size > MOST_FETCHED:
            problems.append(
                Problem(
                    "too-large", f"{address}/{inside}", "", f"holds {size / 1e9:.1f} GB and was not fetched",
                    f"at most {MOST_OBJECT / 1e9:g} GB, and {MOST_FETCHED / 1e9:g} GB behind one address",
                    "Summarise that study where it lies (zoneuse share), and give the small file",
                )
            )  # fmt: skip
            continue
        fetched += size
        target = folder / inside
        target.parent.mkdir(parents=True, exist_ok=True)
        with system.open_input_stream(info.path) as source, target.open("wb") as out:
            while piece := source.read(1 << 20):
                out.write(piece)
