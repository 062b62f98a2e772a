"""The columns of the plan and of its parts."""

from __future__ import annotations

from ..columns import Column, Field, Schema, label_for

ROWS: Schema = (
    Field("when", "text", "Start, local time with its offset"),
    Field("why", "text", "What it is wanted for"),
    Field("covers", "text", "Time of day, changes it serves, whom to follow"),
)
SHOWN = (Column("when", "Start"), Column("covers", "Covers"), Column("why", "Why", narrow=False))
PARTS: dict[str, Schema] = {
    "watched": (
        Field("slot", "text", "Time of day"),
        Field("phase", "text", "Phase of the study"),
        Field("sessions", "count", "Sessions", "sessions"),
        Field("days", "count", "Days", "days"),
        Field("moments", "count", "Moments, animals of a group counted one by one", "moments"),
    ),
    "animals": (
        Field("animal", "id", "Id of the animal"),
        label_for("animal", "What the keeper calls it"),
        Field("sessions", "count", "Sessions in which it was looked for", "sessions"),
        Field("moments", "count", "Moments in which it was looked for", "moments"),
        Field("not_found", "number", "Share of them in which it was not found", "share"),
    ),
    "strip": (
        Field("day", "text", "Day of the calendar"),
        Field("hour", "count", "Hour of the clock"),
        Field("sessions", "count", "Sessions then", "sessions"),
        Field("planned", "flag", "Whether a session is drawn then"),
    ),
    "open": (
        Field("answer", "text", "Which answer the finding is of"),
        Field("about", "list", "Ids it is about"),
        Field("reason", "text", "Code of what holds the verdict back"),
        Field("more", "count", "Further units that would probably settle it", "units", "not forecast"),
        Field("unit", "text", "What counts once"),
        Field("says", "text", "The finding in words"),
    ),
    "under_way": (
        Field("adjustment", "id", "Id of the change"),
        Field("settled", "time", "When it has settled"),
        Field("slot", "text", "Time of day"),
        Field("sessions_before", "count", "Sessions before it", "sessions"),
        Field("sessions_after", "count", "Sessions after it", "sessions"),
        Field("wanted_after", "count", "Sessions wanted after it", "sessions"),
    ),
    "worth": (
        Field("answer", "text", "zones or shifts"),
        Field("adjustment", "id", "Id of the change", missing="a zone's share"),
        Field("zone", "id", "Id of the zone or place"),
        label_for("zone", "What the keeper calls it"),
        Field("low", "number", "Limit now", "share"),
        Field("high", "number", "Limit now", "share"),
        Field("low_then", "number", "Limit after these sessions, if the middle stays", "share"),
        Field("high_then", "number", "Limit after these sessions, if the middle stays", "share"),
        Field("narrower", "number", "By how much they narrow", "share"),
    ),
}  # fmt: skip
