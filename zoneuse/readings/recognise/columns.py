"""What each column of a table holds, by its headers and by what stands in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ..times.time_shapes import shape_of
from .headers import CELSIUS, FAHRENHEIT, Meaning, read_header, tokens_of
from .splitting import MISSING, UNIT_BEHIND, is_measured, is_moment, is_number
from .table_shape import TableShape

_MOST_WORDS = 50
# Words in the name of a column that says which of several places or sensors a row is of.
_SITES = frozenset({
    "site", "station", "location", "loc", "place", "plot", "room", "zone", "tub", "tank", "box", "bin",
    "enclosure", "terrarium", "vivarium", "cage", "hive", "nest", "burrow", "den", "shelf", "rack", "sensor",
    "logger", "device", "probe", "node", "channel", "transmitter", "receiver", "tag", "name", "label", "serial",
    "mac", "address", "source", "object", "position", "spot", "area", "habitat", "colony", "trial", "replicate",
    "treatment", "group", "animal", "ort", "standort", "raum", "kanal", "gerät", "sonde", "fühler",
    "messstelle", "becken", "emplacement", "lieu", "capteur", "salle", "sonda", "lugar", "sitio",
    "sensore", "luogo", "stanza", "plaats", "kamer", "plats", "rum", "sted", "sensorid", "deviceid",
    "stationid", "siteid", "pot", "tray", "pen", "hide",
})  # fmt: skip


def is_site_header(header: str) -> bool:
    """Whether a header says that its column names places or sensors.

    >>> is_site_header("Sensor Name"), is_site_header("Quality")
    (True, False)
    """
    return bool(_SITES & set(tokens_of(header)))


@dataclass(frozen=True, slots=True)
class FileColumn:
    """``kind``: what its cells are: full (date and clock), date, clock, number, text, empty."""

    at: int
    header: str
    meaning: Meaning
    kind: str
    cells: tuple[str, ...]

    @property
    def numbers(self) -> list[float]:
        plain = (UNIT_BEHIND.sub("", c) for c in self.cells)
        return [float(c.replace(",", ".").replace("−", "-")) for c in plain if is_number(c)]

    @property
    def distinct(self) -> list[str]:
        return list(dict.fromkeys(c for c in self.cells if c))


def read_columns(table: TableShape) -> list[FileColumn]:
    return [_column(table, at) for at in range(table.width)]


def last_words(columns: Sequence[FileColumn]) -> frozenset[str]:
    """What stands in the last column, where that is words: a cell beyond it that says the same was moved there."""
    last = columns[-1]
    return frozenset(last.distinct[:_MOST_WORDS]) if last.kind == "text" else frozenset()


def _column(table: TableShape, at: int) -> FileColumn:
    texts = [row[at] for row in table.headers if row[at]]
    meaning = _combined(texts)
    cells = tuple(row[at] for row in table.rows)
    header = next(
        (t for t in texts if read_header(t).quantity or read_header(t).role), texts[0] if texts else ""
    )
    kind = _kind(cells)
    if not meaning.quantity and not meaning.excluded and kind == "number":
        meaning = _by_cells(cells) or meaning
    return FileColumn(at, header, meaning, kind, cells)


def _by_cells(cells: Sequence[str]) -> Meaning | None:
    """What the units behind the numbers say, where every number has the same."""
    found = {
        m.group().strip().casefold() if (m := UNIT_BEHIND.search(c)) else "" for c in cells if is_measured(c)
    }
    if len(found) != 1:
        return None
    unit = found.pop()
    meaning = read_header(f"°{unit}" if unit in ("c", "f") else unit)
    return meaning if meaning.quantity else None


def _combined(texts: Sequence[str]) -> Meaning:
    """One meaning from all header rows over a column: the plainest name, the nearest unit."""
    found = [read_header(text) for text in texts]
    named = [m for m in found if m.quantity]
    excluded = next((m for m in found if m.excluded), None)
    if not named:
        return excluded or next((m for m in found if m.role), Meaning())
    if excluded is not None:
        return excluded
    best = max(named, key=lambda m: m.rank)
    if best.quantity in ("temperature_c", "surface_c"):
        unit = _first_unit(named, (CELSIUS, FAHRENHEIT, "K"))
    else:
        unit = _first_unit((best, *found), ("%", "lx"))
    statistic = next((m.statistic for m in named if m.statistic), "")
    return replace(best, unit=unit or best.unit, statistic=statistic)


def _first_unit(meanings: Iterable[Meaning], units: Sequence[str]) -> str:
    return next((m.unit for m in meanings if m.unit in units), "")


def _kind(cells: Sequence[str]) -> str:
    full = [c for c in cells if c.lower() not in MISSING]
    if not full:
        return "empty"
    numbers = sum(map(is_measured, full))
    moments = [c for c in full if is_moment(c)]
    if len(moments) * 10 >= len(full) * 8:
        dated = clocked = 0
        for cell in moments[:50]:
            shape = shape_of(cell)
            dated += bool(shape and shape.date)
            clocked += bool(shape and shape.clock)
        if dated and clocked:
            return "full"
        return "date" if dated else "clock"
    return "number" if numbers * 10 >= len(full) * 7 else "text"
