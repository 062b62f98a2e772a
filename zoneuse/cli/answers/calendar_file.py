"""The sessions of a plan as a calendar file (RFC 5545)."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ...answers.answer import Answer
    from ...study import Declaration

# Time to sit down before the first scan, and to let the animals forget it.
REMIND_MIN = 15


def calendar(answer: Answer, declared: Declaration, now: datetime) -> bytes:
    """One event a session, in the study's time zone, with a reminder; ``now`` is when it was written.

    An event's UID follows from the study and the start, so that taking a file in twice doubles nothing.
    """
    from icalendar import Alarm, Calendar, Event

    from ...answers.showing.plain import rows

    book = Calendar()
    book.add("prodid", "-//zoneuse//plan//EN")
    book.add("version", "2.0")
    for row in rows(answer.table):
        start = datetime.fromisoformat(row["when"]).astimezone(declared.timezone)
        event = Event()
        digest = hashlib.sha256(f"{declared.title} {row['when']}".encode()).hexdigest()[:24]
        event.add("uid", f"{digest}@zoneuse")
        event.add("dtstamp", now)
        event.add("dtstart", start)
        event.add("dtend", start + timedelta(minutes=declared.watching.minutes))
        event.add("summary", f"Watch: {declared.title}")
        event.add("description", f"{row['why']}\nCovers: {row['covers']}\nDrawn by lot, seed {answer.seed}.")
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", f"Watch: {declared.title}")
        alarm.add("trigger", timedelta(minutes=-REMIND_MIN))
        event.add_component(alarm)
        book.add_component(event)
    book.add_missing_timezones()
    written: bytes = book.to_ical()
    return written
