"""The columns of the shifts answer and of its parts."""

from __future__ import annotations

from ..columns import Column, Field, Schema, label_for

_CHANGE = Field("adjustment", "id", "Id of the change on record")
_ZONE = (Field("zone", "id", "Id of the zone or place"), label_for("zone", "What the keeper calls it"))
_OWN = "share, or the quantity's"
ROWS: Schema = (
    _CHANGE,
    Field("what", "text", "zone, behaviour or condition"),
    Field("name", "id", "Behaviour or quantity", missing="a zone"),
    label_for("name", "What it is called", "a zone"),
    Field("zone", "id", "Zone or place", missing="a behaviour, or the condition used"),
    label_for("zone", "What the keeper calls it", "a behaviour, or the condition used"),
    Field("before", "number", "Mean before the change", _OWN),
    Field("after", "number", "Mean after it had settled", _OWN),
    Field("change", "number", "after - before", _OWN),
    Field("change_low", "number", "95 % limits of the change", _OWN, "not estimable"),
    Field("change_high", "number", "95 % limits of the change", _OWN, "not estimable"),
    Field("p", "number", "Chance of a change as large by luck", "chance", "not tested"),
    Field("p_holm", "number", "The same over all that is compared", "chance", "not tested"),
    Field("nap", "number", "Nonoverlap of all pairs (Parker & Vannest 2009), 0 to 1", missing="a condition by days"),
    Field("sessions_before", "count", "Sessions before; days for the conditions of a zone", "sessions"),
    Field("sessions_after", "count", "Sessions after; days for the conditions of a zone", "sessions"),
)  # fmt: skip
SHOWN = (
    Column("adjustment", "Change"),
    Column("zone or name", "Where, what", "first"),
    Column("before", "Before", "share", narrow=False),
    Column("after", "After", "share"),
    Column("change", "Points", "points"),
    Column("change", "95 %", "points-range", narrow=False),
    Column("p", "By luck", "chance", narrow=False),
)
PARTS: dict[str, Schema] = {
    "overlap": (
        _CHANGE,
        Field("what", "text", "zone, behaviour or condition"),
        Field("name", "id", "Zone, behaviour or quantity"),
        Field("nap", "number", "Nonoverlap of all pairs, 0 to 1"),
        Field("nap_low", "number", "95 % limits of it", missing="not estimable"),
        Field("nap_high", "number", "95 % limits of it", missing="not estimable"),
        Field("tau_u", "number", "Tau-U (Parker et al. 2011), -1 to 1", missing="not defined"),
        Field("log_odds_ratio", "number", "Log odds ratio of the share", missing="a condition"),
        Field("typical_shift", "number", "Hodges-Lehmann shift between the sides", _OWN),
        Field("typical_low", "number", "95 % limits of it", _OWN, "too few units"),
        Field("typical_high", "number", "95 % limits of it", _OWN, "too few units"),
        Field("lag_one", "number", "Dependence between neighbouring units, -1 to 1", missing="too few units"),
        Field("trend", "flag", "Whether a straight trend fits nearly as well as a step"),
        Field("step_beside_trend", "number", "The step beside a trend", _OWN, "too few units"),
        Field("step_low", "number", "95 % limits of it", _OWN, "too few units"),
        Field("step_high", "number", "95 % limits of it", _OWN, "too few units"),
        Field("by_dependent_step", "flag", "Whether p is that of a step that allows for dependence"),
        Field("breaks_at", "time", "Where the series breaks most clearly", missing="nowhere clearly"),
    ),
    "forecasts": (
        _CHANGE,
        *_ZONE,
        Field("forecast", "number", "The share forecast before the change", "share"),
        Field("low", "number", "90 % limits of the forecast", "share"),
        Field("high", "number", "90 % limits of the forecast", "share"),
        Field("came", "number", "The share that came", "share"),
        Field("inside", "flag", "Whether it came inside the limits"),
    ),
    "controls": (
        _CHANGE,
        *_ZONE,
        Field("change", "number", "Change where it was made", "share"),
        Field("controls", "number", "Change where nothing was done", "share"),
        Field("difference", "number", "The first minus the second", "share"),
        Field("low", "number", "95 % limits of the difference", "share", "not estimable"),
        Field("high", "number", "95 % limits of the difference", "share", "not estimable"),
        Field("p", "number", "Over the ways of choosing which were changed", "chance", "too few enclosures"),
        Field("smallest_p", "number", "The smallest p so many enclosures can give", "chance", "no clean control"),
        Field("enclosures", "count", "Enclosures changed", "enclosures", "no clean control"),
        Field("controls_left_alone", "count", "Enclosures left alone", "enclosures", "no clean control"),
    ),
    "reversals": (
        _CHANGE,
        Field("undone_by", "list", "The changes that took it back, made it again, …"),
        *_ZONE,
        Field("without", "number", "Mean share without it", "share"),
        Field("with", "number", "Mean share with it", "share"),
        Field("change", "number", "with - without", "share"),
        Field("change_low", "number", "95 % limits of the change", "share", "not estimable"),
        Field("change_high", "number", "95 % limits of the change", "share", "not estimable"),
        Field("p", "number", "Chance of a change as large by luck", "chance"),
        Field("p_holm", "number", "The same over all zones", "chance"),
        Field("steps", "count", "Steps from phase to phase", "steps"),
        Field("steps_alike", "flag", "Whether all steps went the way they should"),
        Field("verdict", "text", "rose, fell, confounded or too early"),
    ),
    "hours": (
        _CHANGE,
        Field("slot", "text", "Time of day"),
        Field("side", "text", "before or after"),
        Field("units", "count", "Independent units", "units"),
        Field("mean_hour", "number", "Mean hour of the clock", "h"),
    ),
    "reached": (
        *ROWS,
        Field("meant", "flag", "Whether a change of its kind is made for that quantity"),
        Field("lasted_d", "count", "Days until half of the step was gone, or known of so far", "days"),
        Field("faded", "flag", "Whether half of the step was gone"),
    ),
}  # fmt: skip
