"""Draw the review's screens as SVG, on the demo study. Run: python docs/pictures/review.py"""

from __future__ import annotations

import asyncio
import os
import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.review.showing import answer_all, opened, press

HERE = Path(__file__).parent
NAMES = ("sessions", "zones", "activity", "prefer", "shifts", "retreats", "climate", "observers", "plan")
# What is pressed from the first screen on, and what the picture is called.
STEPS = {
    "home": (),
    "zones": ("1",),
    "changes": ("4",),
    "climate": ("6",),
    "sessions": ("c",),
    "records": ("c", "enter"),
}


async def draw(study: Path, size: tuple[int, int], names: tuple[str, ...]) -> None:
    for name in names:
        async with opened(study, size) as (app, pilot):
            await press(pilot, *STEPS[name])
            path = HERE / f"review-{name}-{size[0]}x{size[1]}.svg"
            path.write_text(app.export_screenshot(title="zoneuse review"), "utf-8")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        os.environ["XDG_CACHE_HOME"] = made
        cellar = Path(made) / "cellar"
        shutil.copytree(HERE.parents[1] / "demo_sessions" / "cellar", cellar)
        answer_all(cellar, NAMES)
        asyncio.run(draw(cellar, (80, 24), tuple(STEPS)))
        asyncio.run(draw(cellar, (40, 20), ("home", "zones", "records")))
