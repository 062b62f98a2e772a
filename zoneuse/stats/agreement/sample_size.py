"""How many more sessions together would probably settle whether two observers agree well enough."""

from __future__ import annotations

import numpy as np

from ..intervals.quantiles import t_quantile


def sessions_to_settle(
    value: float, low: float, sessions: int, *, enough: float, aim: float, most: int = 200
) -> int | None:
    """Further sessions after which a coefficient that stays as it is would be told from one bound or the other.

    Settled is: the lower 90 % limit reaches ``enough`` while the value is not told from ``aim``, or the upper
    95 % limit falls below ``aim``. ``low`` is the present lower 95 % limit over so many sessions; limits are
    taken to shrink with the root of their number. None where ``most`` would not do, or nothing can be said.

    >>> sessions_to_settle(0.85, 0.4, 6, enough=0.6, aim=0.8)
    1
    """
    if sessions < 2 or not (np.isfinite(value) and np.isfinite(low)) or not low < value < 1:
        return None
    error = float(np.log((1 - low) / (1 - value))) / t_quantile(0.975, sessions - 1)
    for more in range(1, most + 1):
        total = sessions + more
        shrunk = error * float(np.sqrt(sessions / total))
        lower = 1 - (1 - value) * float(np.exp(t_quantile(0.95, total - 1) * shrunk))
        upper = 1 - (1 - value) * float(np.exp(-t_quantile(0.975, total - 1) * shrunk))
        if lower >= enough or upper < aim:
            return more
    return None
