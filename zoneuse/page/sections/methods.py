"""How the numbers are made, in words with their sources, and the short cautions every page carries."""

from __future__ import annotations

from ..markup import bullets, section, text

# DESIGN 8: the full ones stand in docs/cautions.md.
CAUTIONS = (
    "The animal comes before the record. If it looks unwell, stop and ask a veterinarian who treats reptiles and "
    "amphibians. This page diagnoses nothing.",
    "Do not keep an animal outside safe conditions to complete a study; never remove heat, water, hides or UV below "
    "what it needs.",
    "Heat sources burn: guard every lamp and heater, with a thermostat, and leave a cool retreat.",
    "Mains and water apart: a residual-current device, drip loops, unplug before hands go into water.",
    "Wash hands after animal, water, soil, loggers and the phone or keyboard used there (Salmonella).",
    "Never reach in to a venomous or dangerous animal for a sensor or a record.",
    "Protected and dangerous species need permits, which differ by place. Local law and licensed practice come first.",
)

METHODS = {
    "Unit of evidence": (
        "The session, or the day where an enclosure has several a day; never the single scan. Animals stay "
        "put, so neighbouring scans repeat each other, and so may neighbouring sessions: intervals widen by "
        "what is measured of that."
    ),
    "Use against offer": (
        "Used is the share of seen moments in a zone, averaged over units; offered is its share of what was "
        "there at those moments; the ratio is used over offered (Manly et al. 2002, Resource Selection by "
        "Animals). Avoided and favoured stand at 5 % over all zones together: each animal's bouts are kept as "
        "they were and where they were spent is redrawn (p after Phipson & Smyth 2010). Each zone has "
        "bounds with every unseen moment there, and elsewhere; a verdict that would change between them is too "
        "early."
    ),
    "Conditions": (
        "At each moment an animal is in one of the zones on offer, each with its conditions: a conditional "
        "logit (McFadden 1974) in each logged quantity and its square, with errors by unit (Bell & McCaffrey "
        "2002). A peak must rise at the low end and fall at the high end of what was offered (Lind & Mehlum "
        "2010). Conditions are those at the logger, not in the animal's body."
    ),
    "Changes": (
        "Sessions before and after are compared within their time of day, settling time left out, by "
        "exchanging sessions between the sides (Phipson & Smyth 2010), all that is compared held to one "
        "level by the same exchanges (Westfall & Young 1993), or by a start day drawn by lot (Edgington "
        "1975). Another change, or a feed or a shed on one side only, makes a result confounded."
    ),
    "Drying": (
        "24-hour medians since the last water, continued by what the zone did after earlier waters and by its "
        "own recent trend (Theil 1950; Sen 1968); limits of 80 %. Deficit and dew point follow WMO-No. 8 "
        "(2008)."
    ),
    "Retreats": (
        "A check is a retreat round, a spot check or a session's first scan. Together or apart is judged "
        "against the animals' own uses of the retreats; association is the half-weight index (Cairns & "
        "Schwager 1987), animals in the order of an average-linkage tree (Sokal & Michener 1958)."
    ),
    "Observers": (
        "Records of two people who watched the same animals together are matched; Cohen's kappa (1960) and AC1 "
        "(Gwet 2008) take off what chance alone would give, with limits over sessions."
    ),
    "Plan": (
        "Sessions are drawn by lot from the times you are free, with an eye to what is still open, so that the animals "
        "do not decide when they are watched."
    ),
    "How far to trust it": (
        "At least 5 sessions on 3 days for any verdict (looks like it today); 15 on 6 with nothing out of "
        "balance, at a level that holds however often one asks, for fairly sure here. These are house rules, not "
        "published thresholds. A page asks many questions at once, and each answer can be wrong by chance; "
        "so they share one level (Holm 1979), and a claim that holds only by itself is called possibly chance. "
        "It speaks for these animals in this enclosure in the weeks "
        "watched."
    ),
    "What stays out": (
        "Sightings in passing are shown but never counted (they are not a sample; Altmann 1974); neither is an "
        "animal the keeper handled, until it has moved by itself."
    ),
}


def methods_section(wanted: list[str]) -> str:
    """The methods in words, those of the sections the page has."""
    told = "".join(f"<h3>{text(head)}</h3><p>{text(METHODS[head])}</p>" for head in METHODS if head in wanted)
    return section("methods", "How this was made", told)


def cautions_section() -> str:
    return section("cautions", "Cautions", bullets(text(c) for c in CAUTIONS))
