"""Sentences over many numbers, read for plurals, signs, doubled spaces and what we do not say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product
from types import SimpleNamespace
from typing import Any

import pytest

from zoneuse.answers import reasons
from zoneuse.answers.activity import words as activity_words
from zoneuse.answers.effort import Effort
from zoneuse.answers.finding import ALONE, FAIRLY_SURE, LOOKS_LIKE, TOO_EARLY, Finding, Forecast, numbers
from zoneuse.answers.records.accounts import Accounts, left_out_words
from zoneuse.answers.showing import said
from zoneuse.answers.zones import words as zone_words

LABELS = {"moss": "Moss end", "rest": "Resting"}
# A bare id, a number as the machine has it, words a native speaker of the trade would not use.
WRONG = (
    r"  ", r"\b1 (sessions|days|records|moments|animals|zones|moves|stays|hours|behaviours|changes|notes|cautions)\b",
    r"\b1 \w+ are\b", r"[+\-−]0\b(?![.])", r"\d\.\d{4,}", r"\bnan\b", r"\bNone\b", r"\.\.", r" [,.;]",
    r"(?i)proved|significant|likes\b|looking around|dearest|parted by|stayed risen|may be none|what it makes of",
    r"\b(moss|rest|moss_end)\b",
)  # fmt: skip
RATIOS = (0.0, 0.04, 0.4, 0.97, 1.0, 1.04, 2.317, 14.2)
COUNTS = (1, 2, 35)


def zone_findings() -> Iterator[Finding]:
    held = [
        (TOO_EARLY, r)
        for r in (reasons.TOO_FEW_UNITS, reasons.TOO_FEW_MOVES, reasons.UNSEEN_DECIDE, reasons.SPREAD)
    ]
    stands = [("avoided", ""), ("favoured", ""), ("in proportion", "")]
    for (verdict, reason), ratio, count in product([*held, *stands], RATIOS, COUNTS):
        named = numbers(
            used=(min(ratio * 0.1, 1), "share"), available=(0.1, "share"), ratio=(ratio, "ratio"),
            ratio_low=(ratio * 0.5, "ratio"), ratio_high=(ratio * 2 + 0.1, "ratio"), unseen_low=(0.0, "share"),
            unseen_high=(0.2, "share"), sessions=(count, "sessions"), days=(count, "days"), moves=(count, "moves"),
            sessions_used=(1, "sessions"), even_low=(0.8, "ratio"), even_high=(1.2, "ratio"), even_from=(0.67, "ratio"),
            even_to=(1.5, "ratio"),
        )  # fmt: skip
        for ahead in (None, Forecast(count, 0.8, 400), Forecast(None, 0.7, 400)):
            yield Finding(
                ("moss",), verdict, "", reason, named, ahead if reason == reasons.SPREAD else None, "day"
            )


def activity_findings() -> Iterator[Finding]:
    for verdict, change, count in product(
        ("more", "less", "usual", TOO_EARLY), (-0.004, 0.0, 0.004, 0.3), COUNTS
    ):
        named = numbers(
            before=(0.4, "share"), after=(0.4 + change, "share"), change=(change, "share"),
            change_low=(change - 0.001, "share"), change_high=(change + 0.2, "share"), sessions=(count, "sessions"),
            sessions_before=(count, "sessions"), sessions_after=(count, "sessions"),
        )  # fmt: skip
        yield Finding(("rest",), verdict, numbers=named, unit="day")


def sentences() -> Iterator[str]:
    yield from (zone_words.sentence(f, LABELS) for f in zone_findings())
    yield from (activity_words.sentence(f, LABELS) for f in activity_findings())
    for count in COUNTS:
        did: Any = SimpleNamespace(
            sessions=count,
            days=count,
            moments=count,
            unseen=count,
            missed=count,
            cluster="day",
            because="one_a_day",
        )
        yield zone_words.headline(did, None)
        yield activity_words.headline(did, [None] * count)  # type: ignore[arg-type]
        yield from (c.says for c in left_out_words(Accounts(count, 0, {"handled": count}, count)))
        yield said.about_so_many(count, "day")
        for named, early in product(
            (["Moss end"], ["Moss end", "Bark"], ["A", "B", "C", "D", "E"]), (0, 1, count)
        ):
            yield said.verdicts_said([("avoided", named), ("favoured", ["Slate"])], early, "zone")
    yield said.verdicts_said([], 1, "zone")
    yield said.verdicts_said([], 4, "zone")
    for value in (-0.3, -0.004, 0.0, 0.004, 0.149):
        yield said.points_with(value, value - 0.001, value + 0.2)
    yield from (said.times_with(r, r / 2, r * 2) for r in RATIOS)
    yield from said.NEEDS.values()


def test_no_sentence_says_what_nobody_says() -> None:
    told = list(sentences())
    assert len(told) > 300
    found = {(pattern, one) for one in told for pattern in WRONG if re.search(pattern, one)}
    assert found == set()


@pytest.mark.parametrize("value", RATIOS)
def test_a_ratio_reads_on_the_side_it_is_on(value: float) -> None:
    read = float(said.times(value))
    assert (read < 1) == (value < 0.995) and (read > 1) == (value > 1.005)


def test_a_row_says_beside_its_verdict_how_far_to_trust_it() -> None:
    told = {s: said.beside(Finding(("moss",), "avoided", s)) for s in (LOOKS_LIKE, FAIRLY_SURE, ALONE)}
    assert told == {
        LOOKS_LIKE: "looks like it today", FAIRLY_SURE: "fairly sure here", ALONE: "only on its own",
    }  # fmt: skip


def test_effort_is_what_the_headlines_need() -> None:
    assert {"sessions", "days", "moments", "unseen", "missed", "cluster"} <= set(Effort.__dataclass_fields__)
