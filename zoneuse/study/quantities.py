"""What can be measured: one registry with all its traits. A new quantity is one entry here, and all else follows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity, as it is stored, checked, modelled and shown.

    ``low`` and ``high`` bound what can be true of an enclosure: outside them a reading is a fault of the
    sensor. ``codes`` bound what may stand in a file at all: loggers write codes for "no sensor" far outside.
    ``near`` is how far two readings of one instant may differ and still be the same one, written
    with other rounding. ``words`` name it in the headers of exports, in several languages, folded to
    lower case; a phrase counts as whole words.

    ``accuracy`` is what loggers of keepers usually tell within, where none is declared (common practice, no
    source); ``leap`` how far a single reading must leap from both neighbours to be a spike (None: it may leap);
    ``may_stay``: one value for days is no fault. ``moisture`` quantities dry and are topped up with water.
    ``modelled`` ones enter the choice model as a condition. ``step`` is a difference worth a word in odds.

    ``symbol`` heads a narrow column, ``short`` names it where room is scarce, ``digits`` are decimals in
    sentences and ``brief_digits`` in tables and on small screens. ``more`` and ``less`` are how a place with more
    or less of it is called, ``too_much`` and ``too_little`` what speaks against one. ``derived_from`` names what a
    derived quantity follows from; its formula is in ``readings.trust.moisture``.
    """

    name: str
    unit: str
    label: str
    low: float
    high: float
    near: float
    words: tuple[str, ...] = ()
    codes: tuple[float, float] | None = None
    accuracy: float = 0.0
    leap: float | None = None
    may_stay: bool = True
    moisture: bool = False
    modelled: bool = True
    step: float | None = None
    symbol: str = ""
    short: str = ""
    digits: int = 1
    brief_digits: int = 1
    more: str = "higher"
    less: str = "lower"
    too_much: str = ""
    too_little: str = ""
    derived_from: tuple[str, ...] = ()

    @property
    def degrees(self) -> bool:
        """Whether it is shown in °F where the keeper wants that."""
        return self.unit == "°C"

    @property
    def in_files(self) -> tuple[float, float]:
        """What a file may hold: beyond, a number is a code. Without codes of its own, three spans around the truth."""
        span = self.high - self.low
        return self.codes or (self.low - span, self.high + span)


def _words(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split("|"))


# Order matters where one name holds another ("surface temperature", "soil moisture"): the first match counts.
# The bounds of temperature and humidity are those beyond which a keeper's logger is broken, not the animal's.
QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        Quantity(
            "soil_moisture_pct", "%", "substrate moisture", 0, 100, 0.06,
            _words("soil moisture|substrate moisture|vwc|bodenfeuchte|substratfeuchte|humedad del suelo"
                "|humidité du sol|umidità del suolo|bodemvocht|moisture"),
            codes=(-50, 200), accuracy=5.0, leap=10.0, may_stay=False, moisture=True, step=10.0,
            symbol="% soil", short="soil", brief_digits=0, more="moister", less="drier", too_much="too wet",
            too_little="too dry",
        ),
        Quantity(
            "surface_c", "°C", "surface temperature", -20, 90, 0.06,
            _words("surface temperature|surface temp|surface|ir temp|ir temperature|infrared|oberflächentemperatur"
                "|oberfläche|température de surface|temperatura superficial"),
            codes=(-90, 200), accuracy=2.0, leap=10.0, may_stay=False, step=1.0,
            symbol="surf. °C", short="surface", more="warmer", less="cooler", too_much="too warm",
            too_little="too cool",
        ),
        Quantity(
            "uv_index", "", "UV index", 0, 25, 0.006,
            _words("uv index|uvi|uv-index|indice uv|índice uv"),
            codes=(-1, 100), accuracy=0.5, symbol="UVI", short="UV", digits=2, too_much="too much UV",
            too_little="too little UV",
        ),
        Quantity(
            "light_lux", "lx", "light", 0, 200_000, 0.6,
            _words("illuminance|light|lux|intensity|helligkeit|beleuchtungsstärke|licht|lumière|luz|luce|éclairement"),
            codes=(-100, 1e6), accuracy=100.0, symbol="lx", short="light", digits=0, brief_digits=0, more="brighter",
            less="darker", too_much="too bright", too_little="too dark",
        ),
        Quantity(
            "humidity_pct", "%", "humidity", 0.5, 105, 0.06,
            _words("humidity|relative humidity|rel humidity|rel hum|hum|rh|rh%|humi|luftfeuchtigkeit|luftfeuchte"
                "|feuchtigkeit|feuchte|relative feuchte|rel feuchte|rf|r f|r h|hr|humedad|humidité|umidità|umidade"
                "|vochtigheid|luchtvochtigheid|rv|luftfuktighet|fuktighet|luftfugtighed|fugtighed|vlhkost"
                "|wilgotność|kosteus|ilmankosteus|páratartalom|nem|влажность|湿度|相对湿度|相対湿度|습도|υγρασία|الرطوبة|לחות"),
            codes=(-10, 150), accuracy=5.0, leap=20.0, may_stay=False, moisture=True, step=10.0,
            symbol="% RH", short="humidity", brief_digits=0, more="moister", less="drier", too_much="too moist",
            too_little="too dry",
        ),
        Quantity(
            "temperature_c", "°C", "temperature", -20, 70, 0.06,
            _words("temperature|temp|temperatur|lufttemperatur|température|temperatura|temperatuur|teplota|lämpötila"
                "|hőmérséklet|sıcaklık|temperatura powietrza|air temperature|air temp|air t|ambient"
                "|t|tair|ta|tmp|celsius|fahrenheit|температура|温度|気温|气温"
                "|온도|기온|θερμοκρασία|درجة الحرارة|טמפרטורה"),
            codes=(-90, 150), accuracy=0.5, leap=5.0, may_stay=False, step=1.0, symbol="°C", short="temp.",
            more="warmer", less="cooler", too_much="too warm", too_little="too cool",
        ),
    )
}  # fmt: skip

# What follows from the quantities above; never stored.
DERIVED: dict[str, Quantity] = {
    q.name: q
    for q in (
        Quantity(
            "vpd_kpa", "kPa", "vapour pressure deficit", 0, 35, 0.01, modelled=False, symbol="VPD kPa", short="VPD",
            digits=2, brief_digits=2, more="drier", less="moister", derived_from=("temperature_c", "humidity_pct"),
        ),
        Quantity(
            "dew_point_c", "°C", "dew point", -80, 70, 0.06, modelled=False, symbol="dew °C", short="dew",
            more="moister", less="drier", derived_from=("temperature_c", "humidity_pct"),
        ),
    )
}  # fmt: skip

# The order in which quantities are listed where both kinds are: first what keepers ask for.
_FIRST = ("temperature_c", "humidity_pct")


def quantity(name: str) -> Quantity:
    """A quantity by name, measured or derived. Raises KeyError for one that is neither."""
    return QUANTITIES[name] if name in QUANTITIES else DERIVED[name]


def in_order() -> list[str]:
    """Every quantity as it is listed: what keepers ask for, what follows from it, then the others."""
    return list(dict.fromkeys((*_FIRST, *DERIVED, *QUANTITIES)))


def modelled() -> list[str]:
    """The quantities that enter the choice model as conditions, in the order in which they are listed."""
    return [
        q
        for q in dict.fromkeys((*_FIRST, "surface_c", "light_lux", "uv_index", *QUANTITIES))
        if quantity(q).modelled
    ]


def moisture() -> list[str]:
    """The quantities that say how moist a place is."""
    return [q.name for q in QUANTITIES.values() if q.moisture]


def not_measured() -> list[str]:
    """Words of columns beside the quantities; a quantity that is in the registry is measured, whatever stands here."""
    named = {word for q in QUANTITIES.values() for word in q.words}
    return [phrase for phrase in NOT_MEASURED if phrase not in named]


# Written beside the quantities above, and none of them: derived, set or about the logger itself.
NOT_MEASURED: tuple[str, ...] = (
    "dew point", "dewpoint", "dew", "taupunkt", "point de rosée", "punto de rocío", "punto di rugiada",
    "dauwpunt",
    "wet bulb", "wetbulb", "heat index", "feels like", "humidex", "frost point", "vpd", "vapour pressure",
    "vapor pressure", "absolute humidity", "abs humidity", "absolute feuchte", "absolute luftfeuchtigkeit",
    "humidity ratio", "humidityratio", "mixing ratio", "specific humidity", "battery", "batt",
    "batterie", "akku",
    "alarm", "limit", "setpoint", "set point", "threshold", "signal", "rssi", "pressure", "co2", "status",
    "interval", "count", "altitude", "wind",
    "target", "desired", "sollwert", "solltemperatur", "sollfeuchte", "soll", "consigne", "setting", "hysteresis",
    "heatindex", "hitzeindex", "windchill", "gefühlte", "ressentie", "точка росы", "точки росы", "rosný bod",
    "punkt rosy", "daggpunkt", "duggpunkt", "kastepiste", "露点", "ponto de orvalho",
    "qc", "quality", "flag", "offset", "correction", "calibration", "uncertainty", "delta", "forecast", "outlook",
)  # fmt: skip


def fahrenheit_to_celsius(value: float) -> float:
    """A temperature in °F as °C; a difference of temperatures is not converted with this.

    >>> fahrenheit_to_celsius(77.0)
    25.0
    """
    return (value - 32.0) / 1.8


def celsius_to_fahrenheit(value: float) -> float:
    """A temperature in °C as °F; not for a difference.

    >>> celsius_to_fahrenheit(25.0)
    77.0
    """
    return value * 1.8 + 32.0
