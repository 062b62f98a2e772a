"""What was understood of an export, in plain words."""

from __future__ import annotations

from datetime import tzinfo

from ...study import QUANTITIES
from ..layout import CALENDAR, DELIMITER_WORDS, TZ_OVER_EACH, Layout, ValueColumn
from ..times.local_time import zone_words
from ..times.spoken import local, step_words
from .file_reader import kind_of
from .intake import Staged
from .rows import Refused
from .workbook import WORKBOOK_ENDINGS

_ORDER_WORDS = {"DMY": "day first", "MDY": "month first", "YMD": "year first"}
_MOST_REASONS = 5


def values_words(quantity: str, low: float, high: float) -> str:
    """``temperature 21.3 to 27.9 °C``."""
    q = QUANTITIES[quantity]
    unit = f" {q.unit}" if q.unit else ""
    span = f"{low:.4g}" if f"{low:.4g}" == f"{high:.4g}" else f"{low:.4g} to {high:.4g}"
    return f"{q.label} {span}{unit}"


def describe(staged: Staged, zone: tzinfo) -> list[str]:
    """The lines that tell the keeper what would be taken in. ``zone``: the study's, for showing times."""
    lines = [f"{staged.path.name}:"]
    for logger, sink in staged.sinks.items():
        if not sink.rows:
            continue
        ranges = "; ".join(
            values_words(q, sink.low[q], sink.high[q]) for q in sink.quantities if q in sink.low
        )
        rows = f"{sink.rows:,} row{'s' * (sink.rows != 1)}"
        span = f"from {local(sink.first_ms, zone)} to {local(sink.last_ms, zone)}, {zone_words(zone)}"
        lines.append(f"  {logger}: {rows} {span}, {step_words(sink.usual_step_ms)}; {ranges}.")
    lines += [f"  {line}" for line in _how(staged)]
    lines += [f"  {line}" for line in _samples(staged, zone)]
    return lines + [f"  {line}" for line in _left_out(staged, zone)]


def _how(staged: Staged) -> list[str]:
    layout = staged.layout
    time = layout.time
    zone = "each time carries its own offset" if time.own_offset else f"times in {_zone_said(staged)}"
    order = f", {_ORDER_WORDS[time.order]}" if time.kind == CALENDAR and time.order else ""
    decimal = ", decimal commas" if layout.decimal == "," else ""
    # A workbook's cells were apart before they were read.
    cells = (
        "from the cells of a workbook"
        if staged.path.suffix.lower() in WORKBOOK_ENDINGS
        else f"with columns separated by {DELIMITER_WORDS[layout.delimiter]}"
    )
    read = [f"{cells}{decimal}; {zone}{order}"]
    if layout.values:
        read.append("; ".join(_column(layout, v) for v in layout.values))
    if layout.long and any(u == "F" for _, _, u in layout.long.meanings):
        read.append("the file is in °F, stored as °C")
    return [*(f"Read {read[0]}.",), *(f"{r[0].upper()}{r[1:]}." for r in (*read[1:], *layout.notes))]


_UNITS = {
    "C": "in °C",
    "F": "in °F, stored as °C",
    "K": "in kelvin, stored as °C",
    "share": "a fraction, stored as %",
}


def _column(layout: Layout, value: ValueColumn) -> str:
    """``column 3 'Temp, °F' is temperature in °F, stored as °C (L1)``."""
    name = f"column {value.column + 1}{f' {value.header!r}' if value.header else ''}"
    unit = _UNITS.get(
        value.unit, f"in {QUANTITIES[value.quantity].unit}" if QUANTITIES[value.quantity].unit else ""
    )
    whose = f" ({value.logger})" if value.logger else ""
    return f"{name} is {QUANTITIES[value.quantity].label}{f' {unit}' if unit else ''}{whose}"


def taken_words(staged: Staged, zone: tzinfo) -> str:
    """After it: whose, from when to when, how far apart."""
    return "; ".join(
        f"{name}, {local(sink.first_ms, zone)} to {local(sink.last_ms, zone)}, {step_words(sink.usual_step_ms)}"
        for name, sink in staged.sinks.items()
        if sink.rows
    )


def _zone_said(staged: Staged) -> str:
    time = staged.layout.time
    assert time.zone is not None
    source = {
        "the study": "the study's zone",
        "the file": "as the file says",
        "--tz": "as --tz says",
        TZ_OVER_EACH: "as --tz says",
    }
    where = source.get(time.zone_from, "")
    return f"{zone_words(time.zone)}{f' ({where})' if where else ''}"


def _samples(staged: Staged, zone: tzinfo) -> list[str]:
    shown = []
    for logger, line, at_ms, values in staged.samples:
        said = ", ".join(
            f"{values[q]:.4g}{' ' + QUANTITIES[q].unit if QUANTITIES[q].unit else ''}"
            for q in values
            if values[q] == values[q]
        )
        shown.append(f"Line {line} reads as {local(at_ms, zone)}, {said} ({logger}).")
    return shown


def _steps_said(staged: Staged) -> list[str]:
    """Where a logger's times have gaps, or go back."""
    lines = []
    for name, sink in staged.sinks.items():
        if sink.order.gaps:
            hours = sink.order.longest_gap_ms / 3_600_000
            lines.append(
                f"{name}: {sink.order.gaps:,} gaps of more than two steps, the longest {hours:.3g} h."
            )
        if sink.order.back:
            lines.append(
                f"{name}: time goes back in {sink.order.back:,} places; taken as written, in order of time."
            )
    return lines


def _refused_said(staged: Staged) -> list[str]:
    """How many rows are refused, and the most frequent reasons."""
    counts = staged.counts
    if not counts.refused_count:
        return []
    lines = [f"{counts.refused_count:,} rows are refused:"]
    for reason, count in counts.reasons.most_common(_MOST_REASONS):
        alike = [r for r in counts.refused if kind_of(r.reason) == reason]
        lines.append(f"  {count:,} x {alike[0].reason if alike else reason} (line{_numbers(alike, count)}).")
    return lines


def _left_out(staged: Staged, zone: tzinfo) -> list[str]:
    counts, lines = staged.counts, _steps_said(staged)
    if staged.doubles:
        lines.append(f"{staged.doubles:,} rows are there already and are not taken in twice.")
    if conflicts := sum(s.conflicts + s.clashes for s in staged.sinks.values()):
        lines.append(f"{conflicts:,} rows differ from others of the same time; both are kept and flagged.")
    lines += _refused_said(staged)
    if counts.missing:
        said = ", ".join(f"{text!r} {count:,} x" for text, count in counts.missing.most_common(4))
        lines.append(f"Read as missing: {said}.")
    if counts.empty:
        lines.append(f"{counts.empty:,} rows hold no value.")
    if counts.footer:
        lines.append(f"{counts.footer} lines after the table are no readings.")
    if counts.again:
        lines.append(f"{counts.again:,} lines within the table are its header once more, or remarks.")
    if counts.beside:
        lines.append(f"{counts.beside:,} rows have words at their right that are no part of the table.")
    if staged.layout.above:
        shown = "; ".join(f"line {n} {text!r}" for n, text in staged.layout.above[:4])
        lines.append(f"Above the table, and not taken for readings: {shown}.")
    if counts.others:
        lines.append(f"{counts.others:,} rows are of other series.")
    return lines + _marks(staged, zone)


def _numbers(refused: list[Refused], count: int) -> str:
    shown = ", ".join(str(r.line) for r in refused[:6])
    return f"{'s' * (count > 1)} {shown}{f' and {count - 6:,} more' if count > 6 else ''}"


def _marks(staged: Staged, zone: tzinfo) -> list[str]:
    if not staged.marks:
        return []
    shown = "; ".join(f"{m.says} {local(m.at_ms, zone)}" for m in staged.marks[:4])
    more = f" and {len(staged.marks) - 4} more" if len(staged.marks) > 4 else ""
    return [
        f"{len(staged.marks)} marks are kept ({shown}{more}). If one was a recharge or a move, put it on record: "
        "zoneuse adjust … --mark LOGGER:N (zoneuse readings lists them), or zoneuse note."
    ]
