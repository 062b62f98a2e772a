"""What can be measured: one registry. A new quantity is one entry here, and everything else follows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """One measured quantity, as it is stored and shown.

    ``low`` and ``high`` bound what can be true of an enclosure: outside them a reading is a fault of the
    sensor. ``near`` is how far two readings of one instant may differ and still be the same one, written
    with other rounding. ``words`` name it in the headers of exports, in several languages, folded to
    lower case; a phrase counts as whole words.
    """

    name: str
    unit: str
    label: str
    low: float
    high: float
    near: float
    words: tuple[str, ...]


def _q(name: str, unit: str, label: str, low: float, high: float, near: float, words: str) -> Quantity:
    return Quantity(name, unit, label, low, high, near, tuple(word.strip() for word in words.split("|")))


# Order matters where one name holds another ("surface temperature", "soil moisture"): the first match counts.
# The bounds of temperature and humidity are those beyond which a keeper's logger is broken, not the animal's.
QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        _q("soil_moisture_pct", "%", "substrate moisture", 0, 100, 0.06,
           "soil moisture|substrate moisture|vwc|bodenfeuchte|substratfeuchte|humedad del suelo"
           "|humidité du sol|umidità del suolo|bodemvocht|moisture"),
        _q("surface_c", "°C", "surface temperature", -20, 90, 0.06,
           "surface temperature|surface temp|surface|ir temp|ir temperature|infrared|oberflächentemperatur"
           "|oberfläche|température de surface|temperatura superficial"),
        _q("uv_index", "", "UV index", 0, 25, 0.006, "uv index|uvi|uv-index|indice uv|índice uv"),
        _q("light_lux", "lx", "light", 0, 200_000, 0.6,
           "illuminance|light|lux|intensity|helligkeit|beleuchtungsstärke|licht|lumière|luz|luce|éclairement"),
        _q("humidity_pct", "%", "humidity", 0.5, 105, 0.06,
           "humidity|relative humidity|rel humidity|rel hum|hum|rh|rh%|humi|luftfeuchtigkeit|luftfeuchte"
           "|feuchtigkeit|feuchte|relative feuchte|rel feuchte|rf|r f|r h|hr|humedad|humidité|umidità|umidade"
           "|vochtigheid|luchtvochtigheid|rv|luftfuktighet|fuktighet|luftfugtighed|fugtighed|vlhkost"
           "|wilgotność|kosteus|ilmankosteus|páratartalom|nem|влажность|湿度"),
        _q("temperature_c", "°C", "temperature", -20, 70, 0.06,
           "temperature|temp|temperatur|lufttemperatur|température|temperatura|temperatuur|teplota|lämpötila"
           "|hőmérséklet|sıcaklık|temperatura powietrza|air temperature|air temp|air t|ambient"
           "|t|tair|ta|tmp|celsius|fahrenheit|температура|温度"),
    )
}  # fmt: skip

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
)  # fmt: skip


def fahrenheit_to_celsius(value: float) -> float:
    """A temperature in °F as °C; a difference of temperatures is not converted with this.

    >>> fahrenheit_to_celsius(77.0)
    25.0
    """
    return (value - 32.0) / 1.8
