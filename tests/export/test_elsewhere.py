"""What docs/export.md shows in R and in a spreadsheet, run there where they are installed."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook

from tests.making import demo_study, run
from zoneuse import open_study

PAGE = (Path(__file__).parent.parent.parent / "docs" / "export.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("elsewhere")
    study = demo_study(folder / "my-demo")
    done = run("export", folder / "my-tables", "--study", study, "--format", "csv")
    assert done.exit_code == 0, done.output
    return folder


@pytest.mark.skipif(not shutil.which("Rscript"), reason="R is not installed here")
def test_r_finds_what_zoneuse_finds(tables: Path) -> None:
    block = re.search(r"```r\n(.*?)```", PAGE, re.DOTALL)
    assert block
    code = f"{block[1]}\ncat(sprintf('%.15f', used), sep = '\\n')\n"
    code += "print(as.POSIXct(moments$at_utc, format = '%Y-%m-%dT%H:%M:%OS', tz = 'UTC')[1])\n"
    (tables / "example.R").write_text(code)
    done = subprocess.run(["Rscript", "example.R"], cwd=tables, capture_output=True, text=True, check=True)
    there = open_study(tables / "my-demo").zones(cluster="day").table
    used = [float(x) for x in re.findall(r"^(?:\d\.\d{15})$", done.stdout, re.MULTILINE)]
    assert used == pytest.approx(there["used"].to_list(), abs=1e-12)
    assert "2026-03-02 20:24:11" in done.stdout


def _formula(columns: list[str]) -> str:
    block = re.search(r"```\n=(COUNTIFS.*?)\n```", PAGE, re.DOTALL)
    assert block
    # The page names columns by their letters: those must be the ones the file has.
    assert [columns[ord(c) - 65] for c in "AMX"] == ["moment", "zone", "out"]
    return f"={block[1]}"


def test_the_formulas_letters_are_the_files_columns_and_its_count_is_right(tables: Path) -> None:
    with (tables / "my-tables" / "moments.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    _formula(rows[0])
    counts = [r for r in rows[1:] if r[12] and not r[23]]
    moments = open_study(tables / "my-demo").moments
    inside = moments[(moments["out"] == "") & moments["zone"].notna()]
    assert len(counts) == len(inside)
    assert sum(r[12] == "moss_end" for r in counts) == int((inside["zone"] == "moss_end").sum())


@pytest.mark.calibration
@pytest.mark.skipif(not shutil.which("soffice"), reason="LibreOffice is not installed here")
def test_a_spreadsheet_works_the_formula_out(tables: Path) -> None:
    """LibreOffice Calc opens the file and works the page's formula out (4 s, so not in the plain suite)."""
    found = pd.read_csv(tables / "my-tables" / "moments.csv")
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in [list(found), *found.astype(object).where(found.notna(), None).to_numpy().tolist()]:
        sheet.append(row)
    sheet["AC1"] = _formula(list(found))
    book.save(tables / "sheet.xlsx")
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{tables}/office", "--headless", "--convert-to", "csv",
         "--outdir", str(tables / "worked"), str(tables / "sheet.xlsx")],
        check=True, capture_output=True, cwd=tables,
    )  # fmt: skip
    with (tables / "worked" / "sheet.csv").open(encoding="utf-8", newline="") as stream:
        value = float(next(csv.reader(stream))[28])
    inside = found[found["out"].isna() & found["zone"].notna()]
    assert value == pytest.approx((inside["zone"] == "moss_end").mean(), abs=1e-9)
