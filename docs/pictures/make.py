"""Make every picture of docs/ anew, on the demo studies. Run: python docs/pictures/make.py

The screens of the recorder and the review are drawn by Textual, the figures by zoneuse, the page by Chromium where it
is installed (else its pictures stay as they are, and that is said).
"""

from __future__ import annotations

import os
import runpy
import shutil
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from zoneuse import open_study
from zoneuse.answers.registry import ANSWERS
from zoneuse.answers.study import Study
from zoneuse.figures import drawn_as
from zoneuse.page.report import PageMade, report_html

HERE = Path(__file__).parent
DEMOS = HERE.parents[1] / "demo_sessions"
MADE = datetime(2026, 4, 27, 12, tzinfo=UTC)
# Name of the picture: width and height in pixels, and whether it is dark.
PAGES = {"report-top": (1440, 900, False), "report-phone-dark": (390, 844, True)}


def screens() -> None:
    for name in ("recorder", "review"):
        runpy.run_path(str(HERE / f"{name}.py"), run_name="__main__")


def figures(study: Study) -> None:
    """The figure of each answer, as it goes into a paper."""
    for kind in ANSWERS:
        options = {"now": MADE} if kind.name in ("climate", "plan") else {}
        picture = getattr(study, {"prefer": "preference"}.get(kind.name, kind.name))(**options).figure()
        if picture.panels:
            (HERE / f"figure-{kind.name}.svg").write_bytes(drawn_as(picture, ".svg"))


def page(study: Path, folder: Path) -> None:
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        print("no browser here: the pictures of the page stay as they are", file=sys.stderr)
        return
    written = folder / "report.html"
    written.write_text(report_html(open_study(study), {}, PageMade(MADE, "zoneuse report")), encoding="utf-8")
    for name, (wide, high, dark) in PAGES.items():
        subprocess.run(
            [browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
             f"--window-size={wide},{high}",
             *(["--blink-settings=preferredColorScheme=0"] if dark else []),
             f"--screenshot={HERE / name}.png", written.as_uri()],
            check=True, capture_output=True,
        )  # fmt: skip


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        os.environ["XDG_CACHE_HOME"] = made
        cellar = Path(made) / "cellar"
        shutil.copytree(DEMOS / "cellar", cellar)
        figures(open_study(cellar))
        page(cellar, Path(made))
    screens()
