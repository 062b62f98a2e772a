"""What one written time means: a shape such as ``00/00/00 00:00 PM`` is understood once for all its rows."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache

# Where the year stands: known (ISO order, or the month has a name), last (day and month may be either way
# round), or unknown (three numbers of two digits).
KNOWN, YEAR_LAST, UNKNOWN = 0, 1, 2

# Letters that always mean one zone; CST or EST can mean several.
SURE_NAMES = {"CET": 60, "MEZ": 60, "CEST": 120, "MESZ": 120, "WET": 0, "WEST": 60, "EET": 120, "EEST": 180}

_MONTHS = {
    "jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10,
    "nov": 11, "dec": 12,
    "jän": 1, "mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12,  # German
    "janv": 1, "fév": 2, "fev": 2, "févr": 2, "mars": 3, "avr": 4, "juin": 6, "juil": 7, "août": 8, "aout": 8,
    "déc": 12,  # French
    "ene": 1, "abr": 4, "ago": 8, "dic": 12, "set": 9, "sept": 9, "out": 10,  # Spanish, Portuguese
    "gen": 1, "mag": 5, "giu": 6, "lug": 7, "ott": 10,  # Italian
    "mrt": 3, "mei": 5, "maj": 5, "maa": 3,  # Dutch, Scandinavian
}  # fmt: skip
_LONG_MONTHS = {
    "january": 1, "february": 2, "march": 3, "april": 4, "june": 6, "july": 7, "august": 8, "september": 9,
    "october": 10, "november": 11, "december": 12, "januar": 1, "jänner": 1, "februar": 2, "märz": 3,
    "juni": 6,
    "juli": 7, "oktober": 10, "dezember": 12, "janvier": 1, "février": 2, "avril": 4, "juillet": 7,
    "septembre": 9, "octobre": 10, "novembre": 11, "décembre": 12,
}  # fmt: skip
# Polish without its November, which is the Croatian October.
_MORE_MONTHS = (
    "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",  # Spanish
    "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",  # Portuguese
    "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",  # Italian
    "januari februari maart april mei juni juli augustus september oktober november december",  # Dutch
    "januari februari mars april maj juni juli augusti september oktober november december",  # Swedish
    "ledna února března dubna května června července srpna září října listopadu prosince",  # Czech
    "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października - grudnia",  # Polish
    "января февраля марта апреля мая июня июля августа сентября октября ноября декабря",  # Russian
    "tammikuuta helmikuuta maaliskuuta huhtikuuta toukokuuta kesäkuuta heinäkuuta elokuuta syyskuuta "
    "lokakuuta marraskuuta joulukuuta",  # Finnish
    "ocak şubat mart nisan mayıs haziran temmuz ağustos eylül ekim kasım aralık",  # Turkish
)
MONTHS = (
    _MONTHS | _LONG_MONTHS | {m: i for row in _MORE_MONTHS for i, m in enumerate(row.split(), 1) if m != "-"}
)
_MONTH = "(?P<mon>" + "|".join(sorted(MONTHS, key=len, reverse=True)) + r")\.?"
_WEEKDAY = r"(?:[^\W\d]{2,10}\.?,?\s+)?"

_DATES = (
    rf"{_WEEKDAY}(?P<y>\d{{4}})\s*[-/._年]\s*(?P<m>\d{{1,2}})\s*[-/._月]\s*(?P<d>\d{{1,2}})日?\.?",
    rf"{_WEEKDAY}(?P<a>\d{{1,2}})(?P<sep>\s*[-/.]\s*|\s)(?P<b>\d{{1,2}})(?:\s*[-/.]\s*|\s)(?P<c>\d{{4}}|\d\d)\.?",
    r"(?P<ymd>\d{8})",
    rf"{_WEEKDAY}(?P<d>\d{{1,2}})\.?(?:\s+de\s+|[-/ ]?\s*){_MONTH}(?:\s+de\s+|[-/ ,]?\s*)(?P<y>\d{{4}}|\d\d)",
    rf"{_WEEKDAY}{_MONTH}[-/ ]?\s*(?P<d>\d{{1,2}}),?[-/ ]\s*(?P<y>\d{{4}}|\d\d)",
    rf"(?P<y>\d{{4}})[-/ ]?{_MONTH}[-/ ]?(?P<d>\d{{1,2}})",
)
# English, German, Greek, Czech, Hungarian, Finnish, Swedish, Turkish, Albanian, Vietnamese; Chinese, Japanese, Korean.
_HALF = (
    r"(?:(?P<am>a\.?\s?m\.?|vorm\.?|π\.?\s?μ\.?|dop\.?|de\.?|ap\.?|f\.?m\.?|öö|pd|sa|上午|午前|오전)"
    r"|(?P<pm>p\.?\s?m\.?|nachm\.?|μ\.?\s?μ\.?|odp\.?|du\.?|ip\.?|e\.?m\.?|ös|md|ch|下午|午後|오후))"
)
_CLOCK = (
    r"(?P<h>\d{1,2})\s?[:.h]\s?(?P<min>\d{2})(?:\s?[:.m']\s?(?P<s>\d{2})(?:[.,:](?P<f>\d{1,9}))?\s?s?)?"
    # "9:05 p" and "9:05 AEST" begin alike: a half of the day ends where its letters do.
    rf"(?:\s*(?:{_HALF}|(?P<a1>a)|(?P<p1>p))(?![^\W\d_]))?"
)
_HALF_FIRST = rf"{_HALF}\s*(?P<h>\d{{1,2}}):(?P<min>\d{{2}})(?::(?P<s>\d{{2}}))?"
_HOUR_ONLY = rf"(?P<h>\d{{1,2}})\s*{_HALF}"
_COMPACT_CLOCK = r"(?P<hms>\d{6}|\d{4})(?:[.,](?P<f>\d{1,9}))?"
_ZONE = (
    r"(?:\s*(?:(?P<z>z)|(?:utc|gmt)?\s*(?P<sign>[-+−])(?P<oh>\d{2}):?(?P<om>\d{2})?(?:\s*\([^()]*\))?"
    r"|(?:utc|gmt)(?P<sign1>[-+−])(?P<oh1>\d)|uhr|h|\(?(?P<name>[a-z]{3,5})\)?))?"
)
_JOIN = r"(?:\s*[t,;_]\s*|\s+(?:-\s+|at\s+|um\s+|à\s+)?|-)"

_SHAPES = (
    *(rf"{date}{_JOIN}{clock}{_ZONE}" for date in _DATES for clock in (_CLOCK, _HALF_FIRST, _HOUR_ONLY)),
    # 04/Mar/2023:14:05:00, as web servers write, and 2023-03-04_14-05-00, as names of files.
    rf"{_DATES[3]}:{_CLOCK}{_ZONE}",
    rf"{_DATES[0]}_(?P<h>\d{{2}})-(?P<min>\d{{2}})(?:-(?P<s>\d{{2}}))?",
    # The clock before the date, as in 14:05 03.04.2026.
    *(rf"{clock}{_JOIN}{date}" for date in _DATES for clock in (_CLOCK, _HALF_FIRST)),
    rf"(?P<ymd>\d{{8}})(?:{_JOIN})?{_COMPACT_CLOCK}{_ZONE}",
    rf"{_DATES[0]}{_JOIN}{_COMPACT_CLOCK}{_ZONE}",
    # "Thu Oct 11 12:11:00 CST 2012": the year after the clock, as in many preambles.
    rf"{_WEEKDAY}{_MONTH}\s+(?P<d>\d{{1,2}})\s+{_CLOCK}(?:\s+(?P<name>[a-z]{{3,5}}))?\s+(?P<y>\d{{4}})",
    *_DATES,
    rf"{_CLOCK}{_ZONE}",
    rf"{_HALF_FIRST}{_ZONE}",
    _HOUR_ONLY,
    r"(?P<all>\d{14}|\d{12}|\d{10})" + _ZONE,
    r"(?P<hms>\d{6}|\d{4})",
)


@dataclass(frozen=True, slots=True)
class TimeShape:
    """Where each part of a time stands in a text of this shape, as (start, end) of its digits.

    ``date`` holds three parts in the order written; ``year`` says which is the year (KNOWN: they are given
    as year, month, day). ``offset_sign`` is 0 where the text carries no offset, and ``utc`` marks a final Z.
    """

    date: tuple[tuple[int, int], ...] = ()
    year: int = KNOWN
    month: int = 0
    clock: tuple[tuple[int, int], ...] = ()
    fraction: tuple[int, int] | None = None
    half: str = ""
    offset: tuple[tuple[int, int], ...] = ()
    offset_sign: int = 0
    utc: bool = False
    zone_name: str = ""
    dotted: bool = False
    dashed: bool = False

    @property
    def sure_zone(self) -> int | None:
        """Minutes from UTC of a zone name that means one zone only."""
        return SURE_NAMES.get(self.zone_name)


_ANY_DIGIT = str.maketrans("123456789", "000000000")


def shape_of(text: str) -> TimeShape | None:
    """The shape of a written time, date or clock time; None where it is none of them.

    >>> shape_of("03/04/26 2:05 PM").half, shape_of("91.0")
    ('pm', None)
    """
    # Which digits stand there makes no difference, so that a file's times share a few shapes.
    return _shape_of(text.translate(_ANY_DIGIT))


@lru_cache(maxsize=8192)
def _shape_of(text: str) -> TimeShape | None:
    for pattern in _SHAPES:
        if found := _compiled(pattern).fullmatch(text):
            return _shape(found)
    return None


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    # As it is needed: all of them cost more than a small file takes to read, and most files need a few.
    return re.compile(pattern, re.IGNORECASE)


_SIGNS = {"": 0, "+": 1, "-": -1, "\N{MINUS SIGN}": -1}


def _shape(found: re.Match[str]) -> TimeShape:
    groups = {name: found.span(name) for name, value in found.groupdict().items() if value is not None}
    words = found.groupdict()
    date, year, month = _date_spans(groups, words)
    clock, fraction = _clock_spans(groups)
    half = _half(words)
    sign = words.get("sign") or words.get("sign1") or ""
    offset = tuple(groups[name] for name in ("oh", "oh1", "om") if name in groups)
    name = (words.get("name") or "").upper()
    return TimeShape(
        date=date,
        year=year,
        month=month,
        clock=clock,
        fraction=fraction,
        half=half,
        offset=offset,
        offset_sign=_SIGNS[sign],
        utc="z" in groups or name in ("UTC", "GMT"),
        zone_name="" if name in ("UTC", "GMT") else name,
        dotted="." in (words.get("sep") or ""),
        dashed=bool(date) and found.string[4:5] == "-" == found.string[7:8],
    )


def _half(words: dict[str, str | None]) -> str:
    if words.get("am") or words.get("a1"):
        return "am"
    return "pm" if words.get("pm") or words.get("p1") else ""


def _date_spans(
    groups: dict[str, tuple[int, int]], words: dict[str, str | None]
) -> tuple[tuple[tuple[int, int], ...], int, int]:
    if "a" in groups:
        year_last = groups["c"][1] - groups["c"][0] == 4
        return (groups["a"], groups["b"], groups["c"]), YEAR_LAST if year_last else UNKNOWN, 0
    if "y" in groups:
        month = MONTHS[str(words["mon"]).lower()] if "mon" in groups else 0
        # With a named month the middle span is not used; the day's stands in for it.
        return (groups["y"], groups.get("m", groups["d"]), groups["d"]), KNOWN, month
    for name in ("ymd", "all"):
        if name in groups:
            at = groups[name][0]
            return ((at, at + 4), (at + 4, at + 6), (at + 6, at + 8)), KNOWN, 0
    return (), KNOWN, 0


def _clock_spans(
    groups: dict[str, tuple[int, int]],
) -> tuple[tuple[tuple[int, int], ...], tuple[int, int] | None]:
    fraction = groups.get("f")
    if "h" in groups:
        return tuple(groups[name] for name in ("h", "min", "s") if name in groups), fraction
    if "hms" in groups:
        start, end = groups["hms"]
        return tuple((at, at + 2) for at in range(start, end, 2)), fraction
    if "all" in groups:
        start, end = groups["all"]
        return tuple((at, at + 2) for at in range(start + 8, end, 2)), fraction
    return (), fraction


def plain_spaces(text: str) -> str:
    """Narrow and no-break spaces as plain ones: some programs write them before AM and PM."""
    if text.isascii():
        return text
    return "".join(" " if unicodedata.category(c) == "Zs" else c for c in text)
