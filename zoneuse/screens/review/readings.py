"""What stands behind a climate finding: the loggers of its zones, the files, the last days, what each water did."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from ...answers.quantities_said import in_unit, label, unit
from ...study import Logger, Placement, visible
from .background.crossing import Given, number, text
from .base import ReviewScreen
from .drawing.bars import bar, fit
from .drawing.blocks import BLANK, OpenSessions, TextBlock, heading, plain_lines, table, wrapped


class ReadingsScreen(ReviewScreen):
    """One or more zones, one under the other."""

    def __init__(self, zones: tuple[str, ...]) -> None:
        super().__init__()
        self._zones = zones

    def title_words(self) -> str:
        return f"Readings · {', '.join(self._label(z) for z in self._zones)}"

    def _label(self, zone: str) -> str:
        """As the climate calls it: with its enclosure where there are several."""
        given = self.review.given.get("climate")
        known = self.review.declared.zones.get(zone)
        label = known.label if known is not None else zone
        return visible(given.labels.get(zone, label) if given is not None else label)

    def blocks(self, width: int) -> Sequence[TextBlock]:
        given = self.review.given.get("climate")
        if given is None:
            return [wrapped("Being worked out …", width, style="$muted")]
        return [block for zone in self._zones for block in self._zone(given, zone, width)]

    def _zone(self, given: Given, zone: str, width: int) -> list[TextBlock]:
        label = self._label(zone)
        blocks = [plain_lines(label, style="bold $who")] if len(self._zones) > 1 else []
        mine = [row for row in given.rows if row.about == (zone,)]
        blocks += table(given.headings, mine, width, self.narrow)
        blocks += self._loggers(given, zone, width)
        blocks += self._days(given, zone, width)
        blocks += self._waters(given, zone, width)
        sessions = OpenSessions(label, (self._place(zone),))
        return [*blocks, BLANK, plain_lines(f"The sessions in {label}", opens=sessions), BLANK]

    def _place(self, zone: str) -> str:
        known = self.review.declared.zones.get(zone)
        return known.place if known is not None else zone

    def _loggers(self, given: Given, zone: str, width: int) -> list[TextBlock]:
        """Who measured, where it lay, and the files its readings came in."""
        blocks = heading("Loggers and files", width)
        for logger in self.review.declared.loggers.values():
            for placed in (p for p in logger.placed if p.zone == zone):
                blocks.append(wrapped(self._placed(logger, placed), width, rest="  "))
                for row in given.series.get("files", ()):
                    if text(row, "logger") == logger.id:
                        blocks.append(wrapped(_file(row), width, "  ", "    ", style="$muted"))
        return blocks

    def _placed(self, logger: Logger, placed: Placement) -> str:
        zone = self.review.declared.timezone
        spot = f", {placed.spot}" if placed.spot else ""
        times = [("since", placed.start), ("until", placed.until)]
        when = "".join(f", {word} {_day(at.astimezone(zone))}" for word, at in times if at is not None)
        salts = ", ".join(sorted({point.salt for point in logger.salt_points}))
        checks = f"; checked against {salts}" if salts else ""
        return f"{logger.id}{spot}{when}{checks}"

    def _days(self, given: Given, zone: str, width: int) -> list[TextBlock]:
        """The last daily medians and the days ahead, a line each."""
        rows = [r for r in given.series.get("chart", ()) if text(r, "zone") == zone]
        newest = _newest(given, zone, text(rows[0], "quantity")) if rows else ""
        known = [v for r in rows if (v := number(r, "median")) is not None]
        if not newest or not known:
            return []
        quantity, last = text(rows[0], "quantity"), datetime.fromisoformat(newest)
        title = f"{label(quantity).capitalize()}, {unit(quantity, self.review.declared.fahrenheit)}: daily medians"
        blocks = heading(title, width)
        most = max(known)
        for row in rows:
            at = (last + timedelta(days=number(row, "day") or 0.0)).astimezone(self.review.declared.timezone)
            value = number(row, "median")
            shown = (
                "–" if value is None else f"{in_unit(quantity, value, self.review.declared.fahrenheit):.1f}"
            )
            ahead = "expected" if row.get("ahead") is True else ""
            drawn = bar(value, most, max(4, min(40, width - 30)))
            blocks.append(plain_lines(f"{fit(_day(at), 11)} {fit(shown, 6, True)} {drawn} {ahead}".rstrip()))
        return blocks

    def _waters(self, given: Given, zone: str, width: int) -> list[TextBlock]:
        rows = [r for r in given.series.get("responses", ()) if text(r, "zone") == zone]
        if not rows:
            return []
        return [
            *heading("What each water did", width),
            *(wrapped(self._water(r), width, rest="  ") for r in rows),
        ]

    def _water(self, row: Mapping[str, Any]) -> str:
        fahrenheit, quantity = self.review.declared.fahrenheit, text(row, "quantity")
        at = datetime.fromisoformat(text(row, "at")).astimezone(self.review.declared.timezone)
        name = text(row, "adjustment") or "found in the readings, not on record"
        values = [number(row, k) for k in ("before", "peak")]
        shown = ["–" if v is None else f"{in_unit(quantity, v, fahrenheit):.0f}" for v in values]
        held, hours = number(row, "held_days"), number(row, "to_peak_h")
        words = f"{_day(at)} {at:%H:%M} ({name}): {' to '.join(shown)} {unit(quantity, fahrenheit)}"
        words += f" in {hours:.0f} h" if hours is not None else ""
        return words + (f", held {held:.0f} days" if held is not None else "")


def _newest(given: Given, zone: str, quantity: str) -> str:
    """When a zone's quantity was read last, ISO; empty where it never was."""
    rows = given.series.get("zones", ())
    return next(
        (text(r, "newest_at") for r in rows if (text(r, "zone"), text(r, "quantity")) == (zone, quantity)), ""
    )


def _file(row: Mapping[str, Any]) -> str:
    first, last = (datetime.fromisoformat(text(row, k)) for k in ("first", "last"))
    return f"{text(row, 'file')}: {number(row, 'rows') or 0:,.0f} readings, {_day(first)} to {_day(last)}"


def _day(at: datetime) -> str:
    return f"{at.day} {at:%b %Y}"
