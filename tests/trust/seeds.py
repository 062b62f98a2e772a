"""Where fuzzing starts from: sound files of each kind."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.making import FIXTURES, TWO_ZONES
from tests.readings.test_layouts import ASKED, READ

_DEMOS = Path(__file__).parent.parent.parent / "demo_sessions"


def layouts() -> list[bytes]:
    return [text.encode() for text in (*READ.values(), *(text for text, _ in ASKED.values()))] + [
        READ["utf-16"].encode("utf-16")
    ]


def journals() -> list[bytes]:
    """Short journals, as they are and with the mark that has their checksums made to fit."""
    whole = [path.read_bytes() for path in sorted((_DEMOS / "cellar" / "journal").glob("*.jsonl"))]
    short = [data for data in whole if len(data) < 6000]
    few = [b"".join(line + b"\n" for line in data.split(b"\n")[:8]) for data in whole[:3]]
    return [*short, *few, *(b"\x00" + data for data in (*short, *few))]


def tables() -> list[bytes]:
    head = "at,session,animal,zone,behaviour,observer,group,count,method\n"
    rows = (
        "2026-03-01T19:00,1,a1,moss,resting,mk,,,scan\n",
        "01.03.2026 19:01,1,a2,,,mk,,1,scan\n",
        "2026-03-01T19:02+01:00,1,,bark,,,young,3,scan\n",
        "2026-10-25T02:30,2,a1,moss,strike,,,,ad-libitum\n",
        "2026-03-29T02:30,3,a1,b,w,,,,focal\n",
    )
    comma = head + "".join(rows)
    return [
        comma.encode(),
        comma.replace(",", ";").encode("utf-16"),
        comma.replace(",", "\t").encode("cp1252"),
    ]


def studies() -> list[bytes]:
    return [TWO_ZONES.encode(), (FIXTURES / "design_example.toml").read_bytes()] + [
        path.read_bytes() for path in sorted(_DEMOS.glob("*/study.toml"))
    ]


SEEDS: dict[str, Callable[[], list[bytes]]] = {
    "layout": layouts, "understood": layouts, "journal": journals, "table": tables, "study": studies,
}  # fmt: skip
