"""The retreat rounds of a session: when each was, and which zones it looked into."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from ..journal import Session

ROUND = "retreat-round"
# Records of one session further apart than this are of two rounds (a table of a whole season as one session).
ONE_ROUND = timedelta(hours=6)


@dataclass(frozen=True, slots=True)
class Round:
    """One way through the retreats: from its first to its last record, and the zones looked into or with a find."""

    start: datetime
    end: datetime
    zones: frozenset[str]


def rounds_of(session: Session) -> tuple[Round, ...]:
    """The rounds of a session: usually one; a table may hold a season, each round hours from the next."""
    told = sorted(
        ((e.record.at, e.record) for e in session.entries if e.record.kind in ("seen", "unseen", "checked")),
        key=lambda one: one[0],
    )
    rounds: list[Round] = []
    for at, record in told:
        looked = record.kind == "seen" or (record.kind == "checked" and not record.get("skipped"))
        zones = frozenset({record.fields["zone"]} if looked and record.get("zone") else ())
        if rounds and at - rounds[-1].end <= ONE_ROUND:
            rounds[-1] = Round(rounds[-1].start, at, rounds[-1].zones | zones)
        else:
            rounds.append(Round(at, at, zones))
    return tuple(rounds)
