"""The columns of the activity answer and of its parts."""

from __future__ import annotations

from ..columns import SECOND_OPINION, Column, Field, Schema, label_for

_BEHAVIOUR = (
    Field("behaviour", "id", "Id of the behaviour"),
    label_for("behaviour", "What the keeper calls it"),
)
ROWS: Schema = (
    *_BEHAVIOUR,
    Field("share", "number", "Mean share of moments with a known behaviour, over units", "share", "a momentary event"),
    Field("per_hour", "number", "Events per animal and hour", "1/h", "a behaviour that lasts"),
    Field("low", "number", "95 % limits of the share or rate", "share or 1/h", "fewer than two units"),
    Field("high", "number", "95 % limits of the share or rate", "share or 1/h", "fewer than two units"),
    Field("n_eff", "number", "Independent looks the units are worth, all behaviours together; events", "looks"),
    Field("df", "number", "Degrees of freedom of the limits", missing="a rate, whose limits are exact"),
    Field("se", "number", "Standard error of the share or rate by itself, unadjusted", "share or 1/h", "none to tell"),
    Field("sessions", "count", "Sessions in which it was recorded", "sessions"),
)  # fmt: skip
SHOWN = (
    Column("behaviour", "Behaviour"),
    Column("share", "Share", "share"),
    Column("per_hour", "Per hour", "number"),
    Column("limits", "95 %", "limits"),
    Column("sessions", "Sessions", "count", narrow=False),
)
PARTS: dict[str, Schema] = {
    "second_opinion": SECOND_OPINION,
    "against_baseline": (
        *_BEHAVIOUR,
        Field("before", "number", "Mean share in the units before", "share"),
        Field("after", "number", "Mean share in the recent units", "share"),
        Field("change", "number", "after - before", "share"),
        Field("change_low", "number", "Family-wise 95 % limits: for all behaviours at once", "share"),
        Field("change_high", "number", "Family-wise 95 % limits: for all behaviours at once", "share"),
        Field("n_eff", "number", "Independent looks both sides are worth, all behaviours together", "looks"),
        Field("df", "number", "Degrees of freedom of the limits"),
        Field("se", "number", "Standard error of the change by itself, unadjusted", "share"),
    ),
    "bouts": (
        *_BEHAVIOUR,
        Field("bouts", "count", "Bouts of followed animals", "bouts"),
        Field("whole", "count", "Those whose beginning and end were both seen", "bouts"),
        Field("median_s", "number", "Median length (Kaplan-Meier; some lasted at least so long)", "s", "too few ends"),
        Field("median_low_s", "number", "95 % limits of the median", "s", "too few ends"),
        Field("median_high_s", "number", "95 % limits of the median", "s", "too few ends"),
        Field("longest_s", "number", "The longest, whole or not", "s"),
        Field("minutes_per_hour", "number", "Minutes of an hour whose behaviour is known", "min/h"),
    ),
    "first_and_last_third": (
        Field("first_third", "number", "Active share in the first third of a session", "share"),
        Field("last_third", "number", "Active share in the last third of a session", "share"),
        Field("change", "number", "last - first", "share"),
        Field("change_low", "number", "95 % limits of the change, over sessions", "share"),
        Field("change_high", "number", "95 % limits of the change, over sessions", "share"),
        Field("sessions", "count", "Sessions with three moments or more", "sessions"),
    ),
}  # fmt: skip
# Columns by the study's behaviours, or by its kind of clock.
OPEN_PARTS = ("by_zone", "by_hour")
