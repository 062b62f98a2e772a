"""Odder ways of writing times: months and halves of the day in languages, weekdays, short years, serial days."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta

MONTHS = {
    "german": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "german short": "Jan Feb Mär Apr Mai Jun Jul Aug Sep Okt Nov Dez",
    "french": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "french short": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "spanish": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "spanish short": "ene feb mar abr may jun jul ago sep oct nov dic",
    "italian short": "gen feb mar apr mag giu lug ago set ott nov dic",
    "dutch": "januari februari maart april mei juni juli augustus september oktober november december",
    "dutch short": "jan feb mrt apr mei jun jul aug sep okt nov dec",
    "swedish": "januari februari mars april maj juni juli augusti september oktober november december",
    "polish": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia",
    "czech": "ledna února března dubna května června července srpna září října listopadu prosince",
    "russian": "января февраля марта апреля мая июня июля августа сентября октября ноября декабря",
    "portuguese short": "jan fev mar abr mai jun jul ago set out nov dez",
    "finnish": "tammikuuta helmikuuta maaliskuuta huhtikuuta toukokuuta kesäkuuta heinäkuuta elokuuta syyskuuta "
    "lokakuuta marraskuuta joulukuuta",
    "turkish": "Ocak Şubat Mart Nisan Mayıs Haziran Temmuz Ağustos Eylül Ekim Kasım Aralık",
    "english": "January February March April May June July August September October November December",
}  # fmt: skip
HALVES = (("am", "pm"), ("a.m.", "p.m."), ("a. m.", "p. m."), ("AM", "PM"), ("上午", "下午"), ("오전", "오후"),
          ("π.μ.", "μ.μ."), ("πμ", "μμ"), ("de.", "du."), ("fm", "em"), ("dop.", "odp."), ("ÖÖ", "ÖS"),
          ("vorm.", "nachm."), ("A", "P"))  # fmt: skip
WEEKDAYS = ("Mo Di Mi Do Fr Sa So", "lun. mar. mer. jeu. ven. sam. dim.", "Mon Tue Wed Thu Fri Sat Sun",
            "Monday Tuesday Wednesday Thursday Friday Saturday Sunday", "ma ti ke to pe la su")  # fmt: skip


def _half(t: datetime, rng_pair: tuple[str, str], first: bool, seconds: bool) -> str:
    hour = (t.hour - 1) % 12 + 1
    clock = f"{hour}:{t.minute:02d}" + (f":{t.second:02d}" if seconds else "")
    word = rng_pair[t.hour >= 12]
    return f"{word} {clock}" if first else f"{clock} {word}"


def _of_24(t: datetime) -> list[str]:
    """Midnight as the end of the day before."""
    return [f"{t - timedelta(days=1):%Y-%m-%d} 24:{t:%M}" if t.hour == 0 else f"{t:%Y-%m-%d %H:%M}"]


def _serial(t: datetime) -> float:
    return (t - datetime(1899, 12, 30)) / timedelta(days=1)


def odd_way(rng: random.Random) -> tuple[str, list[str], Callable[[datetime], list[str]], str | None]:
    """A way of writing times: (what, names of its columns, its cells, order of dates where it is open)."""
    language = rng.choice(sorted(MONTHS))
    month = MONTHS[language].split()
    pair = rng.choice(HALVES)
    first = pair[0] in ("上午", "오전") or rng.random() < 0.05
    seconds = rng.random() < 0.5
    days = rng.choice(WEEKDAYS).split()
    one = [rng.choice(["Date Time", "Timestamp", "Zeit", "Date/Time", "Datetime", "time"])]
    two = list(rng.choice([("Date", "Time"), ("Datum", "Zeit"), ("Date", "Hour"), ("Fecha", "Hora")]))
    ways: list[tuple[str, list[str], Callable[[datetime], list[str]], str | None]] = [
        (f"month {language}", one, lambda t: [f"{t.day} {month[t.month - 1]} {t.year} {t:%H:%M}"], None),
        (f"month dots {language}", one, lambda t: [f"{t.day}. {month[t.month - 1]} {t.year} {t:%H:%M:%S}"], None),
        (f"month dashes {language}", one, lambda t: [f"{t.day:02d}-{month[t.month - 1]}-{t:%y %H:%M}"], None),
        (f"month apart {language}", two, lambda t: [f"{t.day:02d} {month[t.month - 1]} {t.year}", f"{t:%H:%M}"], None),
        (f"month first {language}", one, lambda t: [f"{month[t.month - 1]} {t.day}, {t.year} {t:%H:%M}"], None),
        (f"halves {pair[0]}", one, lambda t: [f"{t:%Y-%m-%d} {_half(t, pair, first, seconds)}"], None),
        (f"halves apart {pair[0]}", two, lambda t: [f"{t:%d/%m/%Y}", _half(t, pair, first, seconds)], "DMY"),
        (f"halves american {pair[0]}", one, lambda t: [f"{t.month}/{t.day}/{t.year} {_half(t, pair, first, seconds)}"],
         "MDY"),
        ("weekday", one, lambda t: [f"{days[t.weekday()]} {t:%d.%m.%Y %H:%M}"], "DMY"),
        ("weekday comma", one, lambda t: [f"{days[t.weekday()]}, {t:%d.%m.%Y, %H:%M:%S}"], "DMY"),
        ("weekday apart", ["Day", *two], lambda t: [days[t.weekday()], f"{t:%d.%m.%Y}", f"{t:%H:%M}"], "DMY"),
        ("year of two first", one, lambda t: [f"{t:%y/%m/%d %H:%M}"], "YMD"),
        ("year of two first dashes", one, lambda t: [f"{t:%y-%m-%d %H:%M:%S}"], "YMD"),
        ("year of two last", one, lambda t: [f"{t:%d-%m-%y %H:%M}"], "DMY"),
        ("year of two american", one, lambda t: [f"{t:%m-%d-%y %H:%M}"], "MDY"),
        ("no year", one, lambda t: [f"{t:%d.%m. %H:%M}"], None),
        ("fractions of seconds", one, lambda t: [f"{t:%Y-%m-%d %H:%M:%S}.000"], None),
        ("fractions comma", one, lambda t: [f"{t:%d.%m.%Y %H:%M:%S},000"], "DMY"),
        ("hour h", one, lambda t: [f"{t:%d/%m/%Y} {t.hour}h{t.minute:02d}"], "DMY"),
        ("hour colon date", one, lambda t: [f"{t:%d/%b/%Y:%H:%M:%S}"], None),
        ("underscore", one, lambda t: [f"{t:%Y-%m-%d_%H-%M-%S}"], None),
        ("slashes year first", one, lambda t: [f"{t:%Y/%m/%d %H:%M}"], None),
        ("points year first", one, lambda t: [f"{t:%Y.%m.%d %H:%M:%S}"], None),
        ("at word", one, lambda t: [f"{t:%d.%m.%Y} um {t:%H:%M} Uhr"], "DMY"),
        ("short day", one, lambda t: [f"{t.day}/{t.month}/{t.year} {t.hour}:{t.minute:02d}"], "DMY"),
        ("short day american", one, lambda t: [f"{t.month}/{t.day}/{t:%y} {t.hour}:{t.minute:02d}"], "MDY"),
        ("compact apart", two, lambda t: [f"{t:%Y%m%d}", f"{t:%H%M%S}"], None),
        ("compact day first", one, lambda t: [f"{t:%d%m%Y %H%M}"], "DMY"),
        ("compact one", one, lambda t: [f"{t:%Y%m%d%H%M%S}"], None),
        ("compact minutes", one, lambda t: [f"{t:%Y%m%d%H%M}"], None),
        ("six digits", two, lambda t: [f"{t:%d%m%y}", f"{t:%H:%M}"], "DMY"),
        ("iso week", one, lambda t: [f"{t:%G-W%V-%u %H:%M}"], None),
        ("clock of 24", one, _of_24, None),
        ("clock alone", ["Time"], lambda t: [f"{t:%H:%M:%S}"], None),
        ("serial comma", one, lambda t: [f"{_serial(t):.9f}".replace(".", ",")], None),
        ("serial apart", two, lambda t: [str(int(_serial(t))), f"{(t.hour * 60 + t.minute) / 1440:.7f}"], None),
        ("iso", one, lambda t: [f"{t:%Y-%m-%dT%H:%M:%S}"], None),
        ("points", one, lambda t: [f"{t:%d.%m.%Y %H:%M}"], "DMY"),
        ("american", one, lambda t: [f"{t:%m/%d/%Y %H:%M}"], "MDY"),
    ]  # fmt: skip
    return rng.choice(ways)
