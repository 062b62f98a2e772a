"""Record what is seen: a session's modes, journal and beat, without a screen.

``begin`` and ``go_on`` open a session, ``make_plan`` plans one, ``read_past`` tells what earlier ones hold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .modes.added_zone import Added, free_zone_key, put_into_session, read_key
    from .modes.asking import Code, LiveKey, Prompt
    from .modes.corrections import Correction, corrections
    from .modes.counts import FORM
    from .modes.focal import Focal
    from .modes.opening import begin, close_as_it_stands, go_on, joined_plan, plan_of
    from .modes.recorder import Recorder
    from .modes.retreats.rounds import Rounding
    from .modes.scanning import Scanning
    from .practice.before import before, legend
    from .practice.scored import practised
    from .practice.script import ROUND_STUDY, STUDY, Practice, Script, make_round_script, make_script
    from .practice.seen import figures_now, seen_words
    from .session.actions import ACTIONS, BY_KEY, BY_NAME, Action
    from .session.cautions import SHORT, put_away
    from .session.held import Closing, HeldKey, TornSequence
    from .session.instant import Instant, read_clocks
    from .session.ledger import LedgerEntry
    from .session.newest import Newest, brief_age, broken, read_newest, reading_age, value_words
    from .session.notes import WHATS, Said, understand
    from .session.others import going_on, watching_too
    from .session.past import read_past
    from .session.plan import Plan, PlanError, Who, make_plan, people
    from .session.recall import Recall, began, recall
    from .telling.care import care_words
    from .telling.first_line import first_line
    from .telling.plain import run_plain
    from .telling.said import write_said
    from .telling.summary import summary
    from .words import line_words, span_words, who_words

__all__ = [
    "ACTIONS",
    "BY_KEY",
    "BY_NAME",
    "FORM",
    "ROUND_STUDY",
    "SHORT",
    "STUDY",
    "WHATS",
    "Action",
    "Added",
    "Closing",
    "Code",
    "Correction",
    "Focal",
    "HeldKey",
    "Instant",
    "LedgerEntry",
    "LiveKey",
    "Newest",
    "Plan",
    "PlanError",
    "Practice",
    "Prompt",
    "Recall",
    "Recorder",
    "Rounding",
    "Said",
    "Scanning",
    "Script",
    "TornSequence",
    "Who",
    "before",
    "began",
    "begin",
    "brief_age",
    "broken",
    "care_words",
    "close_as_it_stands",
    "corrections",
    "figures_now",
    "first_line",
    "free_zone_key",
    "go_on",
    "going_on",
    "joined_plan",
    "legend",
    "line_words",
    "make_plan",
    "make_round_script",
    "make_script",
    "people",
    "plan_of",
    "practised",
    "put_away",
    "put_into_session",
    "read_clocks",
    "read_key",
    "read_newest",
    "read_past",
    "reading_age",
    "recall",
    "run_plain",
    "seen_words",
    "span_words",
    "summary",
    "understand",
    "value_words",
    "watching_too",
    "who_words",
    "write_said",
]
__getattr__ = opened(
    __name__,
    {
        "modes.added_zone": "Added free_zone_key put_into_session read_key",
        "modes.asking": "Code LiveKey Prompt",
        "modes.corrections": "Correction corrections",
        "modes.counts": "FORM",
        "modes.focal": "Focal",
        "modes.opening": "begin close_as_it_stands go_on joined_plan plan_of",
        "modes.recorder": "Recorder",
        "modes.retreats.rounds": "Rounding",
        "modes.scanning": "Scanning",
        "practice.before": "before legend",
        "practice.scored": "practised",
        "practice.script": "Practice ROUND_STUDY STUDY Script make_round_script make_script",
        "practice.seen": "figures_now seen_words",
        "session.actions": "ACTIONS Action BY_KEY BY_NAME",
        "session.cautions": "SHORT put_away",
        "session.held": "Closing HeldKey TornSequence",
        "session.instant": "Instant read_clocks",
        "session.ledger": "LedgerEntry",
        "session.newest": "Newest brief_age broken read_newest reading_age value_words",
        "session.notes": "Said WHATS understand",
        "session.others": "going_on watching_too",
        "session.past": "read_past",
        "session.plan": "Plan PlanError Who make_plan people",
        "session.recall": "Recall began recall",
        "telling.care": "care_words",
        "telling.first_line": "first_line",
        "telling.plain": "run_plain",
        "telling.said": "write_said",
        "telling.summary": "summary",
        "words": "line_words span_words who_words",
    },
)
