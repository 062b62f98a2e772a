"""Why a verdict is withheld: one registry of codes. Sentences are rendered from a code, never read back."""

from __future__ import annotations

NOTHING_SEEN = "nothing_seen"
NO_RECORD = "no_record"
NO_READINGS = "no_readings"
NOTHING_TO_CHOOSE = "nothing_to_choose"
NOT_OFFERED = "not_offered"
TOO_FEW_UNITS = "too_few_units"
TOO_FEW_MOVES = "too_few_moves"
TOO_FEW_CHECKS = "too_few_checks"
TOO_FEW_KINDS = "too_few_kinds"
TOO_FEW_DAYS = "too_few_days"
UNSEEN_DECIDE = "unseen_decide"
SPREAD = "spread"
ONE_SIDE_SHORT = "one_side_short"
CANNOT_BE_TESTED = "cannot_be_tested"
NEVER_WITH_THIS_DESIGN = "never_with_this_design"
CONFOUNDED_BY = "confounded_by"
NOT_ON_BOTH_SIDES = "not_on_both_sides"
PLACE_OR_CONDITION = "place_or_condition"
NOBODY_TO_COMPARE = "nobody_to_compare"
NOT_JUDGED = "not_judged"
NOT_FALLING = "not_falling"
DRY_OR_HOT = "dry_or_hot"

ANOTHER_CHANGE = "another_change"
CHANGE_BETWEEN = "change_between"
FED = "fed"
SHEDDING = "shedding"
GRAVID = "gravid"
ILL = "ill"
LIGHTS_CHANGED = "lights_changed"
LOGGERS_MOVED = "loggers_moved"
ZONE_ALTERED = "zone_altered"

# By what a comparison is confounded; docs/reference.md prints this table too.
CONFOUNDERS: dict[str, str] = {
    ANOTHER_CHANGE: "Another change had not settled when this one was made, or the other way round.",
    CHANGE_BETWEEN: "Another change came between the phases of one that was taken back.",
    FED: "Feeds in the last 3 days concern the animals on one side only.",
    SHEDDING: "Animals were shedding on one side only.",
    GRAVID: "Animals were gravid on one side only.",
    ILL: "Animals were ill on one side only.",
    LIGHTS_CHANGED: "study.toml dates another light schedule between the two sides.",
    LOGGERS_MOVED: "study.toml dates another place of loggers between the two sides.",
    ZONE_ALTERED: "study.toml dates another size, cover or presence of a zone, and no change on record explains it.",
}

# What each code means; docs/reference.md prints this table.
REASONS: dict[str, str] = {
    NOTHING_SEEN: "Nothing was seen in what was asked for.",
    NO_RECORD: "Nothing of the kind is on record: no behaviour, change, dry spell or session together.",
    NO_READINGS: "No readings, or no moment with known conditions in two zones or more.",
    NOTHING_TO_CHOOSE: "The zone is all there is.",
    NOT_OFFERED: "The zone was not there at any moment looked at.",
    TOO_FEW_UNITS: "Fewer independent units (sessions, days) than any verdict needs.",
    TOO_FEW_MOVES: "The animals moved too rarely: successive records repeat each other.",
    TOO_FEW_CHECKS: "Too few checks of the retreats.",
    TOO_FEW_KINDS: "Fewer than two categories came up often enough to differ on.",
    TOO_FEW_DAYS: "Too few full days of readings since the last water or change.",
    UNSEEN_DECIDE: "The moments in which nobody was found decide it.",
    SPREAD: "Cannot be told from chance yet: the interval holds both answers.",
    ONE_SIDE_SHORT: "One side of the comparison has too few sessions, or none at a time of day both sides have.",
    CANNOT_BE_TESTED: "So few units that even a perfect result could not pass a fair test.",
    NEVER_WITH_THIS_DESIGN: "More of the same would not settle it: it takes another design, as a day drawn by lot.",
    NOT_ON_BOTH_SIDES: "The place was not there on both sides of the change.",
    CONFOUNDED_BY: "Something else differed between the two sides.",
    PLACE_OR_CONDITION: "Use differs from the offer, but the condition and the places cannot be told apart.",
    NOBODY_TO_COMPARE: "There is no other animal to compare with.",
    NOT_JUDGED: "Told as a number only; no verdict is given on it.",
    NOT_FALLING: "It still holds, and no past cycle shows when it begins to fall.",
    DRY_OR_HOT: "They went to moister retreats that were cooler too, and the two cannot be told apart.",
}
