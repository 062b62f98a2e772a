"""study.toml changed at random: a clear message or a sound study; what the fuzzers found stays found."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest

from tests.making import run
from tests.trust.readers import READERS
from tests.trust.seeds import SEEDS, studies

FINDS = Path(__file__).parent / "finds"
VALUES = (
    'true', '0', '-1', '1e308', 'nan', 'inf', '""', '"x"', '[]', '{}', '[{}]', '2026-02-30', '2026-02-29',
    '0001-01-01', '07:30', '"../../x"', '"25:00"', '99999999999999999999',
    '[{from = 2026-01-01, until = 2025-01-01, is = 3}]', '"\\u202e"', "'''\n'''",
    '[{from = 2026-01-01, is = 3}, {from = 2026-01-01, is = 4}]', '"Europe/Nowhere"', '"America/New_York"',
    '[[1]]', '{from = 1}',
)  # fmt: skip
LINES = (
    '[zones.moss]', '[animals.moss]', '[loggers."../../x"]', '[zones."a b"]', '[enclosures.b]',
    'format = 2', 'key = "k"', '=', '[', '[limits.nowhere]', '[set_range]', 'zones = 3', '[[zones]]',
    'a.b.c = 1', '\x00', '\ufeff', "#" * 500, "[x]" * 50,
)  # fmt: skip


def mutated(text: str, chance: random.Random) -> bytes:
    """One to four changes: lines lost, doubled, moved, put in, values and letters replaced."""
    lines = text.split("\n")
    for _ in range(chance.randrange(1, 5)):
        at = chance.randrange(len(lines))
        what = chance.randrange(8)
        if what == 0:
            del lines[at : at + chance.randrange(1, 4)]
        elif what == 1:
            lines.insert(chance.randrange(len(lines) + 1), lines[at])
        elif what == 2:
            lines.insert(at, chance.choice(LINES))
        elif what in (3, 4, 5) and "=" in lines[at]:
            key = lines[at].split("=")[0]
            lines[at] = f"{key}= {chance.choice(VALUES)}"
        elif what == 6 and lines[at]:
            place = chance.randrange(len(lines[at]))
            lines[at] = lines[at][:place] + chance.choice("[]{}=\"'.,#\n\\x9é ") + lines[at][place + 1 :]
        lines = lines or [""]
    data = "\n".join(lines).encode("utf-8", "surrogatepass")
    if chance.random() < 0.05:
        place = chance.randrange(len(data) + 1)
        data = data[:place] + bytes([chance.randrange(256)]) + data[place + chance.randrange(3) :]
    return data


def mutate(folder: Path, times: int, seed: int) -> Counter[str]:
    """Read so many; every hundredth also through the command. How many were sound, faulty, no TOML."""
    chance, found = random.Random(seed), Counter[str]()
    texts = [data.decode() for data in studies()]
    for number in range(times):
        data = mutated(chance.choice(texts), chance)
        try:
            READERS["study"](data, folder)
        except Exception as error:
            raise AssertionError(f"{number}: {error!r}: {data!r}") from error
        if number % 20 == 0:
            done = run("check", "--study", folder)
            assert done.exit_code in (0, 1)
            assert done.exit_code == 0 or "study.toml" in done.stderr
            found["said sound" if done.exit_code == 0 else "said faulty"] += 1
            if done.exit_code == 0:
                for words in (["zones"], ["plan"], ["climate"]):
                    assert run(*words, "--study", folder).exit_code == 0
    return found


def test_some_mutations(tmp_path: Path) -> None:
    found = mutate(tmp_path, 300, 1)
    assert found["said sound"] and found["said faulty"]


@pytest.mark.calibration
def test_twenty_thousand_mutations(tmp_path: Path) -> None:
    print("\nof 1,000 of 20,000 mutations shown to the command:", dict(mutate(tmp_path, 20_000, 2)))


@pytest.mark.parametrize("name", READERS)
def test_seeds_and_finds_are_read_or_refused_in_words(tmp_path: Path, name: str) -> None:
    kept = [path.read_bytes() for path in sorted(FINDS.glob(f"{name}-*"))]
    for data in (*SEEDS[name](), *kept):
        READERS[name](data, tmp_path)
