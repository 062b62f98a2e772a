"""From limits to the word for each zone, and what held a word back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Limits = Callable[[Floats], tuple[Floats, Floats]]

AVOIDED, FAVOURED, IN_PROPORTION, TOO_EARLY = "avoided", "favoured", "in proportion", "too early"

# With fewer units than this nothing is called, whatever the numbers.
LEAST_UNITS = 5
# With fewer moves than this, too few moves is what stands in the way.
FEW_MOVES = 8


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the verdicts rest on; arrays have one entry a zone.

    ``limits`` turns shares into limits that hold for all zones at once, ``even_limits`` into 90 % limits of
    each by itself. ``unseen_low`` and ``unseen_high`` take every unseen moment as elsewhere and as here,
    ``offered_always`` is what was offered at all moments looked at. ``moves`` is None where animals are not
    told apart.
    """

    used: Floats
    available: Floats
    unseen_low: Floats
    unseen_high: Floats
    offered_always: Floats
    limits: Limits
    even_limits: Limits
    even_within: tuple[float, float]
    units: int
    moves: int | None


@dataclass(frozen=True, slots=True)
class Call:
    """A verdict, and for ``too early`` the code of what is missing (else "")."""

    verdict: str
    reason: str = ""


def call_zones(evidence: Evidence) -> tuple[Call, ...]:
    """A verdict for each zone.

    A difference stands only if it would still stand with every unseen moment counted against it, and
    sameness only if its limits stay inside the bounds wherever the unseen were.
    """
    a = evidence.available
    # Unseen moments may have had other things on offer: their shares are put on the seen moments' scale.
    scale = np.divide(a, evidence.offered_always, out=np.ones(a.size), where=evidence.offered_always > 0)
    shares = (evidence.used, evidence.unseen_low * scale, evidence.unseen_high * scale)
    seen, least, most = (evidence.limits(np.clip(share, 0.0, 1.0)) for share in shares)
    even, even_least, even_most = (evidence.even_limits(np.clip(share, 0.0, 1.0)) for share in shares)
    lower, upper = evidence.even_within
    calls = []
    for z in range(a.size):
        if a[z] <= 0:
            calls.append(Call(TOO_EARLY, "not_offered"))
        elif evidence.units < LEAST_UNITS:
            calls.append(Call(TOO_EARLY, "few_units"))
        elif seen[1][z] < a[z]:
            calls.append(Call(AVOIDED) if most[1][z] < a[z] else Call(TOO_EARLY, "unseen"))
        elif seen[0][z] > a[z]:
            calls.append(Call(FAVOURED) if least[0][z] > a[z] else Call(TOO_EARLY, "unseen"))
        elif even[0][z] >= lower * a[z] and even[1][z] <= upper * a[z]:
            stays = even_least[0][z] >= lower * a[z] and even_most[1][z] <= upper * a[z]
            calls.append(Call(IN_PROPORTION) if stays else Call(TOO_EARLY, "unseen"))
        elif evidence.moves is not None and evidence.moves < FEW_MOVES:
            calls.append(Call(TOO_EARLY, "few_moves"))
        else:
            calls.append(Call(TOO_EARLY, "spread"))
    return tuple(calls)
