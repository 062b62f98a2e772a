"""The columns of the prefer answer and of its parts."""

from __future__ import annotations

from ..columns import Column, Field, Schema, label_for

_QUANTITY = (Field("quantity", "id", "Name of the quantity"), label_for("quantity", "What it is called"))
_OWN = "the quantity's"
ROWS: Schema = (
    *_QUANTITY,
    Field("shape", "text", "Shape of the curve of choice, or too early"),
    Field("peak", "number", "Turning point of the curve", _OWN, "no peak"),
    Field("peak_low", "number", "95 % set of the turning point", _OWN, "no peak"),
    Field("peak_high", "number", "95 % set of the turning point", _OWN, "no peak"),
    Field("offered_low", "number", "5th percentile of what was offered", _OWN),
    Field("offered_high", "number", "95th percentile of what was offered", _OWN),
    Field("used_median", "number", "Median where the animals were", _OWN),
    Field("used_q25", "number", "First quartile where the animals were", _OWN),
    Field("used_q75", "number", "Third quartile where the animals were", _OWN),
)  # fmt: skip
SHOWN = (
    Column("quantity", "Quantity"),
    Column("shape", "Shape"),
    Column("peak", "Peak", "number"),
    Column("peak", "95 %", "number-range"),
    Column("offered", "Offered", "number-range", narrow=False),
    Column("used_median", "Used", "number"),
    Column("used_q25", "from", "number", narrow=False),
    Column("used_q75", "to", "number", narrow=False),
)
_ZONE = (Field("zone", "id", "Id of the zone or place"), label_for("zone", "What the keeper calls it"))
PARTS: dict[str, Schema] = {
    "used_against_offered": (
        *_QUANTITY,
        Field("used_mean", "number", "Mean where the animals were", _OWN, "not known"),
        Field("offered_mean", "number", "Mean over the zones there then", _OWN, "not known"),
        Field("difference", "number", "Mean over units of used - offered at the same moments", _OWN),
        Field("difference_low", "number", "95 % limits of the difference", _OWN, "a single unit"),
        Field("difference_high", "number", "95 % limits of the difference", _OWN, "a single unit"),
        Field("units", "count", "Independent units behind it", "units"),
    ),
    "bins": (
        *_QUANTITY,
        Field("low", "number", "From", _OWN),
        Field("high", "number", "To", _OWN),
        Field("offered", "number", "Share of what was offered", "share"),
        Field("used", "number", "Share of what was used", "share"),
        Field("ratio", "number", "used / offered", "ratio", "never offered"),
    ),
    "used_ranges": (
        *_QUANTITY,
        *(Field(q, "number", f"{q} of what was used", _OWN) for q in ("q10", "q25", "median", "q75", "q90")),
        Field("in_lowest", "number", "How often the lowest place on offer was used", "share"),
        Field("in_highest", "number", "How often the highest place on offer was used", "share"),
    ),
    "terms": (
        Field("fit", "text", "Which fit: plain, with a constant per place, with staying where it was"),
        Field("term", "text", "The term of the model"),
        Field("coefficient", "number", "Its coefficient", "log odds", "not estimable"),
        Field("se", "number", "Its standard error by unit (jackknife)", "log odds", "not estimable"),
    ),
    "told_apart": (
        Field("one", "text", "A quantity"),
        Field("other", "text", "Another quantity"),
        Field("correlation", "number", "Correlation over what was offered", missing="one of them never differs"),
        Field("at_once", "number", "Correlation within moments", missing="one never differs at one moment"),
        Field("condition_number", "number", "1: free of each other; above 30: they move as one", missing="endless"),
    ),
    "peak_sets": (
        *_QUANTITY,
        Field("fit", "text", "plain or with a constant per place"),
        Field("low", "number", "95 % set of turning points inside what was offered", _OWN),
        Field("high", "number", "95 % set of turning points inside what was offered", _OWN),
    ),
    "evidence_within_zones": (
        *_QUANTITY,
        Field("within", "number", "Part of the differences that comes from change within zones over time", "share"),
    ),
    "models": (
        Field("model", "text", "The quantities in the model"),
        Field("held_out_loglik", "number", "Log likelihood in sessions left out of the fit"),
        Field("better_by", "number", "That over the model that knows no conditions"),
        Field("se", "number", "Its standard error", missing="a single unit"),
    ),
    "set_range": (
        *_QUANTITY,
        Field("low", "number", "The keeper's set range", _OWN),
        Field("high", "number", "The keeper's set range", _OWN),
        Field("accuracy", "number", "Mean deviation where the animals were (Hertz et al. 1993)", _OWN),
        Field("quality", "number", "Mean deviation over what was offered", _OWN),
        Field("effectiveness", "number", "1 - accuracy / quality", missing="the offer itself fits"),
        Field("gain", "number", "quality - accuracy", _OWN),
        Field("source", "text", "Where the keeper has the range from"),
    ),
    "why": (
        *_ZONE,
        Field("best", "id", "The place used most for its share"),
        label_for("best", "What the keeper calls it"),
        Field("term", "text", "A quantity, cover, size, or the place itself"),
        Field("part", "number", "What it speaks against the zone; parts add up", "log odds"),
        Field("part_low", "number", "95 % limits of the part", "log odds", "not estimable"),
        Field("part_high", "number", "95 % limits of the part", "log odds", "not estimable"),
        Field("difference", "number", "Mean of the term in the zone minus in the best one", _OWN, "no quantity"),
        Field("cause", "flag", "Whether it is the largest part and stands clear of the next"),
        Field("share_if_as_best", "number", "Share expected with the best place's value", "share", "no quantity"),
    ),
    "what_if": (
        *_ZONE,
        Field("share_now", "number", "Share expected as it is", "share"),
        Field("share", "number", "Share expected under the change", "share"),
        Field("low", "number", "90 % limits in so many sessions", "share"),
        Field("high", "number", "90 % limits in so many sessions", "share"),
        Field("sessions", "count", "Sessions to come", "sessions"),
    ),
}  # fmt: skip
