"""The columns of the zones answer and of its parts."""

from __future__ import annotations

from ..columns import SECOND_OPINION, Column, Field, Schema, label_for

ROWS: Schema = (
    Field("zone", "id", "Id of the zone, or of the place where a study has several enclosures"),
    label_for("zone", "What the keeper calls it"),
    Field("available", "number", "Mean share of what is offered", "share"),
    Field("used", "number", "Mean share of seen moments, over units", "share"),
    Field("used_low", "number", "95 % limits of that share by itself", "share"),
    Field("used_high", "number", "95 % limits of that share by itself", "share"),
    Field("ratio", "number", "used / available", "ratio"),
    Field("ratio_low", "number", "Family-wise 95 % limits of the ratio: for all zones at once", "ratio"),
    Field("ratio_high", "number", "Family-wise 95 % limits of the ratio: for all zones at once", "ratio"),
    Field("unseen_low", "number", "The share if every unseen moment was elsewhere", "share"),
    Field("unseen_high", "number", "The share if every unseen moment was here", "share"),
    Field("n_eff", "number", "Independent single looks the units are worth, all zones together", "looks"),
    Field("df", "number", "Degrees of freedom of that number", missing="every record by itself"),
    Field("se", "number", "Standard error of the share by itself, unadjusted", "share"),
    Field("moments", "count", "Seen moments in it, animals of a group counted one by one", "moments"),
    Field("sessions", "count", "Sessions in which it was used", "sessions"),
    Field("verdict", "text", "avoided, favoured, in proportion or too early"),
    Field("reason", "text", "Code of what holds the verdict back; empty where nothing does"),
)
SHOWN = (
    Column("zone", "Zone"),
    Column("available", "Offered", "share", narrow=False),
    Column("used", "Used", "share"),
    Column("used", "95 %", "share-range", narrow=False),
    Column("ratio", "Ratio", "ratio"),
    Column("ratio", "95 %, all", "ratio-range"),
    Column("moments", "Moments", "count", narrow=False),
    Column("sessions", "Sessions", "count", narrow=False),
)

_ZONE = (
    Field("zone", "id", "Id of the zone or place"),
    label_for("zone", "What the keeper calls it"),
)
_CUT = tuple(f for f in ROWS if f.name != "reason")
PARTS: dict[str, Schema] = {
    "second_opinion": SECOND_OPINION,
    "by_animal": (
        *_CUT,
        Field("animal", "id", "Id of the animal"),
        label_for("animal", "What the keeper calls it"),
    ),
    "by_slot": (*_CUT, Field("slot", "text", "Time of day: dawn, day, dusk, night, or any")),
    "by_enclosure": (
        *_ZONE,
        Field("unit", "text", "The enclosure; the animal where there is one enclosure"),
        Field("available", "number", "Share of what was offered there", "share"),
        Field("used", "number", "Mean share of its looks", "share"),
        Field("ratio", "number", "used / available", "ratio", "not offered"),
        Field("looks", "count", "Sessions, or days where there are several a day", "looks"),
        Field("p_differ", "number", "How often chance alone sets them as far apart, all places together", "chance"),
    ),
    "indices": (
        *_ZONE,
        Field("jacobs_d", "number", "Jacobs' D (1974), -1 to 1", missing="not defined"),
        Field("e_star", "number", "Vanderploeg and Scavia's E* (1979), -1 to 1", missing="not defined"),
        Field("spread_of_participation", "number", "Spread of use among all zones, in each row", missing="not defined"),
        Field("spread_low", "number", "95 % limits of that spread", missing="too few units"),
        Field("spread_high", "number", "95 % limits of that spread", missing="too few units"),
        Field("evenness", "number", "Pielou's evenness of use, 0 to 1; the same in each row", missing="not defined"),
    ),
    "tests": (
        *_ZONE,
        Field("verdict", "text", "The verdict of the zone"),
        Field("reason", "text", "Code of what holds it back; empty where nothing does"),
        Field("p", "number", "How often chance alone sets one as far from the offer", "chance", "limits decided"),
        Field("p_no_preference", "number", "How often chance sets any zone so far out", "chance", "limits decided"),
        Field("decided_by", "text", "What decided: redrawn bouts, spread between units, or every record by itself"),
        Field("sure", "flag", "Whether the verdict holds however often one asks"),
        Field("sure_low", "number", "The ratio's family-wise limits for that", "ratio", "every record by itself"),
        Field("sure_high", "number", "The ratio's family-wise limits for that", "ratio", "every record by itself"),
        Field("sure_level", "number", "The level of those limits at so many units", "chance", "every record by itself"),
    ),
    "settling": (
        *_ZONE,
        Field("more", "count", "Further units that would probably do", "units", "settled, or out of reach"),
        Field("chance", "number", "The chance that they do", "chance", "not forecast"),
    ),
    "visits": (
        Field("animal", "id", "Id of the animal"),
        label_for("animal", "What the keeper calls it"),
        *_ZONE,
        Field("entries", "count", "Times it was seen to come in", "times"),
        Field("exits", "count", "Times it was seen to leave", "times"),
        Field("visits", "count", "Stays in it, those not seen to begin or to end among them", "visits"),
        Field("time_min", "number", "Time in it in all sessions", "min"),
        Field("first_entry_min", "number", "First time in it after a session began, median of those it came in", "min"),
        Field("sessions", "count", "Sessions in which it was there", "sessions"),
        Field("whole_visits", "count", "Visits seen to begin and to end", "visits"),
        Field("dwell_min", "number", "Median length of whole visits", "min", "no whole visit"),
        Field("longest_min", "number", "Longest stay", "min"),
    ),
    "by_hour": (
        *_ZONE,
        Field("hour", "count", "Hour of the local clock, 0 to 23"),
        Field("share", "number", "Share of the moments of that hour at which one was seen in a zone", "share"),
        Field("moments", "count", "Moments of that hour at which one was seen in a zone", "moments"),
    ),
    "density": (
        Field("camera", "text", "The camera whose outlines these are; empty where the study names none"),
        Field("row", "count", "Row of a raster over the enclosure seen from above, from its upper edge (least y)"),
        Field("column", "count", "Column of it, from its left edge (least x)"),
        Field("zone", "id", "The place in whose outline the middle of the cell lies", missing="outside every outline"),
        label_for("zone", "What the keeper calls it", "outside every outline"),
        Field("moments", "count", "States of tracks in that cell", "moments"),
        Field("busier", "number", "The part of all these moments that lies in cells with more of them", "share"),
        Field("rows", "count", "Rows of the raster; the same in each line of a camera"),
        Field("columns", "count", "Columns of the raster; the same in each line of a camera"),
        Field("beyond", "count", "States beyond the raster's edge; the same in each line of a camera", "moments"),
    ),
    "together": (
        Field("pair", "text", "Two animals, joined by \" + \""),
        Field("moments", "count", "Moments at which both were seen in a zone", "moments"),
        Field("together", "number", "Share of them in the same zone", "share"),
        Field("by_use_alone", "number", "That share if each went its own way with the use it has", "share"),
    ),
}  # fmt: skip
# Its columns are the study's behaviours, so only its first one is declared: places by behaviour, moments in each.
OPEN_PARTS = ("activity_by_zone",)
