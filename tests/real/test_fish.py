"""Fish in thermal tanks, hour by hour: the preferred temperature as published, day and night, what is left open.

Data: Vera et al. 2023, J Therm Biol. "Published": the paper's means (28.04 and 30.50 °C). "Computed": worked out from
the raw files in the data's own NUMBERS.md.
"""

from __future__ import annotations

import pytest

from tests.making import run
from tests.real.fish import CHAMBERS, TANKS, write_study
from tests.real.where import real
from zoneuse import open_study
from zoneuse.answers.answer import Answer


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Answer]:
    raw = real("fish_thermal_tanks_2023", ".")
    told = {}
    for species in ("ZF", "Tilapia"):
        for group in ("Experiment", "Control"):
            folder = write_study(raw, species, group, tmp_path_factory.mktemp("fish") / "study")
            assert run("sightings", folder / "sightings.csv", "--study", folder, "--yes").exit_code == 0
            for tank in TANKS:
                for chamber in CHAMBERS:
                    name = f"L{chamber}_{tank}"
                    words = ("--logger", name, "--tz", "UTC", "--study", folder, "--yes")
                    assert run("readings", folder / f"{name}.csv", *words).exit_code == 0
            told[f"{species} {group}"] = open_study(folder).preference()
    return told


def row(answer: Answer) -> dict[str, object]:
    return answer.table.set_index("quantity").loc["temperature_c"].to_dict()


def part(answer: Answer, name: str) -> list[dict[str, object]]:
    return answer.parts[name].to_dict("records")


def test_the_preferred_temperature_is_the_published_one(answers: dict[str, Answer]) -> None:
    """Published 28.04 and 30.50; computed 28.03 and 30.50 over all fish-hours (tanks have nearly the same hours)."""
    assert row(answers["ZF Experiment"])["used_mean"] == pytest.approx(28.03, abs=0.02)
    assert row(answers["Tilapia Experiment"])["used_mean"] == pytest.approx(30.50, abs=0.02)
    assert row(answers["ZF Control"])["used_mean"] == pytest.approx(26.34, abs=0.02)
    assert row(answers["Tilapia Control"])["used_mean"] == pytest.approx(30.06, abs=0.02)


def test_tanks_are_the_units_of_the_mean(answers: dict[str, Answer]) -> None:
    """Computed, by tank: 27.61, 27.88, 28.61 and 30.51, 30.19, 30.80."""
    for name, tanks in (("ZF", (27.61, 27.88, 28.61)), ("Tilapia", (30.51, 30.19, 30.80))):
        answer = answers[f"{name} Experiment"]
        means = [r["mean"] for r in sorted(part(answer, "by_animal"), key=lambda r: r["animal"])]
        assert means == pytest.approx(tanks, abs=0.03)
        assert row(answer)["animals"] == 3
        assert row(answer)["used_mean_low"] < min(tanks) and row(answer)["used_mean_high"] > max(tanks)
    assert answers["ZF Experiment"].basis.startswith("Temperature used: mean of 3 groups 28.0 °C (")


def test_zebrafish_are_warmer_by_day_and_the_others_are_not_said_to_be(answers: dict[str, Answer]) -> None:
    """Computed day less night: +1.10 (lights on or off; the hours around them count as dawn and dusk here)."""
    (apart,) = part(answers["ZF Experiment"], "slots_apart")
    assert (apart["slot"], apart["other"]) == ("day", "night")
    assert apart["difference"] == pytest.approx(1.10, abs=0.06)
    assert apart["difference_low"] > 0
    assert [f.about for f in answers["ZF Experiment"].findings if f.verdict == "differs"] == [
        ("temperature_c", "day", "night")
    ]
    assert "mixed-times" in {c.code for c in answers["ZF Experiment"].cautions}
    for name in ("Tilapia Experiment", "ZF Control", "Tilapia Control"):
        assert not [f for f in answers[name].findings if f.verdict == "differs"], name


def test_the_daily_rhythm_is_that_of_a_cosinor(answers: dict[str, Answer]) -> None:
    """Computed over all fish-hours: amplitude 0.77, acrophase ZT 5.8; tilapia 0.46 and ZT 12.0."""
    for name, amplitude, crest in (("ZF", 0.77, 5.8), ("Tilapia", 0.46, 12.0)):
        (found,) = [r for r in part(answers[f"{name} Experiment"], "rhythm") if r["what"] == "temperature_c"]
        assert found["amplitude"] == pytest.approx(amplitude, abs=0.04)
        assert found["acrophase_h"] == pytest.approx(crest, abs=0.2)
        assert found["p"] < 0.001


def test_a_parabola_that_does_not_fit_is_not_believed(answers: dict[str, Answer]) -> None:
    """Computed: five free chambers fit the zebrafish better by 381 on 2 degrees of freedom."""
    assert row(answers["ZF Experiment"])["shape"] == "uneven"
    for answer in answers.values():
        assert all(f.standing != "fairly sure here" for f in answer.findings)


def test_where_the_gradient_never_moved_the_plain_peak_is_told_with_what_would_part_it(
    answers: dict[str, Answer],
) -> None:
    """Computed: a quadratic in tilapia peaks at 31.1."""
    answer = answers["Tilapia Experiment"]
    (finding,) = answer.findings
    assert (finding.verdict, finding.reason) == ("too early", "never_with_this_design")
    assert finding["peak"] == pytest.approx(31.1, abs=0.1)
    assert row(answer)["peak_low"] > 30 and row(answer)["peak_high"] < 34  # sides need not be alike
    assert finding.forecast is not None and finding.forecast.more is not None
    speaks = {r["fit"]: r["speaks"] for r in part(answer, "peak_sets")}
    assert speaks["plain"] and not speaks.get("with a constant per place", False)


def test_no_logger_in_water_is_said_to_stand_in_the_sun(answers: dict[str, Answer]) -> None:
    assert [
        c.code for a in answers.values() for c in a.cautions if c.code in ("logger-in-sun", "logger-noisy")
    ] == []
