"""The columns of the retreats answer and of its parts."""

from __future__ import annotations

from ..columns import SECOND_OPINION, Column, Field, Schema, label_for

_PLACE = (
    Field("zone", "id", "Id of the retreat, or of its place"),
    label_for("zone", "What the keeper calls it"),
)
_ENCLOSURE = Field("enclosure", "id", "Id of the enclosure")
_ANIMAL = (Field("animal", "id", "Id of the animal"), label_for("animal", "What the keeper calls it"))
_GROUP = (Field("group", "id", "Id of the group"), label_for("group", "What the keeper calls it"))
_EITHER = (
    Field("animal", "id", "Id of the animal", missing="a group, or all"),
    label_for("animal", "What the keeper calls it", "a group, or all"),
    Field("group", "id", "Id of the group", missing="an animal, or all"),
    label_for("group", "What the keeper calls it", "an animal, or all"),
)


def _limits(name: str, means: str, unit: str, missing: str) -> Schema:
    """A number with its 95 % limits."""
    return (
        Field(name, "number", means, unit, missing),
        Field(f"{name}_low", "number", f"95 % limits of {name}", unit, missing),
        Field(f"{name}_high", "number", f"95 % limits of {name}", unit, missing),
    )


ROWS: Schema = (
    *_EITHER,
    *_PLACE,
    Field("share", "number", "Share of the checks that looked into it at which it was found there", "share"),
    Field("share_low", "number", "95 % limits of the share", "share"),
    Field("share_high", "number", "95 % limits of the share", "share"),
    Field("n_eff", "number", "Independent looks its checks are worth, all retreats together", "looks"),
    Field("df", "number", "Degrees of freedom of the limits", missing="an animal by itself: score limits"),
    Field("se", "number", "Standard error of the share by itself, unadjusted", "share"),
    Field("visits", "count", "Checks at which it was found there", "checks"),
    Field("stay_probability", "number", "Chance to be there at the next check too", "chance", "never followed"),
    Field("home", "flag", "Whether it is used most of all"),
)  # fmt: skip
SHOWN = (
    Column("animal or group", "Who", "first"),
    Column("zone", "Retreat"),
    Column("share", "Found there", "share"),
    Column("share", "95 %", "share-range", narrow=False),
    Column("visits", "Checks", "count"),
    Column("stay_probability", "Stays", "share", narrow=False),
)
PARTS: dict[str, Schema] = {
    "second_opinion": SECOND_OPINION,
    "animals": (
        _ENCLOSURE,
        *_EITHER,
        Field("checks", "count", "Checks at which it was found in a retreat; of a group, checks made", "checks"),
        Field("retreats_used", "count", "How many retreats it used", "retreats"),
        Field("moves", "count", "Moves between retreats", "moves", "a group"),
        Field("stay", "number", "Chance to stay from check to check", "chance", "a group, or never followed"),
        Field("looks", "number", "Independent looks its checks are worth", "looks", "not estimable"),
        Field("home", "id", "The retreat used most", missing="none used"),
        Field("home_share", "number", "Share of it", "share", "none used"),
        Field("home_lead", "number", "That share less the next one's", "share", "a group, never moved, too few looks"),
        Field("home_lead_low", "number", "Family-wise 95 % limits: against all other retreats at once", "share",
              "a group, never moved, too few looks"),
        Field("home_lead_high", "number", "Family-wise 95 % limits: against all other retreats at once", "share",
              "a group, never moved, too few looks"),
        Field("home_standing", "text", "How far to trust it; empty where it does not stand out"),
    ),
    "months": (
        _ENCLOSURE,
        Field("month", "text", "2026-03, or all"),
        *_PLACE,
        *_limits("share", "Share of those found in retreats", "share", "none found"),
        Field("of_alive", "number", "Share of all that were present", "share", "never looked into"),
        Field("found_there", "count", "Animals found there, summed over checks", "animal-checks"),
        Field("checks", "count", "Checks that looked into it", "checks"),
    ),
    "evenness": (
        _ENCLOSURE,
        Field("month", "text", "2026-03, or all"),
        Field("evenness", "number", "Pielou's evenness over the retreats there, 0 to 1", missing="none found"),
        Field("retreats", "count", "Retreats there", "retreats"),
        Field("checks", "count", "Checks", "checks"),
        Field("known_alive", "count", "Animals present, summed over checks", "animal-checks"),
        Field("found", "count", "Animals found", "animal-checks"),
        Field("unfound", "count", "Animals not found", "animal-checks"),
        Field("not_looked_into", "count", "Looks left out", "looks"),
    ),
    "seasons": (
        _ENCLOSURE,
        *_PLACE,
        Field("chi_square", "number", "Friedman's statistic over months"),
        Field("degrees", "count", "Its degrees of freedom"),
        Field("p", "number", "How often chance alone gives as much difference", "chance"),
        Field("p_holm", "number", "The same for all retreats together", "chance"),
        Field("animals", "count", "Animals compared with themselves", "animals"),
        Field("concordance", "number", "Kendall's W, 0 to 1", missing="not defined"),
        Field("months", "count", "Months compared", "months"),
    ),
    "crowding": (
        _ENCLOSURE,
        *_GROUP,
        Field("days", "count", "Days with a check", "days"),
        Field("shared", "number", "Chance that two of them share a retreat", "share"),
        Field("expected", "number", "The same if each chose by the room there is", "share"),
        Field("p_crowded", "number", "How often chance alone gives as much crowding", "chance"),
        Field("p_even", "number", "How often chance alone gives as much spreading", "chance"),
        Field("stay", "number", "Chance to stay from day to day", "chance", "never followed"),
        Field("looks", "number", "Independent looks the days are worth", "looks", "not estimable"),
        Field("verdict", "text", "together, apart or too early"),
    ),
    "crowding_checks": (
        _ENCLOSURE,
        Field("group", "id", "Id of the group", missing="all animals"),
        label_for("group", "What the keeper calls it", "all animals"),
        Field("at", "time", "When the check was made"),
        Field("found", "count", "Animals found", "animals"),
        Field("shared", "number", "Chance that two of them share a retreat", "share"),
        Field("expected", "number", "The same if each chose by the room there is", "share"),
        Field("p_crowded", "number", "How often chance alone gives as much crowding", "chance"),
        Field("p_even", "number", "How often chance alone gives as much spreading", "chance"),
        Field("morisita", "number", "Morisita's index (1962)", missing="not defined"),
        Field("dispersion", "number", "Variance over mean", missing="not defined"),
        Field("degrees", "count", "Its degrees of freedom", missing="not defined"),
        Field("dispersion_p_crowded", "number", "Chance of as much crowding by the index", "chance", "not defined"),
        Field("dispersion_p_even", "number", "Chance of as much spreading by the index", "chance", "not defined"),
    ),
    "conditions": (
        _ENCLOSURE,
        Field("who", "text", "animals, or the id of a group"),
        Field("quantity", "id", "The quantity"),
        Field("fit", "text", "alone, or by changes within retreats"),
        Field("step", "number", "The step the odds are for", "the quantity's"),
        *_limits("odds", "Odds of being chosen for each step more", "odds ratio", "not estimable"),
        Field("used", "number", "Mean in the retreat used", "the quantity's", "not known"),
        Field("unused", "number", "Mean in those not used", "the quantity's", "not known"),
        Field("choices", "count", "Choices behind it", "choices"),
        Field("checks", "count", "Checks behind it", "checks"),
    ),
    "dry_spells": (
        _ENCLOSURE,
        Field("quantity", "id", "What dry is measured by"),
        Field("spells", "count", "Dry spells", "dry spells"),
        Field("dry_checks", "count", "Checks in them", "checks"),
        Field("checks", "count", "All checks", "checks"),
        *_limits("moved_dry", "Share that moved in dry spells", "share", "nobody followed"),
        *_limits("moved_other", "Share that moved at other times", "share", "nobody followed"),
        *_limits("moister_dry", "Moisture of the retreat gone to minus that left, in dry spells", "points", "no moves"),
        *_limits("moister_other", "The same at other times", "points", "no moves"),
        *_limits("than_usual", "Moisture gone to minus that of usual choices", "points", "no moves"),
        Field("moves_dry", "count", "Moves in dry spells", "moves"),
        *_limits("moving_by_10", "Change in moving for ten points drier", "share", "not estimable"),
        Field("checks_with_moves_dry", "count", "Checks with moves in dry spells", "checks"),
        Field("days_with_moves_dry", "count", "Days with them", "days"),
        *_limits("cooler_dry", "Temperature of the retreat left minus that gone to, in dry spells", "°C", "not known"),
        *_limits("odds_heat_held", "Odds of going there for ten points more of moisture, heat held", "", "not tested"),
        Field("heat", "text", "Dry and hot: parted, not parted, alike (no heat to go from) or not known"),
    ),
    "pairs": (
        _ENCLOSURE,
        *_ANIMAL,
        Field("other", "id", "Id of the other animal"),
        label_for("other", "What the keeper calls it"),
        Field("together", "count", "Checks at which both were in one retreat", "checks"),
        Field("apart", "count", "Checks at which they were in two", "checks"),
        Field("simple_ratio", "number", "Simple ratio index of association", missing="never both found"),
        Field("half_weight", "number", "Half-weight index of association", missing="never both found"),
        Field("arrivals", "count", "Arrivals into each other's company", "times"),
        Field("expected", "number", "Those by their own uses of the retreats", "times"),
        Field("p_together", "number", "How often chance alone gives as many", "chance", "not tested"),
        Field("p_apart", "number", "How often chance alone gives as few", "chance", "not tested"),
        Field("verdict", "text", "together, apart, or empty"),
    ),
    "company": (
        _ENCLOSURE,
        Field("animals", "count", "Animals told apart", "animals"),
        Field("checks", "count", "Checks", "checks"),
        Field("moves", "count", "Moves between retreats", "moves"),
        *_limits("beyond", "Arrivals into company beyond their own uses; limits: of chance", "arrivals", "no moves"),
        Field("p_together", "number", "How often chance alone gives as much company", "chance", "no moves"),
        *_limits("short", "Arrivals into company short of their own uses; limits: of chance", "arrivals", "no moves"),
        Field("p_apart", "number", "How often chance alone gives as little company", "chance", "no moves"),
        Field("verdict", "text", "together, apart or too early"),
    ),
    "matrix": (
        _ENCLOSURE,
        Field("position", "count", "Place in the order that puts alike ones side by side, from 1"),
        *_ANIMAL,
        Field("other_position", "count", "The other's place in that order"),
        Field("other", "id", "Id of the other animal"),
        label_for("other", "What the keeper calls it"),
        Field("half_weight", "number", "Half-weight index of association", missing="never both found, or itself"),
    ),
    "keeping": (
        _ENCLOSURE,
        *_ANIMAL,
        Field("interval", "text", "Time between two checks, or any"),
        Field("checks", "count", "Steps from check to check", "steps"),
        Field("same", "number", "Share of them that ended in the same retreat", "share"),
        Field("expected", "number", "The same if it did not matter who is who", "share", "nobody to compare"),
        Field("p", "number", "How often chance alone gives as much", "chance", "tested over all intervals only"),
    ),
    "lifting": (
        _ENCLOSURE,
        Field("cover", "text", "lifted, or left in place"),
        Field("steps", "count", "Steps from check to check", "steps"),
        Field("checks", "count", "Checks behind them", "checks"),
        *_limits("left", "Share that was elsewhere at the next check", "share", "nobody followed"),
    ),
}  # fmt: skip
# One row a step from check to check, with whatever moisture is logged.
OPEN_PARTS = ("moving",)
