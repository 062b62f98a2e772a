"""A dozen invented studies of one species, by seven invented keepers, as shared files: what `across` is shown on.

``python demo_sessions/make_club.py DIR``: writes club/NAME.zoneuse.json. Nobody in it exists. Every keeper has a humid
retreat, a basking spot and open ground; the humid retreat is sought in all, the basking spot differs between keepers.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from zoneuse import open_study
from zoneuse.across.shared import Consent, to_json
from zoneuse.across.summary import summarise
from zoneuse.journal.rows import RecordToWrite, write_rows
from zoneuse.study.toml.file import load_declaration

SEED = 20261
ZONE = ZoneInfo("Europe/Vienna")
KEEPERS = (2, 1, 3, 1, 2, 1, 2)
OFFERED = np.array([0.18, 0.12, 0.7])
ZONES = (
    ("humid", "Humid retreat", "h", "retreat"),
    ("basking", "Basking spot", "k", "basking"),
    ("open", "Open ground", "o", "open"),
)


def study_toml(amounts: np.ndarray, animals: int) -> str:
    text = 'format = 1\ntitle = "Club"\ntimezone = "Europe/Vienna"\nspecies = "Salamandra salamandra"\n'
    text += '\n[enclosure]\nmeasured_in = "surface_cm2"\n'
    for (name, label, key, role), amount in zip(ZONES, amounts, strict=True):
        text += f'\n[zones.{name}]\nlabel = "{label}"\nkey = "{key}"\namount = {amount:.0f}\n'
        text += f'role = "{role}"\nas = "{label.lower()}"\n'
    for a in range(animals):
        text += f'\n[animals.a{a}]\nlabel = "Animal {a}"\nkey = "{a + 1}"\n'
    return text


def write(folder: Path, effect: np.ndarray, chance: np.random.Generator) -> None:
    """Two to four animals, ten to twenty evenings of eight scans; an animal stays where it was in 8 of 10 scans."""
    folder.mkdir(parents=True)
    offered = OFFERED * chance.uniform(0.7, 1.4, 3)
    offered /= offered.sum()
    odds = np.exp(effect) * offered
    share = odds / odds.sum()
    animals = int(chance.integers(2, 5))
    (folder / "study.toml").write_text(study_toml(offered * 4000, animals), encoding="utf-8")
    declared = load_declaration(folder)
    where = chance.choice(3, animals, p=share)
    for day in range(int(chance.integers(10, 21))):
        at = datetime(2026, 3, 1, 20, 0, tzinfo=ZONE) + timedelta(days=day)
        rows = []
        for scan in range(8):
            moves = chance.random(animals) > 0.8
            where = np.where(moves, chance.choice(3, animals, p=share), where)
            when = at + timedelta(minutes=scan)
            for a in range(animals):
                seen = {"animal": f"a{a}", "scan": scan + 1, "zone": ZONES[int(where[a])][0]}
                rows.append(RecordToWrite("seen", seen, when))
        write_rows(declared, rows[-1].at + timedelta(minutes=1), rows, method="scan", observer="kk")


def token(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def main(target: Path) -> None:
    chance = np.random.default_rng(SEED)
    club = target / "club"
    club.mkdir(parents=True, exist_ok=True)
    number = 0
    with tempfile.TemporaryDirectory() as place:
        for keeper, tubs in enumerate(KEEPERS):
            own = chance.normal(0, [0.1, 0.9, 0.1])
            for _ in range(tubs):
                number += 1
                folder = Path(place) / f"tub{number}"
                write(folder, np.array([1.7, 0.1, 0.0]) + own + chance.normal(0, 0.15, 3), chance)
                tokens = [
                    hashlib.sha256(f"{kind}{i}".encode()).hexdigest()[:16]
                    for kind, i in (("k", keeper), ("e", number))
                ]
                shared = summarise(
                    open_study(folder), *tokens, Consent("comparing enclosures", "CC0-1.0", "")
                )
                (club / f"tub_{number:02d}.zoneuse.json").write_text(to_json(shared), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
