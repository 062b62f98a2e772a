"""The columns of the answer across studies and of its part."""

from __future__ import annotations

from ..answers.columns import Column, Field, Schema

_OWN = "its own"
ROWS: Schema = (
    Field("what", "text", "zone, condition, preferred or change"),
    Field("name", "text", "Common name of the place, quantity (^2: how its effect bends), or kind of change"),
    Field("keepers", "count", "Keepers behind it", "keepers"),
    Field("enclosures", "count", "Enclosures behind it", "enclosures"),
    Field(
        "mean",
        "number",
        "Mean over keepers: a ratio to its share, of odds for a step of a condition, the quantity's unit, or a share",
        _OWN,
        "fewer than 3 keepers",
    ),
    Field("low", "number", "95 % limits of the mean", _OWN, "fewer than 3 keepers"),
    Field("high", "number", "95 % limits of the mean", _OWN, "fewer than 3 keepers"),
    Field("next_low", "number", "95 % interval of the next enclosure", _OWN, "fewer than 5 keepers"),
    Field("next_high", "number", "95 % interval of the next enclosure", _OWN, "fewer than 5 keepers"),
    Field(
        "tau",
        "number",
        "Spread between enclosures and keepers; log odds for a zone or condition",
        _OWN,
        "fewer than 3 keepers",
    ),
    Field("around", "number", "The value around which a condition's effect is taken", _OWN, "no condition"),
)
SHOWN = (
    Column("name", "What"),
    Column("keepers", "Keepers", "count"),
    Column("enclosures", "Enclosures", "count", narrow=False),
    Column("mean", "Mean", "number"),
    Column("mean", "95 %", "number", narrow=False),
)
PARTS: dict[str, Schema] = {
    "studies": (
        Field("what", "text", "zone, condition, preferred or change"),
        Field("name", "text", "Common name of the place, quantity, or kind of change"),
        Field("keeper", "text", "Token of the keeper"),
        Field("enclosure", "text", "Token of the enclosure"),
        Field("mean", "number", "Its own estimate", _OWN),
        Field("low", "number", "95 % limits by itself", _OWN, "not known"),
        Field("high", "number", "95 % limits by itself", _OWN, "not known"),
    ),
    "under_other_priors": (
        Field("name", "text", "Common name of the place"),
        Field("prior", "number", "Scale of the half-normal prior of the spread", "log odds"),
        Field("low", "number", "95 % limits of the mean", "ratio"),
        Field("high", "number", "95 % limits of the mean", "ratio"),
    ),
}
