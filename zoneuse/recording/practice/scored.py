"""How a practice went: the records beside what the animals did, and how late the answers came."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from statistics import median

# This module is loaded after the session has ended, with the numbers it needs; nothing that watches waits for it.
from ...stats.agreement import Agreement, agreement
from ...study import Declaration, visible
from ..modes.focal import Focal
from ..modes.recorder import Recorder
from ..modes.retreats.rounds import Rounding
from ..modes.scanning import Scanning
from ..words import behaviour_label, zone_label
from .scored_focal import changes, ticks
from .scored_round import scored_round
from .script import Practice, Stay

# Fewer than this of a zone or behaviour tell nothing of it.
LEAST_EXAMPLES = 10
# A mistake that was true so long before was seen rightly and answered too late.
MOVED_S = 2.0
NOT_FOUND = "not found"


@dataclass(frozen=True, slots=True)
class ScoredAnswer:
    """One answer and what was true at its first key; ``before`` is what was true ``MOVED_S`` earlier."""

    scan: int
    zone: str
    behaviour: str | None
    true: Stay
    before: Stay
    after_s: float


def answers(core: Scanning, practice: Practice) -> list[ScoredAnswer]:
    """The answers that stand, the last of each animal and scan, in order."""
    script, started = practice.script, core.sheet.ledger.started
    found: dict[tuple[int, str], ScoredAnswer] = {}
    for line in core.sheet.ledger.lines:
        if line.void or line.kind not in ("seen", "unseen"):
            continue
        scan, animal = line.fields.get("scan") or 0, str(line.fields.get("animal"))
        if not scan or animal not in script.stays:
            continue
        t = line.instant.mono - started
        zone = line.fields["zone"] if line.kind == "seen" else NOT_FOUND
        found[scan, animal] = ScoredAnswer(
            scan, zone, line.fields.get("behaviour"), script.at(animal, t), script.at(animal, t - MOVED_S),
            line.instant.mono - core.began.get(scan, line.instant.mono),
        )  # fmt: skip
    return [found[key] for key in sorted(found)]


def practised(core: Recorder, practice: Practice) -> list[str]:
    """The lines a person reads at the end of a practice."""
    end = [
        "Ranges are 95 %. Records within one stay of an animal repeat each other, so stays are counted.",
        f"To repeat it: {practice.again}",
        "Nothing from this practice is kept.",
    ]
    mode = core.mode
    if isinstance(mode, Scanning):
        return [*_scans(mode, practice), *end]
    if isinstance(mode, Rounding):
        return [*scored_round(mode, practice), *end[1:]]
    return [*_followed(mode, practice), *end] if isinstance(mode, Focal) else end


def _scans(core: Scanning, practice: Practice) -> list[str]:
    made, declared = answers(core, practice), core.sheet.plan.declared
    missed = [
        (scan, who)
        for scan, name in sorted(core.misses)
        for who in core.sheet.plan.who
        if who.id == name and not core.has(scan, who)
    ]
    lines = [f"{len(made)} of {len(made) + len(missed)} answers given, {len(missed)} missed."]
    if not made:
        return lines
    lines += _compared(declared, [(o.true, o.zone, o.behaviour) for o in made])
    lines += _late(made, core)
    if missed:
        told = ", ".join(f"{visible(who.label)} in scan {scan}" for scan, who in missed[:4])
        lines.append(f"Missed: {told}{f' and {len(missed) - 4} more' if len(missed) > 4 else ''}.")
    return lines


def _followed(core: Focal, practice: Practice) -> list[str]:
    made = ticks(core, practice)
    lines = [f"{len(made)} moments compared, one every {core.sheet.plan.every_s:g} s from the first record."]
    if not made:
        return lines
    lines += _compared(core.sheet.plan.declared, [(o.true, o.zone or NOT_FOUND, o.behaviour) for o in made])
    delays, not_recorded = changes(core, practice)
    told = f"{len(delays)} of {len(delays) + not_recorded} changes were recorded before the next one"
    when = (
        f", {median(delays):.1f} s after them (median), the slowest after {max(delays):.1f} s"
        if delays
        else ""
    )
    return [*lines, f"{told}{when}."]


def _compared(declared: Declaration, rows: Sequence[tuple[Stay, str, str | None]]) -> list[str]:
    """Agreement on zone and on behaviour, on each of them, and what was confused; rows are true, zone, behaviour."""
    zones = [(true.zone, zone) for true, zone, _ in rows]
    visits = [(true.animal, true.visit) for true, _, _ in rows]
    done = [(true, said) for true, zone, said in rows if said is not None and zone != NOT_FOUND]
    doing = [(true.behaviour, said) for true, said in done]
    stays = [(true.animal, true.number) for true, _ in done]
    return [
        *_agreement("Zone", zones, visits, list(declared.zones)),
        *_each(declared, zones, visits),
        *_agreement("Behaviour", doing, stays, list(declared.behaviours)),
        *_each(declared, doing, stays),
        *_confused(declared, [*zones, *doing]),
    ]


def _codes(names: Sequence[str], pairs: Sequence[tuple[str, str]]) -> tuple[list[int], list[int]]:
    known = {name: i for i, name in enumerate([*names, NOT_FOUND])}
    return [known[true] for true, _ in pairs], [known[said] for _, said in pairs]


def _agreement(
    what: str, pairs: Sequence[tuple[str, str]], stays: Sequence[tuple[str, int]], names: Sequence[str]
) -> list[str]:
    if not pairs:
        return [f"{what}: nothing to compare."]
    right = sum(a == b for a, b in pairs)
    if len(pairs) < LEAST_EXAMPLES:
        return [f"{what}: right {right} of {len(pairs)}, too few for a kappa."]
    true, said = _codes(names, pairs)
    found = agreement(true, said, _numbered(stays), categories=len(names))
    return [f"{what}: right {right} of {len(pairs)} ({100 * found.agreement:.0f} %), {_kappa(found)}."]


def _numbered(stays: Sequence[tuple[str, int]]) -> list[int]:
    order = {stay: i for i, stay in enumerate(dict.fromkeys(stays))}
    return [order[stay] for stay in stays]


def _kappa(found: Agreement) -> str:
    """Kappa with its range; AC1 beside it where one category fills nearly all."""
    if not isfinite(found.kappa):
        return "no kappa: all answers are alike"
    limits = f" ({found.kappa_low:.2f} to {found.kappa_high:.2f})" if isfinite(found.kappa_low) else ""
    extra = f", AC1 {found.ac1:.2f}" if found.common >= 0.8 and isfinite(found.ac1) else ""
    return f"kappa {found.kappa:.2f}{limits}{extra}"


def _each(
    declared: Declaration, pairs: Sequence[tuple[str, str]], stays: Sequence[tuple[str, int]]
) -> list[str]:
    """Each zone or behaviour against all others."""
    lines, few = [], []
    for name, count in Counter(true for true, _ in pairs).most_common():
        right = sum(true == said == name for true, said in pairs)
        label = _label(declared, name)
        if count < LEAST_EXAMPLES:
            few.append(f"{label} {right} of {count}")
            continue
        found = agreement(
            [int(true == name) for true, _ in pairs], [int(said == name) for _, said in pairs],
            _numbered(stays), categories=2,
        )  # fmt: skip
        lines.append(f"  {label}: {right} of {count}, {_kappa(found)}.")
    if few:
        lines.append(f"  Under {LEAST_EXAMPLES} times, too few to judge: {', '.join(few)} right.")
    return lines


def _label(declared: Declaration, name: str) -> str:
    if name in declared.zones:
        return zone_label(declared, name)
    return behaviour_label(declared, name) if name in declared.behaviours else name


def _confused(declared: Declaration, pairs: Sequence[tuple[str, str]]) -> list[str]:
    wrong = Counter((true, said) for true, said in pairs if true != said)
    if not wrong:
        return ["Nothing was confused."]
    told = [
        f"{_label(declared, true)} recorded as {_label(declared, said).lower()} {n} time{'s' if n > 1 else ''}"
        for (true, said), n in wrong.most_common(5)
    ]
    rest = sum(wrong.values()) - sum(n for _, n in wrong.most_common(5))
    more = f"; {rest} other mistake{'s' if rest > 1 else ''}" if rest else ""
    return [f"Confused: {'; '.join(told)}{more}."]


def _late(made: Sequence[ScoredAnswer], core: Scanning) -> list[str]:
    """How late the answers were, and which mistakes only came too late."""
    after = [one.after_s for one in made]
    lines = [
        f"Answers came {median(after):.1f} s after the scan began (median), the slowest after {max(after):.1f} s."
    ]
    every = core.beat.every_s
    if late := sum(s > every for s in after):
        lines.append(f"{late} of them after the next scan had begun.")
    slips = [o for o in made if o.zone != o.true.zone or o.behaviour not in (None, o.true.behaviour)]
    moved = sum(o.zone == o.before.zone and o.behaviour in (None, o.before.behaviour) for o in slips)
    if moved:
        lines.append(
            f"{moved} of {len(slips)} mistakes had been true {MOVED_S:.0f} s before: the animal had just changed."
        )
    return lines
