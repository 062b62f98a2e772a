"""The beat of a session: which scan a moment belongs to, and how long until the next."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Beat:
    """Scans at a steady distance on the monotonic clock; pauses push all later scans back.

    ``first`` is when scan number ``first_scan`` begins (monotonic seconds, after settling), ``every_s`` the
    distance of scans in seconds, ``scans`` the last scan's number. No clock step can move it.
    """

    first: float
    every_s: float
    scans: int
    first_scan: int = 1
    paused_at: float | None = None

    def scan_at(self, mono: float) -> int:
        """The scan under way: one below ``first_scan`` while settling, ``scans`` + 1 when all is over.

        >>> [Beat(100.0, 60.0, 2).scan_at(t) for t in (99.0, 100.0, 160.0, 220.0)]
        [0, 1, 2, 3]
        """
        now = mono if self.paused_at is None else min(mono, self.paused_at)
        if now < self.first:
            return self.first_scan - 1
        return min(self.first_scan + int((now - self.first) // self.every_s), self.scans + 1)

    def begins(self, scan: int) -> float:
        """When a scan begins, in monotonic seconds (later still if a pause is under way)."""
        return self.first + (scan - self.first_scan) * self.every_s

    def left_s(self, mono: float) -> float:
        """Seconds until the next scan, or until the last one is over; 0 when all is over."""
        now = mono if self.paused_at is None else min(mono, self.paused_at)
        scan = self.scan_at(mono)
        return max(0.0, self.begins(scan + 1) - now) if scan <= self.scans else 0.0

    def passed(self, mono: float) -> float:
        """How much of the running scan is over, 0 to 1."""
        scan = self.scan_at(mono)
        if scan < self.first_scan or scan > self.scans:
            return 0.0
        return 1.0 - self.left_s(mono) / self.every_s

    def pause(self, mono: float) -> Beat:
        return self if self.paused_at is not None else replace(self, paused_at=mono)

    def resume(self, mono: float) -> Beat:
        """Go on: what was left of the scan is still left."""
        if self.paused_at is None:
            return self
        return replace(self, first=self.first + max(0.0, mono - self.paused_at), paused_at=None)

    def start_now(self, mono: float) -> Beat:
        """End the settling time: the first scan begins at once."""
        return replace(self, first=mono) if mono < self.first and self.paused_at is None else self
