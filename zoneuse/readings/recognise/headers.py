"""What a column's header says: the quantity, its unit, which probe, or what else stands below it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from ...study import QUANTITIES, not_measured

CELSIUS, FAHRENHEIT, KELVIN = "C", "F", "K"
DEGREES = {"°c": CELSIUS, "℃": CELSIUS, "degc": CELSIUS, "celsius": CELSIUS, "c": CELSIUS, "ºc": CELSIUS,
            "grad": CELSIUS, "°f": FAHRENHEIT, "℉": FAHRENHEIT, "degf": FAHRENHEIT, "fahrenheit": FAHRENHEIT,
            "f": FAHRENHEIT, "ºf": FAHRENHEIT, "kelvin": KELVIN, "k": KELVIN}  # fmt: skip
_STATISTICS = {"min": "min", "minimum": "min", "max": "max", "maximum": "max", "avg": "mean", "average": "mean",
               "mean": "mean", "mittel": "mean", "std": "sd", "sd": "sd", "stdev": "sd", "stddev": "sd",
               "dev": "sd"}  # fmt: skip
_TIME = {
    "date", "time", "datetime", "timestamp", "datum", "zeit", "uhrzeit", "zeitpunkt", "zeitstempel", "fecha",
    "hora", "heure", "horodatage", "data", "ora", "orario", "tijd", "tijdstip", "tid", "dato", "čas", "czas",
    "aika", "epoch", "unixtime", "unix", "ts", "when", "at", "clock", "local", "utc", "day", "日期", "时间", "日時",
    "дата", "время", "fecha/hora", "recorded",
}  # fmt: skip
_ELAPSED = {"elapsed", "seconds", "sec", "secs", "s", "minutes", "min", "mins", "hours", "h", "hrs", "duration",
            "since", "verstrichen", "laufzeit", "ms", "milliseconds"}  # fmt: skip
_INDEX = {"#", "no", "nr", "number", "index", "idx", "record", "sample", "row", "id", "nummer", "n", "lfd", "seq",
          "sequence", "n°", "num", "point", "line", "count"}  # fmt: skip
_EVENTS = {"event", "events", "ereignis", "note", "notes", "comment", "comments", "bemerkung", "message", "alarm",
           "alert", "status", "mark", "marker", "button", "detached", "attached", "connected", "stopped", "started",
           "end", "file", "remark", "remarks", "flag", "annotation"}  # fmt: skip
_UNIT_COLUMN = {"unit", "units", "einheit", "unité", "unidad"}
_QUANTITY_COLUMN = {"quantity", "parameter", "variable", "measure", "measurement", "metric", "type", "property",
                    "größe", "messgröße", "what", "kind"}  # fmt: skip
_VALUE_COLUMN = {
    "value",
    "values",
    "wert",
    "messwert",
    "valeur",
    "valor",
    "valore",
    "reading",
    "result",
    "data",
}
# Serial numbers and the like that some programs put into every header.
_NOISE = re.compile(r"\([^()]*s/n[^()]*\)|\b(?:lgr|sen)?\s*s/n\b:?\s*\S*|#\d+", re.IGNORECASE)
# Units of a tenth: "0.1 °C", "°C x10", "1/10 %". Numbers in them are ten times what they say.
_TENTHS = re.compile(
    r"(?<![\d.,])(?:0[.,]0*1|1/10+)\s*(?:°|º|deg\.?)?\s*[CFK%]|(?<!\w)[x*×]\s?10+(?!\w)|deci-?(?:celsius|deg|°)",
    re.I,
)
TENTHS = "a tenth of a unit"
_CAMEL = re.compile(r"(?<=[a-zäöüé])(?=[A-Z])")
_TOKEN = re.compile(r"[°º]\s?[cf]\b|℃|℉|%\s?rh|%|#|n°|[^\W\d_]+|\d+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a header says. ``rank`` is how plainly: 2 in words, 1 by a letter or a unit alone."""

    quantity: str = ""
    unit: str = ""
    rank: int = 0
    statistic: str = ""
    probe: str = ""
    role: str = ""
    excluded: str = ""


def tokens_of(text: str) -> list[str]:
    """The words of a header, lower case, numbers and units apart.

    >>> tokens_of("RelHumidity_1 (%)")
    ['rel', 'humidity', '1', '%']
    """
    text = _NOISE.sub(" ", text)
    text = re.sub(r"\bdeg(?:rees?)?[. ]*(?=[cf]\b)", "°", text, flags=re.IGNORECASE)
    # The degree sign as a small letter o, where a program knows no other.
    text = re.sub(r"(?<![^\W\d_])o(?=[CF](?![^\W\d_]))", "°", text)
    found = _TOKEN.findall(_CAMEL.sub(" ", text))
    return [re.sub(r"\s", "", token).lower() for token in found]


@lru_cache(maxsize=2048)
def _words(phrase: str) -> list[str]:
    return tokens_of(phrase)


def _phrase_at(tokens: list[str], phrase: str) -> int:
    words = _words(phrase)
    for start in range(len(tokens) - len(words) + 1):
        if tokens[start : start + len(words)] == words:
            return start
    return -1


@lru_cache(maxsize=4096)
def read_header(text: str) -> Meaning:
    """What a header says.

    >>> found = read_header("Temp, °F (LGR S/N: 1, SEN S/N: 1)")
    >>> found.quantity, found.unit
    ('temperature_c', 'F')
    """
    tokens = tokens_of(text)
    if not tokens:
        return Meaning()
    if excluded := _excluded(text, tokens):
        return excluded
    if tokens[0] == "t" and tokens[1:] in (["ms"], ["s"], ["utc"], ["unix"]):
        return Meaning(role="time")
    quantity, rank, used = _quantity(tokens)
    unit = _unit(tokens, quantity)
    if not quantity:
        quantity, rank = _by_unit(tokens, unit)
    statistic = next((_STATISTICS[t] for t in tokens if t in _STATISTICS), "")
    if quantity:
        rest = [t for t in tokens if t not in used and t not in _STATISTICS and not _is_unit(t)]
        return Meaning(quantity, unit, rank, statistic, " ".join(rest))
    return Meaning(role=_role(tokens), unit=unit)


def _excluded(text: str, tokens: list[str]) -> Meaning | None:
    """What is beside the quantities that are stored, or in a unit that is not: never taken in by itself."""
    if _TENTHS.search(text):
        return Meaning(excluded=TENTHS)
    for phrase in not_measured():
        if _phrase_at(tokens, phrase) >= 0:
            role = "event" if _EVENTS & set(tokens) else ""
            return Meaning(role=role, excluded=phrase)
    return None


def _quantity(tokens: list[str]) -> tuple[str, int, set[str]]:
    best: tuple[str, int, set[str]] = ("", 0, set())
    for quantity in QUANTITIES.values():
        for phrase in quantity.words:
            at = _phrase_at(tokens, phrase)
            if at < 0:
                continue
            words = _words(phrase)
            # A single letter names a temperature only as the first word: "T1", not "Don't".
            rank = 2 if max(map(len, words)) > 1 else 1
            if rank == 1 and at > 1:
                continue
            if rank > best[1]:
                best = (quantity.name, rank, set(words))
    if best[1] < 2 and tokens[0] == "h" and ("%" in tokens or "%rh" in tokens):
        return "humidity_pct", 1, {"h"}
    return best


def _is_unit(token: str) -> bool:
    known = {"%", "%rh", "rh", "pct", "percent", "lux", "lx", "deg", "°"}
    return token in DEGREES or token in known or token in {q.unit.casefold() for q in QUANTITIES.values()}


def _unit(tokens: list[str], quantity: str) -> str:
    if quantity in ("", "temperature_c", "surface_c"):
        for token in tokens:
            # A lone letter is a unit only behind the quantity's name: "temp_c".
            if token in DEGREES and (len(token) > 1 or (quantity and token is not tokens[0])):
                return DEGREES[token]
    if "%" in tokens or "%rh" in tokens or "pct" in tokens or "percent" in tokens:
        return "%"
    return "lx" if "lux" in tokens or "lx" in tokens else ""


def _by_unit(tokens: list[str], unit: str) -> tuple[str, int]:
    if unit in (CELSIUS, FAHRENHEIT):
        return "temperature_c", 1
    if "%rh" in tokens:
        return "humidity_pct", 1
    return ("light_lux", 1) if unit == "lx" else ("", 0)


def _role(tokens: list[str]) -> str:
    words = set(tokens)
    if words & _UNIT_COLUMN:
        return "unit"
    if words & _QUANTITY_COLUMN:
        return "quantity"
    if words & {"elapsed", "since", "verstrichen", "laufzeit", "duration"}:
        return "elapsed"
    if words & _TIME and not words & (_EVENTS - {"end", "file"}):
        return "elapsed" if words & (_ELAPSED - {"ms"}) and len(words) > 1 else "time"
    if words & _VALUE_COLUMN:
        return "value"
    if words & _EVENTS:
        return "event"
    if words <= _INDEX:
        return "index"
    return "elapsed" if words & _ELAPSED and len(tokens) <= 2 else ""


def elapsed_unit_ms(text: str) -> float:
    """How many ms one unit of an elapsed-time column is; seconds where the header does not say."""
    words = set(tokens_of(text))
    if words & {"ms", "milliseconds"}:
        return 1.0
    if words & {"min", "mins", "minutes", "minuten"}:
        return 60_000.0
    if words & {"h", "hrs", "hours", "stunden", "hour"}:
        return 3_600_000.0
    if words & {"day", "days", "tage", "d"}:
        return 86_400_000.0
    return 1000.0 if words & {"s", "sec", "secs", "seconds", "sekunden"} else 0.0
