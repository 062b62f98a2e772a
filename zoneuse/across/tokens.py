"""Random tokens that stand for a keeper and an enclosure, kept in the user's own configuration and nowhere else."""

from __future__ import annotations

import hashlib
import json
import secrets
from pathlib import Path

from ..study import fault, user_folder, write_whole


def config_file() -> Path:
    """``$XDG_CONFIG_HOME/zoneuse/tokens.json``, or under ``~/.config``."""
    return user_folder("XDG_CONFIG_HOME", ".config") / "tokens.json"


def tokens_for(study: Path) -> tuple[str, str]:
    """The keeper's token and this enclosure's, made where there is none yet.

    An enclosure is known again by its oldest journal, so a study that moves keeps its token. Raises ProblemError
    where the file of tokens is damaged: a new token would make one keeper two.
    """
    path = config_file()
    known = _known(path)
    before = len(known)
    keeper = known.setdefault("keeper", secrets.token_hex(8))
    enclosure = known.setdefault(_mark_of(study), secrets.token_hex(8))
    if len(known) > before:
        write_whole(path, json.dumps(known, indent=1).encode())
    return keeper, enclosure


def _known(path: Path) -> dict[str, str]:
    if not path.exists():
        return {}
    try:
        raw = json.loads(path.read_text("utf-8"))
        if isinstance(raw, dict) and all(isinstance(v, str) for v in raw.values()):
            return dict(raw)
    except (OSError, ValueError):
        pass
    raise fault("tokens", path, "", "cannot be read", "tokens written by zoneuse share",
                remedy="Restore it from a copy; without it you would count as another keeper")  # fmt: skip


def _mark_of(study: Path) -> str:
    first = min((p.name for p in (study / "journal").glob("*.jsonl")), default=str(study.resolve()))
    return hashlib.sha256(first.encode("utf-8", "surrogateescape")).hexdigest()[:32]
