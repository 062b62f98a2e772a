"""Which sessions stand behind something: counted from the moments, the same as the answers count."""

from __future__ import annotations

from pathlib import Path

from tests.review.showing import NOW
from zoneuse.answers.study import Study
from zoneuse.screens.review.background.asked import ReviewFilters
from zoneuse.screens.review.background.behind import SessionBehind, behind
from zoneuse.screens.review.background.crossing import Series, read_given
from zoneuse.screens.review.background.giving import give


def series(folder: Path, **asked: object) -> Series:
    return read_given(give(Study(folder), "sessions", ReviewFilters(**asked).to_dict(), NOW)).series  # type: ignore[arg-type]


def days(found: list[SessionBehind]) -> list[str]:
    return [one.at[5:10] for one in found]


def test_a_zone_an_animal_and_both_together(small: Path) -> None:
    known = series(small)
    everywhere = {one.at[5:10]: one for one in behind(known, ())}
    assert len(everywhere) == 13
    moss = {one.at[5:10]: one for one in behind(known, ("moss",))}
    # On 1 March: Dot six times in the moss; Line three times in the bark, three times not found.
    assert (moss["03-01"].there, moss["03-01"].of) == (6, 9)
    line = {one.at[5:10]: one for one in behind(known, ("a2",))}
    assert (line["03-01"].there, line["03-01"].of) == (3, 6)
    both = {one.at[5:10]: one for one in behind(known, ("a2", "moss"))}
    assert (both["03-01"].there, both["03-01"].of, both["03-02"].there) == (0, 3, 3)


def test_counts_agree_with_the_answer(small: Path) -> None:
    study = Study(small)
    moments = {r["zone"]: r["moments"] for r in study.zones().to_dict()["rows"]}
    for zone, count in moments.items():
        assert sum(one.there for one in behind(series(small), (zone,))) == count


def test_filters_hold_for_the_sessions_too(small: Path) -> None:
    late = series(small, since="2026-03-10T00:00:00+01:00")
    assert days(behind(late, ())) == ["03-10", "03-11", "03-12", "03-14"]
    assert behind(series(small, slot="night"), ()) == []
    only = series(small, animals=("a2",))
    assert {row["who"] for row in only["seen"]} == {"a2"}
    assert behind(only, ("moss",))[0].of == 3


def test_what_is_no_place_animal_or_behaviour_narrows_nothing(small: Path) -> None:
    assert len(behind(series(small), ("water-1", "humidity_pct"))) == 13


def test_of_two_observers_the_sessions_they_watched_together() -> None:
    def one(name: str, observer: str, start: str, end: str) -> dict[str, object]:
        at = f"2026-03-01T{start}:00+01:00"
        return {
            "id": name,
            "observer": observer,
            "at": at,
            "ends": f"2026-03-01T{end}:00+01:00",
            "counted": True,
        }

    sessions = (one("a", "ann", "20:00", "20:20"), one("b", "ben", "20:10", "20:30"), one("c", "ann", "21:00", "21:20"),
                one("d", "mk", "20:05", "20:15"))  # fmt: skip
    seen = {"who": "a1", "place": "moss", "behaviour": None, "moments": 2}
    known: Series = {"sessions": sessions, "seen": tuple({**seen, "session": name} for name in "abcd")}
    assert [one.id for one in behind(known, ("ann + ben", "zone"))] == ["a", "b"]
    assert [one.id for one in behind(known, ("ann", "ben"))] == ["a", "b"]
    assert (
        [one.id for one in behind(known, ("ann",))] == [one.id for one in behind(known, ())] == list("abcd")
    )


def test_a_session_that_counts_nowhere_is_listed_and_told() -> None:
    passing = {
        "id": "s", "at": "2026-03-01T20:00:00+01:00", "counted": False, "observer": "mk", "why": "ad libitum",
    }  # fmt: skip
    found = behind({"sessions": (passing,), "seen": ()}, ("moss",))
    assert [one.said() for one in found] == ["ad libitum"]
