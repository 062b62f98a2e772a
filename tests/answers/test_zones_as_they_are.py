"""Zones asked of animals that sit together or stay for days: what is claimed, and what is said of the animals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from tests.sim.creatures import OFFER, alone, joiners, settled_then_restless
from tests.sim.written import studied
from zoneuse import Answer
from zoneuse.answers.columns import typed
from zoneuse.answers.zones.columns import PARTS
from zoneuse.answers.zones.tables import cut_by


def sure(answer: Answer) -> list[str]:
    return [f.verdict for f in answer.findings if f.standing == "fairly sure here"]


def codes(answer: Answer) -> set[str]:
    return {c.code for c in answer.cautions}


def test_joiners_are_said_to_sit_together_and_nothing_is_sure(tmp_path: Path) -> None:
    """Six that follow each other for thirty sessions; each place is used as it is offered in the long run."""
    answer = studied(tmp_path, joiners(6, 30, np.random.default_rng(11)), OFFER).zones()
    assert "sit-together" in codes(answer)
    assert not sure(answer)
    finding = answer.findings[0]
    assert finding["animals_effective"] < 4
    assert finding["stays"] < answer.effort["moments"] / 2


def test_a_settled_animal_is_said_to_have_stayed(tmp_path: Path) -> None:
    answer = studied(
        tmp_path, settled_then_restless(1, 30, np.random.default_rng(4), 0.5, 0.95), OFFER
    ).zones()
    assert {"uneven-stays", "long-stay"} & codes(answer)
    assert not sure(answer)


def test_a_strong_preference_is_sure_and_a_middling_one_looks_like_it_today(tmp_path: Path) -> None:
    """Three animals, 24 sessions: one place used five times its share, another just past a single look."""
    pull = OFFER * np.array([1, 0.45, 1, 1, 1, 5])
    zone = alone(3, 24, np.random.default_rng(1), 0.0, pull / pull.sum())
    answer = studied(tmp_path, zone, OFFER).zones()
    by_zone = {f.about[0]: f for f in answer.findings}
    assert (by_zone["z5"].verdict, by_zone["z5"].standing) == ("favoured", "fairly sure here")
    assert (by_zone["z1"].verdict, by_zone["z1"].standing) == ("avoided", "looks like")
    assert not {"sit-together", "long-stay"} & codes(answer)
    row = answer.table.set_index("zone").loc["z5"]
    assert row["n_eff"] > 24 and row["df"] > 10 and 0 < row["se"] < row["used"]
    tests = answer.parts["tests"].set_index("zone")
    assert tests.loc["z5", "sure_low"] > 1
    assert row["ratio_high"] > 1 and tests.loc["z1", "sure_high"] >= 1
    assert list(tests.index[tests["sure"]]) == [
        z for z, f in by_zone.items() if f.standing == "fairly sure here"
    ]


def test_a_cut_of_nothing_has_the_columns_of_a_cut() -> None:
    """Where only groups are watched nothing can be cut by animal: the empty part is typed like any other."""
    rows = pd.DataFrame({"animal": [None, None], "zone": ["a", "b"]})
    cut = cut_by(rows, "animal", lambda part: (part, None))
    assert not len(typed(cut, PARTS["by_animal"], {}))
