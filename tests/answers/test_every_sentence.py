"""Every sentence the words modules can make, over many numbers, read for what a native speaker would not write.

A finding here answers to any name of a number: a count, a share or a value, whichever the name says. So each branch is
taken with one and with many, with nothing, and with numbers on both sides of nought.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import product
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from tests.making import FIXTURES
from zoneuse.across import words as across_words
from zoneuse.answers import nothing, reasons
from zoneuse.answers.activity import words as activity_words
from zoneuse.answers.climate import words as climate_words
from zoneuse.answers.climate.drying import DRYING, RECHARGE, STEADY
from zoneuse.answers.finding import TOO_EARLY, Confounder, Finding, Forecast, Number
from zoneuse.answers.observers import words as observer_words
from zoneuse.answers.plan import words as plan_words
from zoneuse.answers.preference import words as preference_words
from zoneuse.answers.retreats import words as retreat_words
from zoneuse.answers.second_opinion import words as opinion_words
from zoneuse.answers.second_opinion.judge import Ours
from zoneuse.answers.shifts import words as shift_words
from zoneuse.answers.zones import words as zone_words
from zoneuse.live.tracks import words as track_words
from zoneuse.page.sections import five_sentences as five
from zoneuse.page.sections.pieces import for_readers
from zoneuse.recording import words as recording_words
from zoneuse.recording.telling import summary as session_summary
from zoneuse.stats.second_opinion import Opinion
from zoneuse.study.model import Declaration
from zoneuse.study.toml.file import load_declaration
from zoneuse.tables.phases import Adjustment

LABELS = {
    "z1": "Moss end", "z2": "Cork bark", "a1": "Broad stripe", "a2": "Comma", "resting": "Resting", "alert": "Alert",
    "temperature_c": "temperature", "humidity_pct": "humidity",
}  # fmt: skip
# What nobody says, by kind.
WRONG = {
    "plural of one": r"(?<![.\d])(?<!and )\b1 (?!(?:of|to|in|against|past)\b)(?:more )?[a-z]+(?<![su])s\b(?! of| to)",
    "singular of many": (
        r"\b(?:[2-9]|\d\d+) (?:more )?(?:session|day|record|moment|animal|zone|move|check|step|pair|hour|keeper)\b"
    ),
    "doubled space": r"  ",
    "space before a mark": r" [,.;:]",
    "doubled mark": r"\.\.|;;|,,|\.;|,\.",
    "sign before nothing": r"[+\-−]0(?:\.0+)?(?![.\d])",
    "number as the machine has it": r"\d\.\d{4,}|\bnan\b|\binf\b|\bNone\b|\bTrue\b|\bFalse\b|\de[+-]\d",
    "p where nobody asked": r"\bp (?:under )?[.0]\d",
    "bare id": r"\b(?:z1|z2|a1|a2|resting|alert|moss_end|temperature_c|humidity_pct|water-1)\b",
    "once and twice": r"\b[12] times?\b(?! (?:its|as)\b)",
    "hyphen for a minus": r"(?:^|[\s(])-\d",
    "empty brackets": r"\(\)|\(\s*;",
    "no full stop": r"[a-z0-9)](?:\n|$)",
    "small letter first": r"^[a-z]",
    "banned": (
        r"(?i)proved|significan|\blikes\b|looking around|dearest|parted|stayed risen|may be none|what it makes of|"
        r"by luck|\bluck\b|known alive|settle so long|foretold|Expected was|over all\b|in the middle|perhaps no diff|"
        r"dates left|is to stand in|so to speak|used (?:more|less) than|\bused (?:more|less)\b|cells parted|"
        r"what parts\b|stayed undecided and ended|day's mood|tell as much as|held against|all one which|said of\b|"
        r"would settle it with|by every zone alike|cannot be told yet|may explain as well|was foreseen|is told instead|"
        r"meant to serve|that is no proof|which is no proof|agree to \d|as far as is on record|in what was asked for,|"
        r"\bone and the same\b|over \d+ animals|for animals that stay repeat|seek(?:ing)? the same place|begun before"
    ),
}  # fmt: skip
BESIDE = (
    Confounder(reasons.FED, side="before"),
    Confounder(reasons.ZONE_ALTERED, what="Moss end", on=date(2026, 3, 1)),
)
COUNTS = (1, 2, 35)
VALUES = (0.0, 0.004, 0.31, 1.0)
_COUNTED = re.compile(
    r"(sessions|days|moments|units|checks|moves|animals|spells|steps|arrivals|pairs|same_retreat|both_found|of|phases|"
    r"enclosures|keepers|more|same_way|looks)(_|$)|^(more|before|after)_(expected|all)$|more_at_all|strata$"
)


class AnyNumbers(dict[str, Number]):
    """A number for whatever name is asked for, but the ``absent`` ones."""

    def __init__(self, count: int, value: float, sign: int, absent: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.count, self.value, self.sign, self.absent = count, value, sign, absent

    def __contains__(self, name: object) -> bool:
        return name not in self.absent

    def __missing__(self, name: str) -> Number:
        if name in self.absent:
            return Number(None, "")
        if _COUNTED.search(name):
            return Number(self.count, "count")
        if re.search(r"(^|_)p(_|$)|chance", name):
            return Number(0.25, "chance")
        # Shares of the time lie on one side of nought.
        one_sided = re.match(r"before|after|with|moved|moves|sensors|share|used|offered", name)
        middle = self.value * (1 if one_sided else self.sign)
        spread = 0.2 if name.endswith("_high") else -0.2 if name.endswith("_low") else 0.0
        return Number(abs(middle + spread) if one_sided else middle + spread, "")


def every(absent: tuple[str, ...] = ()) -> Iterator[AnyNumbers]:
    for count, value, sign in product(COUNTS, VALUES, (1, -1)):
        yield AnyNumbers(count, value, sign, absent)


def positive() -> Iterator[AnyNumbers]:
    for count, value in product(COUNTS, VALUES):
        yield AnyNumbers(count, value + 0.2, 1)


@pytest.fixture(scope="module")
def declared(tmp_path_factory: pytest.TempPathFactory) -> Declaration:
    folder = tmp_path_factory.mktemp("design")
    text = (FIXTURES / "design_example.toml").read_text(encoding="utf-8")
    alert = '[behaviours.alert]\nlabel = "Alert"\nkey = "l"\nlasts = true\n\n'
    (folder / "study.toml").write_text(
        text.replace("[loggers.L1]", f"{alert}[loggers.L1]", 1), encoding="utf-8"
    )
    return load_declaration(folder)


def change(**fields: Any) -> Adjustment:
    at = datetime(2026, 3, 15, 19, 30, tzinfo=UTC)
    expects = ({"what": "zone", "name": "moss_end", "zone": "moss_end", "direction": "up"},)
    base = Adjustment("water-1", at, at, "water", ("moss_end",), 2.0, "l", "", expects, 48.0, None, None)
    return replace(base, **fields)


def shifts(declared: Declaration) -> Iterator[str]:
    facts = {
        "change": change(), "trend": False, "by_step": False, "by_lot": False,
        "begun_before": 0, "one_animal": None, "labels": LABELS, "expected": None, "what": "zone",
    }  # fmt: skip
    varied: list[dict[str, Any]] = [
        {}, {"by_lot": True}, {"trend": True}, {"by_step": True}, {"begun_before": 1}, {"begun_before": 4},
        {"one_animal": ("a1", 8)}, {"expected": "up"}, {"expected": "down"}, {"what": "event"}, {"what": "active"},
        {"what": "moves"}, {"change": change(what="layout")}, {"change": change(what="other")},
    ]  # fmt: skip
    verdicts = [("rose", ""), ("fell", ""), ("held", ""), ("confounded", reasons.CONFOUNDED_BY)]
    verdicts += [
        (TOO_EARLY, r) for r in (reasons.SPREAD, reasons.NEVER_WITH_THIS_DESIGN, reasons.TOO_FEW_UNITS)
    ]
    verdicts += [(TOO_EARLY, reasons.UNSEEN_DECIDE)]
    for (verdict, reason), extra, numbers in product(verdicts, varied, every()):
        f = Finding(("water-1", "z1"), verdict, "", reason, numbers, unit="session", facts={**facts, **extra},
                    confounders=BESIDE)  # fmt: skip
        yield shift_words.sentence(f, LABELS, declared)
    for q, numbers in product(("temperature_c", "humidity_pct"), every()):
        own = {**facts, "what": "condition"}
        yield shift_words.sentence(
            Finding(("water-1", q), "rose", numbers=numbers, facts=own), LABELS, declared
        )


def between(declared: Declaration) -> Iterator[str]:
    facts = {"named": ("Control", "Spider"), "agree": False, "by_name": True}
    verdicts = [("rose", ""), ("fell", ""), ("held", ""), ("confounded", reasons.CONFOUNDED_BY)]
    verdicts += [(TOO_EARLY, r) for r in (reasons.SPREAD, reasons.CANNOT_BE_TESTED, reasons.TOO_FEW_UNITS)]
    for (verdict, reason), kind, what, expected in product(
        verdicts, ("pairs", "groups"), ("zone", "active", "event", "moves"), (None, "up")
    ):
        for numbers in positive():
            own = {**facts, "kind": kind, "what": what, "expected": expected}
            f = Finding(
                ("spider", "z1"), verdict, "", reason, numbers, unit="animal", facts=own, confounders=BESIDE
            )
            yield shift_words.sentence(f, LABELS, declared)


def retreats(declared: Declaration) -> Iterator[str]:
    at_home: list[dict[str, str]] = [{}, {"a1": "z1"}]
    kinds: list[tuple[dict[str, Any], tuple[str, str]]] = [
        ({"kind": "unused", "enclosure": ""}, ("unused", "")),
        *(({"kind": "dry", "heat": heat}, ("moves", "")) for heat in ("parted", "not known", "alike")),
        *(({"kind": "dry", "heat": "alike"}, (TOO_EARLY, r))
          for r in (reasons.SPREAD, reasons.NO_RECORD, reasons.TOO_FEW_MOVES, reasons.DRY_OR_HOT)),
        *(({"kind": "company", "enclosure": "Tub 1"}, v) for v in (("together", ""), ("apart", ""))),
        *(({"kind": "company", "enclosure": ""}, (TOO_EARLY, r))
          for r in (reasons.NEVER_WITH_THIS_DESIGN, reasons.TOO_FEW_CHECKS, reasons.CANNOT_BE_TESTED,
                    reasons.TOO_FEW_MOVES, reasons.SPREAD)),
        ({"kind": "pair"}, ("together", "")),
        *(({"kind": "keeping", "known": 2, "homes": h}, ("keeps to one", "")) for h in at_home),
        *(({"kind": "keeping", "known": 8, "homes": {}}, (TOO_EARLY, r))
          for r in (reasons.NOBODY_TO_COMPARE, reasons.CANNOT_BE_TESTED, reasons.SPREAD)),
        *(({"kind": "crowding"}, v)
          for v in (("together", ""), ("apart", ""), (TOO_EARLY, reasons.SPREAD), (TOO_EARLY, reasons.TOO_FEW_MOVES))),
    ]  # fmt: skip
    for facts, (verdict, reason) in kinds:
        about = ("z1", "z2") if facts["kind"] == "unused" else ("a1", "a2")
        for numbers in every() if facts["kind"] == "dry" else positive():
            yield retreat_words.sentence(Finding(about, verdict, "", reason, numbers, facts=facts), LABELS)


def climate(declared: Declaration) -> Iterator[str]:
    past = [(6.0, True), (1.0, True), (9.0, False)]
    held = [past[:1], past[1:2], past[:2], past, [(float(d), True) for d in range(4, 11)]]
    for verdict, limit, charges, days in product(
        (DRYING, RECHARGE, STEADY), (None, 72.0), held, (0.0, 0.9, 12.0)
    ):
        for count in (0, 1, 3):
            one: Any = SimpleNamespace(
                level=74.3, saturated=count == 3, limit=limit,
                days=(days, days * 0.5, days + 3), per_day=1.0, verdict=verdict, reason="",
                forecast=SimpleNamespace(past=count, low=1.0), now_day=10.0, cycles=SimpleNamespace(newest=9.5),
            )  # fmt: skip
            f = Finding(("z1",), verdict, facts={"kind": "drying", "drying": one, "held": charges})
            yield climate_words.without_basis(f, LABELS)
    for numbers, slots, q in product(positive(), ((), ("day",)), ("temperature_c", "humidity_pct")):
        facts: dict[str, Any] = {
            "kind": "flat", "quantity": q, "enclosure": "", "zone": "z1", "other": "z2", "slots": slots,
            "humidity": 85.0,
        }  # fmt: skip
        yield climate_words.sentence(
            Finding(("z1",), "no gradient", numbers=numbers, facts=facts), declared, LABELS
        )
        warm = {"kind": "warmer", "slot": "day"}
        yield climate_words.sentence(
            Finding(("z1", "z2"), "warmer", numbers=numbers, facts=warm), declared, LABELS
        )
    for numbers, purpose, over in product(every(), ("humidity", "radiation", "temperature"), ("all", "week")):
        facts = {
            "kind": "serving",
            "purpose": purpose,
            "quantity": "humidity_pct",
            "slot": "day",
            "over": over,
        }
        yield climate_words.sentence(
            Finding(("z1",), "not serving", numbers=numbers, facts=facts), declared, LABELS
        )


def observers(declared: Declaration) -> Iterator[str]:
    for again, misleading, rare, as_a_whole, count in product(*[(False, True)] * 4, COUNTS):
        judged: Any = SimpleNamespace(
            matched=SimpleNamespace(again=again, observers=("Jo", "Mika"), pair="Jo + Mika"), what="behaviour",
            misleading=misleading, rare=rare, coefficient=(0.731, 0.61, 0.81), uncommon=count, as_a_whole=as_a_whole,
            reason="", few={"resting": count}, found=SimpleNamespace(kappa=0.41, ac1=0.93, common=0.9, expected=0.8),
            categories=[{"category": "alert", "examples": 40}], sessions=count,
        )  # fmt: skip
        for verdict, reason in (
            ("agree", ""), ("sharpen", ""), (TOO_EARLY, reasons.TOO_FEW_UNITS), (TOO_EARLY, reasons.TOO_FEW_KINDS),
            (TOO_EARLY, reasons.SPREAD),
        ):  # fmt: skip
            f = Finding(("Jo + Mika",), verdict, "", reason, AnyNumbers(count, 0.85, 1),
                        Forecast(count, 0.8), facts={"judged": judged})  # fmt: skip
            yield observer_words.sentence(f, declared, LABELS)
        row = {
            "one": "resting",
            "other": "alert",
            "one_other": count,
            "other_one": 0,
            "moments": count,
            "sessions": 1,
        }
        f = Finding(("Jo + Mika",), "sharpen", facts={"judged": judged, "confusion": row})
        yield (
            observer_words.sentence(f, declared, LABELS)
            .replace("behaviours.resting", "")
            .replace("behaviours.alert", "")
        )


def plans(declared: Declaration) -> Iterator[str]:
    for count in COUNTS:
        did: Any = SimpleNamespace(sessions=count, days=count)
        for changes in (0, 1, 2):
            yield plan_words.headline(did, [None] * count, [None] * changes)  # type: ignore[list-item]
        f = Finding(("z1",), TOO_EARLY, "", reasons.SPREAD, {}, Forecast(count, 0.8), "day",
                    facts={"by_answer": {"zones": count}, "answer": "zones"})  # fmt: skip
        yield plan_words.sentence(f, LABELS, declared)
        turned = Finding(("temperature_c",), TOO_EARLY, "", reasons.SPREAD, {}, Forecast(count, 0.8),
                         facts={"turned": True})  # fmt: skip
        yield plan_words.sentence(turned, LABELS, declared)


def preference(declared: Declaration) -> Iterator[str]:
    facts = {"at_every_hour": True, "moved": True, "side": "low", "by_places": True, "partly_the_place": True}
    verdicts = [(v, "") for v in ("peaked", "rising", "falling", "flat", "threshold", "uneven")]
    verdicts += [(TOO_EARLY, r) for r in (reasons.NOT_JUDGED, reasons.PLACE_OR_CONDITION, reasons.SPREAD,
                                          reasons.NEVER_WITH_THIS_DESIGN)]  # fmt: skip
    for (verdict, reason), q in product(verdicts, ("temperature_c", "humidity_pct", "cover")):
        for flipped, numbers in product((False, True), every()):
            own = {
                **facts,
                **({k: not v for k, v in facts.items() if isinstance(v, bool)} if flipped else {}),
            }
            ahead = Forecast(numbers.count, 0.8, 40)
            yield preference_words.sentence(
                Finding((q,), verdict, "", reason, numbers, ahead, "day", facts=own), False
            )
    for numbers in every():
        f = Finding(("temperature_c", "day", "night"), "differs", numbers=numbers, unit="animal")
        yield preference_words.sentence(f, False)
    yield preference_words.sentence(Finding((), TOO_EARLY, reason=reasons.NO_READINGS), False)


def across(declared: Declaration) -> Iterator[str]:
    things = (
        ("zone", "humid retreat", None), ("change", "water", None), ("preferred", "temperature_c", None),
        ("condition", "temperature_c", 24.3), ("condition", "humidity_pct^2", 60.0), ("condition", "odd", 1.0),
    )  # fmt: skip
    for what, name, around in things:
        for verdict, reason in (
            ("holds", ""),
            ("differs", ""),
            (TOO_EARLY, reasons.TOO_FEW_UNITS),
            (TOO_EARLY, ""),
        ):
            for numbers in positive():
                f = Finding((name,), verdict, "", reason, numbers, facts={"what": what, "around": around})
                yield across_words.sentence(f)


def zones(declared: Declaration) -> Iterator[str]:
    verdicts = [(v, "") for v in ("avoided", "favoured", "in proportion")]
    verdicts += [(TOO_EARLY, r) for r in (reasons.SPREAD, reasons.UNSEEN_DECIDE, reasons.TOO_FEW_MOVES,
                                          reasons.NOTHING_TO_CHOOSE, reasons.TOO_FEW_UNITS)]  # fmt: skip
    for (verdict, reason), numbers, more in product(verdicts, positive(), (None, 1, 87)):
        for absent in ((), ("even_low",)):
            own = AnyNumbers(numbers.count, numbers.value, 1, absent)
            f = Finding(("z1",), verdict, "", reason, own, Forecast(more, 0.8, 40), "day")
            yield zone_words.sentence(f, LABELS)
    for why, count, asked in product(
        (
            nothing.NO_SESSION, nothing.ONLY_READINGS, nothing.FILTERED, nothing.ONLY_EVENTS, nothing.KEPT_OUT,
            nothing.NOBODY,
        ),
        COUNTS, ("", "Broad stripe, at night"),
    ):  # fmt: skip
        found = Finding((), TOO_EARLY, facts={"nothing": nothing.Nothing(why, count, asked)})
        yield zone_words.sentence(found, LABELS)
    for count in COUNTS:
        did: Any = SimpleNamespace(
            unseen=count,
            missed=count,
            sessions=count,
            days=count,
            moments=count,
            cluster="day",
            because="one_a_day",
        )
        yield zone_words.headline(did, None)


def activity(declared: Declaration) -> Iterator[str]:
    verdicts = [("more", ""), ("less", ""), ("usual", ""), (TOO_EARLY, reasons.SPREAD)]
    verdicts += [(TOO_EARLY, reasons.NOT_JUDGED), (TOO_EARLY, reasons.ONE_SIDE_SHORT)]
    for (verdict, reason), numbers in product(verdicts, every()):
        if reason == reasons.NOT_JUDGED and numbers.sign < 0:
            continue
        yield activity_words.sentence(Finding(("resting",), verdict, "", reason, numbers), LABELS)


def second_opinion(declared: Declaration) -> Iterator[str]:
    for unit, clusters, value in product(("share", "points", "°C"), COUNTS, (*VALUES, -0.31)):
        ours = Ours(("z1",), value, value - 0.2, value + 0.2, 0.3, unit)
        other = Opinion("cluster-robust binomial", value, value - 0.1, value + 0.1, clusters)
        said = [
            opinion_words.row_said(ours, other, agrees, why, LABELS)
            for agrees, why in ((True, ""), (False, "few_clusters"), (False, "narrower"), (False, "wider"))
        ]
        yield from said
        rows = [{"method": other.method, "agrees": i == 0, "says": s} for i, s in enumerate(said)]
        yield from opinion_words.whole_said(rows)
    yield from opinion_words.whole_said([])


def five_sentences(declared: Declaration) -> Iterator[str]:
    """The page's summary, from rows and findings as the answers give them."""
    row = {"ratio": 2.04, "ratio_low": 1.31, "ratio_high": 3.0, "zone": "z1"}
    verdicts = ("avoided", "favoured", "in proportion", TOO_EARLY)
    for first, second, count in product(verdicts, verdicts, COUNTS):
        findings = [Finding(("z1",), first), Finding(("z2",), second)]
        table = pd.DataFrame([row, {**row, "zone": "z2", "ratio": 0.0, "ratio_low": 0.0}])
        settling = pd.DataFrame([{"zone": "z1", "more": count}])
        zones: Any = SimpleNamespace(
            findings=findings, table=table, labels=LABELS, parts={"settling": settling},
            effort={"sessions": count, "days": count, "moments": count, "unseen": count, "cluster": "day"},
        )  # fmt: skip
        found: Any = SimpleNamespace(
            zones=zones, declared=declared, watched=(), filters=SimpleNamespace(animals=(), slot=None)
        )
        yield five.study_said(found).says
        yield five.where_said(found).says
    offer = {"offered_low": 11.9, "offered_high": 15.1, "peak_low": 12.0, "peak_high": 13.0, "peak": 12.4}
    shapes = ("peaked", "flat", "threshold", "uneven", "rising", "falling")
    causes: tuple[str | None, ...] = (None, "temperature_c", "place", "size", "cover")
    for shape, q, cause in product(shapes, ("temperature_c", "humidity_pct"), causes):
        why = pd.DataFrame(
            [{"zone": "z1", "cause": cause is not None, "term": cause or q, "difference": -1.0}]
        )
        held = {name: Number(value, "") for name, value in offer.items()}
        prefer: Any = SimpleNamespace(
            findings=[Finding((q,), shape, numbers=held, facts={"side": "low"})], labels=LABELS, parts={"why": why},
            table=pd.DataFrame([{**offer, "quantity": q, "shape": shape, "edge": 12.2}]),
        )  # fmt: skip
        yield five.why_said(SimpleNamespace(prefer=prefer, declared=declared)).says  # type: ignore[arg-type]


def recorder(declared: Declaration) -> Iterator[str]:
    """Records in a line, as every screen and short answer says them; made into sentences to be read alike."""
    animal, other = next(iter(declared.animals)), {"group": next(iter(declared.groups), "")}
    zone, behaviour = next(iter(declared.zones)), next(iter(declared.behaviours))
    group = [{**other, "count": n} for n in COUNTS] if other["group"] else []
    whom: list[dict[str, Any]] = [
        {"animal": animal},
        *group,
        {"animal": None, "count": 1},
        {"animal": None, "count": 3},
    ]
    places: list[dict[str, Any]] = [
        {"zone": zone},
        {"zone": zone, "behaviour": behaviour},
        {"zone": zone, "sure": False},
    ]
    kinds: list[tuple[str, dict[str, Any]]] = [("seen", p) for p in places]
    kinds += [("unseen", {}), ("missed", {}), ("happened", {"behaviour": behaviour, "zone": zone})]
    kinds += [("spent", {"zone": zone, "seconds": s, "of_seconds": 3600.0}) for s in (60.0, 61.0, 2700.0)]
    for (kind, fields), who in product(kinds, whom):
        yield recording_words.line_words(declared, SimpleNamespace(kind=kind, fields={**who, **fields}))  # type: ignore[arg-type]
    changes = [{"what": "water", "zones": [zone], "amount": a, "unit": "l"} for a in (None, 1.0, 2.5)]
    contexts = [
        {"what": w, "value": v, "animal": animal}
        for w, v in (("fed", "2 worms"), ("weighed", 12.0), ("temp", 0.0))
    ]
    for kind, fields in (
        *(("adjusted", c) for c in changes), *(("context", c) for c in contexts),
        *(("checked", {"zone": zone, **c}) for c in ({}, {"skipped": True}, {"lifted": True})),
    ):  # fmt: skip
        yield recording_words.line_words(declared, SimpleNamespace(kind=kind, fields=fields))  # type: ignore[arg-type]
    for count in COUNTS:
        for counts in (Counter(seen=count, unseen=count), Counter(seen=count), Counter()):
            beat, plan = SimpleNamespace(scans=count), SimpleNamespace(who=())
            core: Any = SimpleNamespace(
                beat=beat, misses=set(), sheet=SimpleNamespace(plan=plan), has=lambda *_: True
            )
            yield session_summary._gaps(core, counts)
            yield session_summary._scans(core)


def tracks(declared: Declaration) -> Iterator[str]:
    for count in COUNTS:
        lost: Any = SimpleNamespace(
            counts=SimpleNamespace(no_time=count, no_number=count), unread=count, unknown={"x": count, "": count},
            followers={"a1": SimpleNamespace(back=count, jumps=count)}, table=SimpleNamespace(fastest=2.5),
        )  # fmt: skip
        yield from track_words._rows_lost(lost)


# Lines that are no sentences: they begin and end as lines do.
LINES = {"recorder", "tracks"}
NOT_FOR_LINES = {"no full stop", "small letter first", "bare id"}

MODULES: dict[str, Callable[[Declaration], Iterator[str]]] = {
    f.__name__: f
    for f in (
        shifts,
        between,
        retreats,
        climate,
        observers,
        plans,
        preference,
        across,
        zones,
        activity,
        second_opinion,
        five_sentences,
        recorder,
        tracks,
    )
}


@pytest.mark.parametrize("name", MODULES)
def test_no_sentence_says_what_nobody_says(name: str, declared: Declaration) -> None:
    told = set(MODULES[name](declared))
    assert len(told) > 12
    found: dict[str, str] = {}
    for kind, pattern in WRONG.items():
        if name in LINES and kind in NOT_FOR_LINES:
            continue
        for one in told:
            if re.search(pattern, one):
                found.setdefault(f"{kind}: {re.search(pattern, one)}", one)
    assert found == {}


@pytest.mark.parametrize("name", MODULES)
def test_a_reader_of_the_page_meets_no_words_of_commands(name: str, declared: Declaration) -> None:
    for one in set(MODULES[name](declared)):
        assert not re.search(r"--[a-z]|\blog odds\b|\blog likelihood\b|\[\d", for_readers(one)), one
