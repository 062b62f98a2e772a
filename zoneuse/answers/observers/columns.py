"""The columns of the observers answer and of its parts."""

from __future__ import annotations

from ..columns import Column, Field, Schema, label_for

_PAIR = (
    Field("pair", "text", "The two observers, names sorted, joined by +"),
    Field("what", "text", "zone or behaviour"),
)
ROWS: Schema = (
    *_PAIR,
    Field("moments", "count", "Moments both recorded", "moments"),
    Field("agreement", "number", "Share of them on which they agree", "share"),
    Field("kappa", "number", "Cohen's kappa (1960)", missing="one category only"),
    Field("kappa_low", "number", "95 % limits of kappa, over sessions", missing="one session, or a rare code"),
    Field("kappa_high", "number", "95 % limits of kappa, over sessions", missing="one session, or a rare code"),
    Field("ac1", "number", "Gwet's AC1 (2008)", missing="one category only"),
)  # fmt: skip
SHOWN = (
    Column("pair", "Observers"),
    Column("what", "What"),
    Column("moments", "Moments", "count", narrow=False),
    Column("agreement", "Agreed", "share"),
    Column("kappa", "Kappa", "ratio"),
    Column("kappa", "95 %", "ratio-range", narrow=False),
    Column("ac1", "AC1", "ratio"),
)
CONFUSED = (
    Column("what", "What", narrow=False),
    Column("one", "One said"),
    Column("other", "the other"),
    Column("moments", "Times", "count"),
    Column("sessions", "Sessions", "count", narrow=False),
    Column("kappa_lost", "Kappa lost", "ratio"),
)
PARTS: dict[str, Schema] = {
    "confusion": (
        *_PAIR,
        Field("one", "id", "What the one said"),
        label_for("one", "What the keeper calls it"),
        Field("other", "id", "What the other said"),
        label_for("other", "What the keeper calls it"),
        Field("moments", "count", "Moments in which the two were taken for each other", "moments"),
        Field("one_other", "count", "Moments in which the first said the one and the second the other", "moments"),
        Field("other_one", "count", "Moments the other way round", "moments"),
        Field("sessions", "count", "Sessions in which that came up", "sessions"),
        Field("kappa_lost", "number", "How much higher kappa would be without", missing="not defined"),
    ),
    "counts": (
        *_PAIR,
        Field("first_said", "id", "What the first said"),
        Field("second_said", "id", "What the second said"),
        Field("moments", "count", "Moments", "moments"),
    ),
    "categories": (
        *_PAIR,
        Field("category", "id", "Zone or behaviour"),
        label_for("category", "What the keeper calls it"),
        Field("examples", "count", "Moments in which either said it", "moments"),
        Field("both", "count", "Moments in which both said it", "moments"),
        Field("agreement", "number", "Share on which they agree of those either said", "share", "never said"),
        Field("low", "number", "Family-wise limits of it: for all categories at once", "share", "too few"),
        Field("high", "number", "Family-wise limits of it: for all categories at once", "share", "too few"),
        Field("enough", "flag", "Whether there are enough examples to say anything"),
    ),
    "clocks": (
        Field("pair", "text", "The two observers"),
        Field("second_ahead_s", "number", "By how much the second's clock runs ahead", "s", "cannot be told"),
        Field("low", "number", "95 % limits of it", "s", "cannot be told"),
        Field("high", "number", "95 % limits of it", "s", "cannot be told"),
        Field("changes_matched", "count", "Changes seen alike by both", "changes"),
        Field("changes_possible", "count", "Changes that could have been", "changes"),
        Field("applied", "flag", "Whether it was allowed for before matching"),
    ),
    "several": (
        Field("observers", "text", "All observers"),
        Field("what", "text", "zone or behaviour"),
        Field("moments", "count", "Moments at least two recorded", "moments"),
        Field("agreement", "number", "Share of pairs of records that agree", "share"),
        Field("alpha", "number", "Krippendorff's alpha", missing="one category only"),
        Field("alpha_low", "number", "95 % limits of alpha, over sessions", missing="a single session"),
        Field("alpha_high", "number", "95 % limits of alpha, over sessions", missing="a single session"),
        Field("kappa", "number", "Fleiss' kappa", missing="gaps, or one category only"),
        Field("ac1", "number", "Gwet's AC1", missing="gaps, or one category only"),
    ),
    "differing": (
        Field("pair", "text", "The two observers"),
        Field("at", "time", "When"),
        Field("animal", "id", "Id of the animal"),
        label_for("animal", "What the keeper calls it"),
        Field("session", "text", "The first's session"),
        Field("session_other", "text", "The second's session"),
        Field("zone", "id", "Where the first had it"),
        Field("zone_other", "id", "Where the second had it"),
        Field("behaviour", "id", "What it did, by the first", missing="not recorded"),
        Field("behaviour_other", "id", "What it did, by the second", missing="not recorded"),
    ),
}  # fmt: skip
