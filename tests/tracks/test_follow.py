"""An animal followed: believed rows, held zones and the state at each tick, whatever pieces the rows come in."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from zoneuse.live.tracks import Rules, ZoneMap, follow
from zoneuse.live.tracks.following import JUMP, LOW, MISSING, NOT_READ, SEEN, Follower
from zoneuse.live.tracks.outlines import NOWHERE

LEFT_RIGHT = ZoneMap([[(0, 0), (10, 0), (10, 10), (0, 10)], [(10, 0), (20, 0), (20, 10), (10, 10)]])
FIVE = np.full(10_000, 5.0)


def slowly(at: list[int], x: list[float], rules: Rules, hold: int) -> list[tuple[int, int, int]]:
    """The same by its definition, a row at a time: last believed row, its zone held until left by ``border``."""
    last: tuple[int, float] | None = None
    states, held = [], NOWHERE
    for ms, px in zip(at, x, strict=True):
        if np.isnan(px):
            states.append((ms, MISSING, NOWHERE))
            continue
        if last and rules.fastest and abs(px - last[1]) > rules.fastest * (ms - last[0]) / 1000:
            states.append((ms, JUMP, NOWHERE))
            continue
        raw = 0 if 0 <= px <= 10 else 1 if 10 < px <= 20 else NOWHERE
        if last is None or ms - last[0] > hold or held == NOWHERE or raw == held:
            held = raw
        else:
            low, high = (0, 10) if held == 0 else (10, 20)
            if max(low - px, px - high) > rules.border:
                held = raw
        last = ms, px
        states.append((ms, SEEN, held))
    found = []
    for tick in range(-(-at[0] // rules.every_ms) * rules.every_ms, at[-1] + 1, rules.every_ms):
        good = [s for s in states if s[0] <= tick and s[1] == SEEN]
        bad = [s for s in states if s[0] <= tick and s[1] != SEEN]
        if good and tick - good[-1][0] <= hold:
            found.append((tick, SEEN, good[-1][2]))
        elif bad and tick - bad[-1][0] <= max(hold, rules.every_ms):
            found.append((tick, bad[-1][1], NOWHERE))
        else:
            found.append((tick, NOT_READ, NOWHERE))
    return found


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 100_000), st.integers(1, 6), st.sampled_from([0.0, 0.7]), st.sampled_from([None, 4.0]))
def test_pieces_and_arrays_say_what_the_definition_says(
    seed: int, pieces: int, border: float, fastest: float | None
) -> None:
    random = np.random.default_rng(seed)
    n = int(random.integers(2, 80))
    at = np.cumsum(random.choice([40, 200, 1000, 5000], n)).astype(np.int64)
    x = 10 + np.cumsum(random.normal(0, 0.8, n))
    x[random.random(n) < 0.1] = np.nan
    x[random.random(n) < 0.05] += 30
    rules = Rules(1000, 2500, None, fastest, border)
    found = follow(at, x, FIVE[:n], rules, LEFT_RIGHT, pieces=pieces)
    expected = slowly(at.tolist(), x.tolist(), rules, 2500)
    assert list(zip(found.at.tolist(), found.why.tolist(), found.zone.tolist(), strict=True)) == expected


def test_shares_are_exact_to_a_tick_at_any_rate() -> None:
    random = np.random.default_rng(3)
    stays = [(int(random.integers(0, 2)), int(random.integers(5, 400))) for _ in range(60)]
    per_second = np.repeat([z for z, _ in stays], [s for _, s in stays])
    for step_ms in (40, 1000):
        at = np.arange(0, len(per_second) * 1000, step_ms, dtype=np.int64)
        x = np.where(per_second[at // 1000] == 0, 5.0, 15.0) + random.uniform(-4, 4, len(at))
        found = follow(at, x, np.full(len(at), 5.0), Rules(10_000), LEFT_RIGHT, pieces=7)
        assert found.zone.tolist() == per_second[::10].tolist()


def test_a_jump_there_and_back_is_marked_and_one_that_stays_is_believed_later() -> None:
    at = np.arange(20, dtype=np.int64) * 1000
    x = np.full(20, 5.0)
    x[5] = 15.0
    x[10:] = 15.0
    found = follow(at, x, FIVE[:20], Rules(1000, 900, None, 2.0), LEFT_RIGHT)
    # 10 units at 2 a second: after 5 s it could have walked there.
    assert found.why.tolist() == [SEEN] * 5 + [JUMP] + [SEEN] * 4 + [JUMP] * 4 + [SEEN] * 6


def test_border_jitter_is_held_and_a_real_step_is_not() -> None:
    random = np.random.default_rng(5)
    x = np.concatenate([np.full(50, 5.0), 10 + random.uniform(-0.4, 0.4, 500), np.full(50, 15.0)])
    at = np.arange(len(x), dtype=np.int64) * 1000
    rough = follow(at, x, np.full(len(x), 5.0), Rules(1000), LEFT_RIGHT)
    held = follow(at, x, np.full(len(x), 5.0), Rules(1000, border=0.5), LEFT_RIGHT)
    assert np.count_nonzero(np.diff(rough.zone)) > 100
    assert np.count_nonzero(np.diff(held.zone)) == 1 and held.zone[-1] == 1


def test_low_confidence_is_unseen_and_never_absence() -> None:
    one = Follower(Rules(1000, 900), LEFT_RIGHT)
    why = np.array([SEEN, LOW, LOW, SEEN], np.uint8)
    one.feed(np.arange(4) * 1000, np.full(4, 5.0), np.full(4, 5.0), why)
    assert one.ticks().why.tolist() == [SEEN, LOW, LOW, SEEN]
    assert one.ticks().zone.tolist() == [0, NOWHERE, NOWHERE, 0]


def test_rows_that_go_back_in_time_are_counted_and_change_nothing() -> None:
    one = Follower(Rules(1000, 900), LEFT_RIGHT)
    at = np.array([0, 1000, 500, 2000, 2000], np.int64)
    one.feed(at, np.array([5.0, 5.0, 15.0, 5.0, 15.0]), np.full(5, 5.0), np.zeros(5, np.uint8))
    assert one.back == 2 and one.ticks().zone.tolist() == [0, 0, 0]


@pytest.mark.parametrize("gap", [None, 10_000])
def test_without_any_row_for_long_nobody_looked(gap: int | None) -> None:
    at = np.array([0, 1000, 60_000, 61_000], np.int64)
    found = follow(at, FIVE[:4], FIVE[:4], Rules(1000, 900, gap), LEFT_RIGHT)
    assert found.gaps == (() if gap is None else ((1000, 60_000),))
