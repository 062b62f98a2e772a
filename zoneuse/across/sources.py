"""Where studies come from: folders, shared files, trees of either, and object storage by its address."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..study.problems import fault

_ADDRESS = re.compile(r"(s3|gs|gcs|abfs|abfss|hdfs|file)://")
_MOST_FOUND = 20_000


def found_at(path: Path, named: str = "") -> list[Path]:
    """The studies and shared files at a path: itself, or everything below it, in order of their names.

    ``named`` is the address it was fetched from. Raises ProblemError where there is neither.
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
    return found[:_MOST_FOUND]


@contextmanager
def at_hand(address: str) -> Iterator[Path]:
    """A path on this machine: itself, or what stands at an address, fetched into a folder that goes."""
    if not _ADDRESS.match(address):
        yield Path(address)
        return
    from pyarrow import fs

    system, place = fs.FileSystem.from_uri(address)
    with tempfile.TemporaryDirectory(prefix="zoneuse-") as folder:
        for info in system.get_file_info(fs.FileSelector(place, recursive=True, allow_not_found=True)):
            inside = (
                Path(info.path).relative_to(place) if info.path.startswith(place) else Path(info.base_name)
            )
            wanted = inside.name == "study.toml" or inside.suffix in (".jsonl", ".json", ".parquet")
            if not info.is_file or not wanted or ".." in inside.parts or inside.is_absolute():
                continue
            target = Path(folder) / inside
            target.parent.mkdir(parents=True, exist_ok=True)
            with system.open_input_stream(info.path) as source, target.open("wb") as out:
                while piece := source.read(1 << 20):
                    out.write(piece)
        yield Path(folder)
