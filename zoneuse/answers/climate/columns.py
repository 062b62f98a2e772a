"""The columns of the climate answer."""

from __future__ import annotations

from ..columns import Field, Schema, label_for

_OWN = "the quantity's"
ROWS: Schema = (
    Field("zone", "id", "Id of the zone"),
    label_for("zone", "What the keeper calls it, with its enclosure where there are several"),
    Field("quantity", "id", "Name of the quantity"),
    label_for("quantity", "What it is called"),
    Field("median", "number", "Median of the readings", _OWN),
    Field("p05", "number", "5th percentile", _OWN),
    Field("p95", "number", "95th percentile", _OWN),
    Field("daily_swing", "number", "Median over days of the highest hour minus the lowest", _OWN, "no full day"),
    Field("below_limit_h", "number", "Hours below the keeper's limit", "h", "no such limit"),
    Field("above_limit_h", "number", "Hours above the keeper's limit", "h", "no such limit"),
    Field("drying_per_day", "number", "Points lost a day over the last week", "points a day", "too early"),
    Field("days_left", "number", "Days to the lower limit, from the newest reading", "days", "no limit, or too early"),
    Field("days_left_low", "number", "80 % limits of the days left", "days", "no limit, or cannot be told"),
    Field("days_left_high", "number", "80 % limits of the days left", "days", "no limit, cannot be told, or endless"),
)  # fmt: skip

_ZONE = (Field("zone", "id", "Id of the zone"), label_for("zone", "What the keeper calls it"))
_SERIES = (*_ZONE, Field("quantity", "id", "Name of the quantity"))
PARTS: dict[str, Schema] = {
    "zones": (
        *_SERIES,
        Field("median", "number", "Median of the readings", _OWN),
        Field("p05", "number", "5th percentile", _OWN),
        Field("p95", "number", "95th percentile", _OWN),
        Field("day", "number", "Median by day", _OWN, "no reading by day, or no lights"),
        Field("night", "number", "Median at night", _OWN, "no reading at night, or no lights"),
        Field("daily_swing", "number", "Median over days of the highest hour minus the lowest", _OWN, "no full day"),
        Field("below_limit_h", "number", "Hours below the keeper's limit", "h", "no such limit"),
        Field("above_limit_h", "number", "Hours above the keeper's limit", "h", "no such limit"),
        Field("covered", "number", "Share of the time with a value", "share"),
        Field("hours", "number", "Hours with a value", "h"),
        Field("newest_at", "time", "When the newest reading was made"),
        Field("newest", "number", "The newest reading", _OWN),
        Field("checked", "time", "Day of the sensor's last salt check", missing="never, or none is needed"),
        Field("check_age_days", "number", "Days from that to the newest reading", "days", "never checked"),
        Field("accuracy", "number", "How far a value may be off", _OWN),
        Field("accuracy_declared", "flag", "Whether study.toml says so; else the usual one is taken"),
        Field("loggers", "text", "Ids of the loggers, parted by commas"),
    ),
    "gradients": (
        Field("enclosure", "id", "Id of the enclosure"),
        Field("slot", "text", "Time of day"),
        Field("quantity", "id", "Name of the quantity"),
        *_ZONE,
        Field("other", "id", "Id of the other zone"),
        label_for("other", "What the keeper calls it"),
        Field("difference", "number", "Median of zone - other at the same moments, never negative", _OWN),
        Field("difference_p05", "number", "5th percentile of it", _OWN),
        Field("difference_p95", "number", "95th percentile of it", _OWN),
        Field("sensors_tell", "number", "What two such sensors can tell", _OWN),
        Field("measurable", "flag", "Whether the difference is larger than that"),
        Field("hours", "number", "Hours with both readings", "h"),
    ),
    "serves": (
        *_ZONE,
        Field("serves", "text", "What the keeper says it serves"),
        Field("quantity", "id", "Name of the quantity"),
        Field("over", "text", "all, or last 7 days"),
        Field("slot", "text", "Time of day"),
        Field("difference", "number", "Median of the zone minus the open at the same moments", _OWN),
        Field("sensors_tell", "number", "What two such sensors can tell", _OWN),
        Field("serving", "flag", "Whether it serves"),
        Field("hours", "number", "Hours with both readings", "h"),
    ),
    "responses": (
        *_SERIES,
        Field("adjustment", "id", "The change on record", missing="found in the readings"),
        Field("at", "time", "When water went in"),
        Field("source", "text", "on record, or found"),
        Field("before", "number", "Level before", "%", "not known"),
        Field("peak", "number", "Highest level after", "%", "not known"),
        Field("rise", "number", "peak - before", "points", "not known"),
        Field("to_peak_h", "number", "Hours to the peak", "h", "not known"),
        Field("held_days", "number", "Days it held", "days", "not known"),
        Field("held_until", "text", "limit, half of the rise, or next water", missing="it still holds"),
    ),
    "chart": (
        *_SERIES,
        Field("day", "number", "Day, 0 is the newest reading", "days"),
        Field("median", "number", "Median of the day, or forecast", "%", "no reading"),
        Field("low", "number", "80 % limits of the forecast", "%", "measured"),
        Field("high", "number", "80 % limits of the forecast", "%", "measured"),
        Field("ahead", "flag", "Whether it is forecast"),
    ),
    "alerts": (
        *_SERIES,
        Field("why", "text", "What needs the keeper, in words"),
    ),
    "backtest": (
        *_SERIES,
        Field("crossed_at", "time", "When the limit was crossed"),
        Field("days_before", "count", "Days before that the forecast was made", "days"),
        Field("past_cycles", "count", "Earlier cycles known then", "cycles"),
        Field("days_left", "number", "Days left it said", "days", "none could be made"),
        Field("days_left_low", "number", "80 % limits of it", "days", "none could be made"),
        Field("days_left_high", "number", "80 % limits of it", "days", "none could be made, or endless"),
        Field("error", "number", "Days it was off", "days", "none could be made"),
        Field("held", "flag", "Whether the limits held the crossing", missing="none could be made"),
    ),
}  # fmt: skip
