"""The data dictionary: what each exported table and column holds, written from the columns themselves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..study import DERIVED, QUANTITIES
from .column import PackageColumn
from .columns import (
    ADJUSTMENTS,
    MOMENTS,
    RECORDS,
    choices_columns,
    conditions_columns,
    readings_columns,
)
from .declared import ANIMALS, BEHAVIOURS, GROUPS, LIMITS, LOGGERS, PERIODS, ZONES
from .keys import PRIMARY, foreign
from .told import CONTEXT, EVENTS, FEEDS, NOTES, SESSIONS, WEIGHTS

# The order is that of the package.
ABOUT = {
    "moments": "one row per animal (or group and zone) and moment watched",
    "choices": "each moment in which an animal was found against every zone it could have been in",
    "conditions": "what each zone was like at each time something was watched",
    "readings": "what the loggers measured, with clock and calibration put right",
    "records": "every sighting on record, and why it enters no answer where it does not",
    "sessions": "every session, and every file of notes and changes",
    "events": "momentary behaviours, each when it happened",
    "adjustments": "the changes on record",
    "feeds": "what was fed",
    "weights": "what was weighed",
    "notes": "notes in the keeper's own words",
    "context": "sheds, handling, signs of illness and all else on record that has no table of its own",
    "zones": "the zones",
    "animals": "the animals told apart",
    "groups": "the animals not told apart",
    "behaviours": "the behaviours, states and momentary ones",
    "loggers": "the loggers",
    "periods": "all that has dates: amounts, cover, presence, homes, sizes of groups, where loggers lay",
    "limits": "the keeper's own limits",
}


def dictionary(tables: Mapping[str, Sequence[PackageColumn]]) -> str:
    """The tables in Markdown, a section each."""
    return "\n".join(["# Data dictionary", "", *_sections(tables)])


def _sections(tables: Mapping[str, Sequence[PackageColumn]]) -> Iterator[str]:
    for name, columns in tables.items():
        names = dict(foreign(name, [c.name for c in columns]))
        yield from (f"## {name}", "", f"{ABOUT[name][0].upper()}{ABOUT[name][1:]}.", "")
        yield from ("| column | type | unit | what it holds | key |", "|---|---|---|---|---|")
        for c in columns:
            keys = ["primary"] if c.name in PRIMARY[name] else []
            keys += [f"a row of `{names[c.name]}`"] if c.name in names else []
            yield f"| `{c.name}` | {c.type} | {c.unit or '–'} | {c.meaning} | {', '.join(keys) or '–'} |"
        yield ""


def every_table() -> dict[str, Sequence[PackageColumn]]:
    """The columns of each table, with every quantity there is."""
    quantities = [*QUANTITIES, *DERIVED]
    return {
        "moments": MOMENTS, "choices": choices_columns(quantities), "conditions": conditions_columns(quantities),
        "readings": readings_columns(list(QUANTITIES)), "records": RECORDS, "sessions": SESSIONS, "events": EVENTS,
        "adjustments": ADJUSTMENTS, "feeds": FEEDS, "weights": WEIGHTS, "notes": NOTES, "context": CONTEXT,
        "zones": ZONES, "animals": ANIMALS, "groups": GROUPS, "behaviours": BEHAVIOURS, "loggers": LOGGERS,
        "periods": PERIODS, "limits": LIMITS,
    }  # fmt: skip
