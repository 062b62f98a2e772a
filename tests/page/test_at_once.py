"""What a page claims stands beside all that it asks: the answers share one level."""

from __future__ import annotations

import pandas as pd
import pytest

from zoneuse import Answer
from zoneuse.answers.at_once import PAGE_LEVEL, at_once
from zoneuse.answers.finding import ALONE, FAIRLY_SURE, LOOKS_LIKE, TOO_EARLY, Finding, Number, trust_said
from zoneuse.answers.reasons import NO_RECORD, SPREAD


def claim(by_luck: float | None, standing: str = LOOKS_LIKE) -> Finding:
    named = {} if by_luck is None else {"by_luck": Number(by_luck, "chance")}
    return Finding(("moss",), "avoided", standing, numbers=named)


def answers(*findings: list[Finding]) -> list[Answer]:
    return [Answer(f"answer {i}", "invented", pd.DataFrame(), tuple(some)) for i, some in enumerate(findings)]


NOTHING = [Finding(("moss",), TOO_EARLY, reason=SPREAD)]


@pytest.mark.parametrize(
    ("chances", "stand"),
    [
        ((0.04, None, None, None, None), [False]),  # one of five just past its own look
        ((0.02, None, None, None, None), [True]),
        ((0.02, 0.035, None, None, None), [True, True]),  # the next is held against one answer less
        ((0.032, 0.035, None, None, None), [False, False]),
        ((0.02, 0.039, None, None, None), [True, False]),
    ],
)
def test_answers_share_the_level_of_a_page(chances: tuple[float | None, ...], stand: list[bool]) -> None:
    found = at_once(answers(*([claim(p)] if p is not None else NOTHING for p in chances)))
    told = [a.findings[0].standing for a in found if a.findings[0].verdict == "avoided"]
    assert [s == LOOKS_LIKE for s in told] == stand
    assert {s for s in told if s != LOOKS_LIKE} <= {ALONE}


def test_what_is_asked_alone_is_held_to_its_own_look_at_most() -> None:
    nothing_to_go_by = [Finding((), TOO_EARLY, reason=NO_RECORD)]
    (found, *_) = at_once(answers([claim(0.05)], *[nothing_to_go_by] * 4))
    assert found.findings[0].standing == LOOKS_LIKE and PAGE_LEVEL >= 0.05


def test_sure_claims_and_claims_of_sameness_stay_as_they_are() -> None:
    even, sure = claim(None), claim(0.049, FAIRLY_SURE)
    found = at_once(answers([even, sure, claim(0.049)], *[NOTHING] * 4))[0].findings
    assert [f.standing for f in found] == [LOOKS_LIKE, FAIRLY_SURE, ALONE]
    assert "may be chance" in trust_said(ALONE)
