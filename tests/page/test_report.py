"""The page a keeper gets: whole, readable without script, network or colour, and safe whatever a study holds."""

from __future__ import annotations

import base64
import re
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, scans, session, study_folder, tree
from tests.page.reading_pages import Element, read_page
from zoneuse import open_study
from zoneuse.answers.showing.said import percent_with, times, times_with
from zoneuse.page import markup
from zoneuse.page.report import PageMade, report_html
from zoneuse.page.sections.pieces import for_readers

DEMOS = Path(__file__).parents[2] / "demo_sessions"
MADE = PageMade(datetime(2026, 4, 20, 8, 0, tzinfo=UTC), "zoneuse report", vet=True)


def page_of(folder: Path, made: PageMade = MADE, **asked: object) -> str:
    return report_html(open_study(folder), asked, made)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def cellar() -> str:
    return page_of(DEMOS / "cellar")


@pytest.fixture(scope="module")
def skink() -> str:
    return page_of(DEMOS / "skink")


HOSTILE = {
    "script": "<script>alert(1)</script>",
    "attribute": '" onmouseover="alert(1)" x="',
    "override": "moss\u202edne\u202c",
    "control": "bell\x07\x1b[2J",
    "closing": "</title></style></svg>--><b>",
    "formula": '$\\frac{1}{2}$ 5 % of $x^2$ #010101 url(#a) id="b"',
    "long": "verylongword" * 12,
    "letters": "苔むす端 عشب 🦎",
}


def toml_text(words: str) -> str:
    return "".join(f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}" for c in words)


@pytest.fixture(scope="module")
def stranger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A study from a stranger: every name, note and reason of it tries something."""
    names = list(HOSTILE.values())
    text = f'format = 1\ntitle = "{toml_text(names[0])}"\nspecies = "{toml_text(names[1])}"\n'
    text += 'timezone = "Europe/Vienna"\n'
    text += '[enclosure]\nsketch = ["abc", "dec"]\nmeasured_in = "floor_cm2"\n'
    for i, key in enumerate("abcde"):
        text += (
            f'[zones.z{i}]\nlabel = "{toml_text(names[i])}"\nkey = "{key}"\namount = 100\nrole = "retreat"\n'
        )
    for i in range(3):
        text += f'[animals.a{i}]\nlabel = "{toml_text(names[5 + i])}"\nkey = "{i + 1}"\n'
    text += f'[behaviours.b]\nlabel = "{toml_text(names[0])}"\nkey = "r"\nlasts = true\n'
    folder = study_folder(tmp_path_factory.mktemp("hostile") / "s", text)
    for day in range(1, 13):
        rows = [[f"z{(day + k) % 5}", f"z{day % 3}", "z0"] for k in range(3)]
        scans(folder, f"2026-04-{day:02d}T20:00", rows, ("a0", "a1", "a2"))
    journal = session(folder, "2026-04-07T18:00", method="record")
    at = datetime(2026, 4, 7, 18, 1, tzinfo=UTC)
    journal.append("noted", at, text=names[0] + names[2] + names[3], animal="a0")
    journal.append("context", at, what="ill", value=names[4])
    journal.append("context", at, what="weighed", animal="a1", value=12.5)
    journal.append(
        "adjusted", at, adjustment=names[1], what="water", zones=["z0", "gone"], why=names[0], unit=names[4], amount=2,
        expects=[{"zone": "z1", "direction": "up"}], settle_h=24,
    )  # fmt: skip
    journal.close()
    return folder


@pytest.fixture(scope="module")
def hostile(stranger: Path) -> str:
    return page_of(stranger)


def pages(request: pytest.FixtureRequest) -> list[str]:
    return [request.getfixturevalue(name) for name in ("cellar", "skink", "hostile")]


def test_the_page_is_well_formed_with_one_heading_and_ids_of_its_own(request: pytest.FixtureRequest) -> None:
    for page in pages(request):
        root, wrong = read_page(page)
        assert wrong == []
        assert len(root.all("h1")) == 1
        assert root.all("html")[0].attrs["lang"] == "en"
        assert root.all("title")[0].text.strip()
        levels = [int(h.tag[1]) for h in root.all("h1", "h2", "h3", "h4")]
        assert levels[0] == 1
        assert all(after - before <= 1 for before, after in pairwise(levels))
        ids = [e.attrs["id"] for e in everything(root) if "id" in e.attrs]
        assert len(ids) == len(set(ids))
        for link in root.all("a"):
            if "download" in link.attrs:
                assert link.attrs["href"].startswith("data:image/svg+xml;base64,")
                whole = base64.b64decode(link.attrs["href"].partition(",")[2]).decode()
                assert read_page(whole)[1] == []
                assert "<title" in whole
            else:
                assert link.attrs["href"].removeprefix("#") in ids
        used = re.findall(r"(?:url\(|href=\")#([\w.-]+)", "".join(re.findall(r"<[^>]*>", page)))
        assert set(used) <= set(ids)


def everything(root: Element) -> list[Element]:
    return [root, *(e for c in root.children for e in everything(c))]


def test_nothing_is_fetched_or_run(request: pytest.FixtureRequest) -> None:
    for page in pages(request):
        root, _ = read_page(page)
        assert not root.all("script", "iframe", "object", "embed", "img", "link", "base", "form", "input")
        tags = re.findall(r"<[^>]*>", page)
        assert not [t for t in tags if re.search(r"://|\bon\w+=|javascript:|@import", t)]
        css = root.all("style")[0].text
        assert not re.search(r"url\(|@import|://", css)
        assert len(root.all("style")) == 1


def test_every_drawing_says_what_it_shows(request: pytest.FixtureRequest) -> None:
    for page in pages(request):
        root, _ = read_page(page)
        ids = {e.attrs["id"]: e for e in everything(root) if "id" in e.attrs}
        drawings = root.all("svg")
        assert drawings
        for one in drawings:
            assert one.attrs["role"] == "img"
            title, desc = ids[one.attrs["aria-labelledby"]], ids[one.attrs["aria-describedby"]]
            assert (title.tag, desc.tag) == ("title", "desc")
            assert len(title.text) > 8
            assert len(desc.text) > 30
            assert re.search(r"\d", desc.text)
        for figure in root.all("figure"):
            assert len(figure.all("figcaption")[0].text) > 30
        for table in root.all("table"):
            assert table.all("caption")[0].text
            assert all(h.attrs.get("scope") for h in table.all("th"))


def test_what_a_stranger_wrote_is_shown_and_does_nothing(hostile: str) -> None:
    root, _ = read_page(hostile)
    shown = root.text.replace("\xa0", " ")
    assert HOSTILE["script"] in shown
    assert HOSTILE["formula"] in shown
    assert "苔むす端" in shown
    assert HOSTILE["long"] in shown
    for mark in "\u202e\u202c\x07\x1b":
        assert mark not in hostile
    assert "\\u202e" in shown
    assert not [e for e in everything(root) if any(a.startswith("on") for a in e.attrs)]
    # What looks like an id or a colour in a label is a label still.
    assert 'id="b"' in shown


def test_the_answer_stands_first_in_five_sentences(cellar: str, skink: str) -> None:
    for page in (cellar, skink):
        root, _ = read_page(page)
        answer = root.all("section")[0]
        said = [li.text for li in answer.all("li")]
        assert len(said) == 5
        assert [s.text for s in answer.all("strong")] == [
            "The study", "Where they are", "Why", "The last change", "What needs doing",
        ]  # fmt: skip
    told = " ".join(read_page(cellar)[0].all("section")[0].text.split())
    assert "Eight animals in one enclosure" in told
    table = open_study(DEMOS / "cellar").zones().table.set_index("zone")
    pipe = table.loc["clay_pipe"]
    assert (
        f"Clay pipe ({times(pipe.ratio)} times its share, {times(pipe.ratio_low)} to {times(pipe.ratio_high)}) is "
        "avoided" in told
    )
    assert "fairly sure here" in told
    # A retreat dried and was recharged in time: as the readings have it.
    part = open_study(DEMOS / "cellar").climate().parts["responses"]
    water = part[(part["zone"] == "moss_end") & part["adjustment"].notna()].iloc[-1]
    assert water.before >= 72
    said = f"Moss end had dried to {water.before:.0f}"
    assert said in told and "before it passed your limit of 72" in told


def test_numbers_on_the_page_are_the_answers_own(cellar: str) -> None:
    study = open_study(DEMOS / "cellar")
    zones, shifts = study.zones(), study.shifts()
    words = read_page(cellar)[0].text.replace("\xa0", " ")
    for finding in shifts.findings:
        assert finding.says in words
    assert zones.headline in words
    for caution in (*zones.cautions, *shifts.cautions):
        # Who reads the page has no command to type.
        assert for_readers(caution.says) in words
    for row in zones.table.itertuples():
        assert times_with(row.ratio, row.ratio_low, row.ratio_high) in words
        assert percent_with(row.used, row.used_low, row.used_high) in words
    assert f"Seed of random draws{zones.seed}" in words


def test_each_change_has_its_dots_and_what_was_expected(cellar: str) -> None:
    root, _ = read_page(cellar)
    changes = next(s for s in root.all("section") if s.attrs.get("id") == "changes")
    assert len(changes.all("h3")) == 2
    # One of all changes, and one for each.
    assert len(changes.all("figure")) == 3
    words = changes.text.replace("\xa0", " ")
    assert "“moved the bark to the damp corner”" in words
    assert "Expected: Cork bark more." in words


def test_the_same_study_gives_the_same_bytes(stranger: Path, hostile: str) -> None:
    assert page_of(stranger) == hostile


def test_the_sheet_for_the_veterinarian_holds_what_is_on_record_and_no_advice(
    cellar: str, hostile: str
) -> None:
    sheet = next(s for s in read_page(cellar)[0].all("section") if s.attrs.get("id") == "vet")
    words = sheet.text.replace("\xa0", " ")
    for said in (
        "Salamandra salamandra",
        "earthworms",
        "24.5 g",
        "Comma rested on the slate",
        "1 Apr 2026 19:30",
    ):
        assert said in words
    assert "Moss end, temperature" in words
    other = next(s for s in read_page(hostile)[0].all("section") if s.attrs.get("id") == "vet").text
    assert "12.5 g" in other
    assert f"ill: {HOSTILE['closing']}" in other


def test_a_sheet_long_after_the_last_record_says_so(stranger: Path) -> None:
    late = PageMade(datetime(2027, 1, 1, tzinfo=UTC), "zoneuse report", vet=True)
    sheet = next(
        s for s in read_page(page_of(stranger, late))[0].all("section") if s.attrs.get("id") == "vet"
    )
    assert "Nothing is on record after 12 Apr 2026" in sheet.text
    assert "12.5 g" in sheet.text


def test_a_study_with_nothing_in_it_yet_has_a_page(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    root, wrong = read_page(page_of(folder))
    assert wrong == []
    assert "nothing has been watched yet" in root.text
    scans(folder, "2026-03-02T20:00", [["moss"], ["bark"], [None]])
    root, wrong = read_page(page_of(folder))
    assert wrong == []
    assert "Too early" in root.text


def test_groups_only_and_one_place_never_found(tmp_path: Path) -> None:
    text = TWO_ZONES.replace('[animals.a1]\nlabel = "Dot"\nkey = "1"\n', "").replace(
        '[animals.a2]\nlabel = "Line"\nkey = "2"\n', ""
    )
    folder = study_folder(tmp_path / "s", text.replace("amount = 300", 'amount = 300\nrole = "retreat"'))
    for day in range(1, 9):
        journal = session(folder, f"2026-03-{day:02d}T20:00")
        at = datetime(2026, 3, day, 19, 1, tzinfo=UTC)
        journal.append("seen", at, group="young", count=4, zone="moss", scan=1)
        journal.append("unseen", at, group="young", count=2, scan=1)
        journal.close()
    root, wrong = read_page(page_of(folder))
    assert wrong == []
    assert "Young" in root.text


def test_the_enclosures_of_one_layout_are_shown_by_place(tmp_path: Path) -> None:
    text = 'format = 1\ntitle = "Tubs"\ntimezone = "Europe/Vienna"\n'
    for tub in ("one", "two"):
        text += f'[enclosures.{tub}]\nmeasured_in = "places"\nsketch = ["mo"]\n'
        for key, place in (("m", "moss"), ("o", "open")):
            text += f'[zones.{place}_{tub}]\nlabel = "{place.title()}"\nkey = "{key}"\namount = 1\n'
            text += f'enclosure = "{tub}"\nplace = "{place}"\n'
        text += f'[animals.{tub}]\nlabel = "{tub}"\nkey = "{"1" if tub == "one" else "2"}"\n'
        text += f'lives = [{{enclosure = "{tub}"}}]\n'
    folder = study_folder(tmp_path / "s", text)
    for day in range(1, 8):
        rows = [["moss_one", "open_two"], ["moss_one", "moss_two"]]
        scans(folder, f"2026-03-{day:02d}T20:00", rows, ("one", "two"))
    root, wrong = read_page(page_of(folder))
    assert wrong == []
    assert "All 2 enclosures together, by place." in root.text
    rooms = [t.text for t in root.all("svg")[0].all("text")]
    assert rooms.count("Moss") == 1


# --- the command ---------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = study_folder(tmp_path / "s")
    scans(made, "2026-03-02T20:00", [["moss"], ["bark"]])
    return made


def test_the_page_is_written_where_asked_and_the_study_left_alone(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    before = tree(folder)
    done = run("report", "--study", folder, "--slot", "any time", "--vet")
    assert done.exit_code == 0, done.stderr
    assert done.stdout == ""
    assert "report.html" in done.stderr
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    root, _ = read_page(page)
    assert f"zoneuse report --slot 'any time' --vet --study {folder}" in root.text
    assert tree(folder) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["report.html", "s"]


def test_what_is_there_is_replaced_only_with_force(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    assert run("report", "--study", folder, "-o", out).exit_code == 0
    out.write_text("<html>a keeper's own</html>", encoding="utf-8")
    refused = run("report", "--study", folder, "-o", out)
    assert refused.exit_code == 1
    assert "is there already" in refused.stderr
    assert "--force" in refused.stderr
    assert out.read_text(encoding="utf-8") == "<html>a keeper's own</html>"
    assert run("report", "--study", folder, "-o", out, "--force").exit_code == 0
    assert "zoneuse" in out.read_text(encoding="utf-8")[:400]


def test_wrong_places_and_times_have_their_exit_status(folder: Path, tmp_path: Path) -> None:
    nowhere = run("report", "--study", folder, "-o", tmp_path / "gone" / "page.html")
    assert nowhere.exit_code == 1
    assert "its folder is not there" in nowhere.stderr
    assert run("report", "--study", folder, "--since", "soon").exit_code == 2
    assert run("report", "--study", tmp_path / "none").exit_code == 1


def test_a_disk_that_fails_leaves_the_old_page_whole(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "page.html"
    assert run("report", "--study", folder, "-o", out).exit_code == 0
    before = out.read_bytes()

    def full(fd: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    failed = run("report", "--study", folder, "-o", out, "--force")
    assert failed.exit_code == 1
    assert "full" in failed.stderr
    assert out.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["page.html", "s"]


def test_the_page_to_standard_output_is_the_page_alone(folder: Path) -> None:
    done = run("report", "--study", folder, "-o", "-")
    assert done.stdout.startswith("<!DOCTYPE html>")
    assert done.stdout.endswith("</html>\n")
    assert 'id="vet"' not in done.stdout


def test_colours_stand_out_on_their_ground() -> None:
    """WCAG 2.1 contrast of words 4.5, of marks 3, on light, dark and paper."""
    css = (Path(__file__).parents[2] / "zoneuse" / "page" / "report.css").read_text(encoding="utf-8")
    grounds = [
        dict(re.findall(r"--(\w+): (#[0-9a-f]{3,6})", block))
        for block in re.findall(r":root \{([^}]*)\}", css)
    ]
    assert len(grounds) == 3
    for colours in grounds:
        for name in ("ink", "muted", "blue", "rust"):
            assert contrast(colours[name], colours["paper"]) >= 4.5, (name, colours)
    # A mark stands on a hatched or shaded ground too.
    assert all(
        contrast(c["ink"], c["shade"]) >= 4.5 and contrast(c["blue"], c["shade"]) >= 3 for c in grounds
    )


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(c * 2 for c in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return float(sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True)))


def test_no_words_of_commands_and_no_log_odds_stand_among_the_answers(cellar: str) -> None:
    root, _ = read_page(cellar)
    for section in root.all("section"):
        if section.attrs.get("id") in ("rests", "methods", "cautions"):
            continue
        words = section.text.replace("\xa0", " ")
        assert not re.search(r"--[a-z]{3,}|\bzoneuse [a-z]+\b|log odds|log likelihood|\[\d", words), words


def test_the_summary_says_of_a_threshold_what_the_section_says(cellar: str) -> None:
    words = read_page(cellar)[0].text.replace("\xa0", " ")
    assert "is used unevenly" not in words
    value = re.search(r"avoided below ([\d.]+ %)", words)
    assert value and f"places below {value[1]} humidity are avoided" in words


def test_a_table_too_wide_for_a_phone_can_be_read_row_by_row() -> None:
    wide = markup.table(
        "Waters", ("Zone", "When", "Poured", "Before", "Peak", "Held"), [("Moss", "1 Mar", 2, 3, 4, 5)]
    )
    assert (
        'role="table"' in wide and 'role="cell" data-head="Poured"' in wide and 'class="short rows"' in wide
    )
    assert 'role="' not in markup.table("Counts", ("What", "How many"), [("Days", 3)])


def test_a_wide_peak_is_a_range_in_the_headline_too(skink: str) -> None:
    words = read_page(skink)[0].text.replace("\xa0", " ")
    assert "Places somewhere from 23.4 to 36.3 °C are chosen" in words
    assert "laces near 32.4 °C" not in words and "a middle range" in words and "near one value" not in words


def test_what_moved_is_told_with_its_unit_and_use_is_said_of_places_alone(skink: str) -> None:
    words = read_page(skink)[0].text.replace("\xa0", " ")
    assert re.search(r"allowing for the trend, the step is [+−][\d.]+ °C", words)
    assert "Basking, the temperature used and use of Basking stone rose" in words
