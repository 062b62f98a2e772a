"""Rooms are entered by their doors: a package's own names, or the files that stand open here by name.

What is not named here is a room's own affair: it may be moved, split or renamed without asking anybody outside.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.test_house import PACKAGE, SOURCES, known_modules

# Files that others import from beside the door of their package: they are asked alone, since a whole package would
# load what a recorder, or one answer, has no use for. Whoever adds one says in the commit why the door will not do.
OPEN = {
    "across": """
        ask executors picture shared summary tokens
    """,
    "answers": """
        answer climate.cycles climate.drawn.charts climate.drawn.drying_days climate.drying
        climate.picture climate.shown climate.words columns filters finding phrases plan.ask
        plan.picture plan.watched preference.words quantities_said question reasons records.on_record

        records.veterinarian registry retreats.chart shifts.expected shifts.over_time shifts.picture
        showing.plain showing.said showing.terminal study zones.ask zones.picture
    """,
    "export": """
        package paper
    """,
    "journal": """
        adjustments against columns fold past.cells past.gaps past.headers past.intake past.kept past.naming
        past.rows past.table past.timed past.undo past.versions reader records rows steady temperatures
        writer
    """,
    "page": """
        gathered report sections.five_sentences
    """,
    "pictures": """
        dates description key letters plot scales
    """,
    "readings": """
        arrow_arrays layout read.intake read.summary read.workbook recognise.value_columns store.live_days store.store
        store.through times.written trust.calibration trust.cross_checks trust.joining trust.marks
        trust.moisture trust.newest trust.overview trust.quality trust.salt_entry trust.series
    """,
    "recording": """
        modes.added_zone modes.asking modes.corrections modes.counts modes.focal modes.opening
        modes.recorder modes.retreats.rounds modes.scanning practice.before practice.scored
        practice.script practice.seen session.actions session.cautions session.held session.ledger
        session.instant session.newest session.notes session.others session.past session.plan
        session.recall telling.care telling.plain telling.said telling.first_line telling.summary words
    """,
    "screens": """
        build.app build.desk recorder.app review.app
    """,
    "stats": """
        agreement.agreement agreement.clock_offset agreement.sample_size agreement.several_observers
        arrays association.association association.crowding association.fidelity association.sharing
        choice.choice choice.cross_validation choice.flexible choice.peaks choice.place_or_climate
        choice.preference choice.spread choice.start_point choice.thermoregulation choice.turned
        choice.used curves.by_hour curves.edges curves.logger_error curves.tops drying.dry_forecast
        drying.dry_moves drying.drying drying.per_litre drying.staged intervals.any_time
        intervals.differences intervals.quantiles intervals.rates intervals.shares intervals.shrinking
        intervals.units resampling.control_impact resampling.permutation resampling.related_samples
        resampling.reversals resampling.single_case resampling.spells resampling.strata resampling.swaps
        second_opinion space_use.dispersion space_use.electivity space_use.lasting space_use.sample_size
        space_use.stays space_use.visits space_use.zone_use time_series.cosinor time_series.lasting
        time_series.recent_change time_series.segmented time_series.steady_sides time_series.theil_sen
    """,
    "study": """
        clock draft.dated draft.draft draft.enclosures draft.forms draft.painting draft.things
        draft.written durable keys labels model names problems quantities regular sketch time_zones
        toml.edit toml.edits toml.fields toml.file toml.heard toml.rules toml.starter toml.toml_text toml.tracked
        treatments user_folders watching_times
    """,
    "tables": """
        at_once availability choices conditions moments phases records rounds watched
    """,
}


def entered(package: list[str], text: str, known: dict[str, Path]) -> set[str]:
    """The files of other rooms that a file of a package imports from, wherever the import stands."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            for alias in node.names:
                one = f"{module}.{alias.name}" if f"{module}.{alias.name}" in known else module
                if one in known and known[one].name != "__init__.py" and one.count(".") > 1:
                    found.add(one)
    return {one for one in found if one.split(".")[:2] != package[:2]}


def test_rooms_are_entered_by_their_doors_or_by_what_stands_open() -> None:
    known = known_modules()
    used = {
        one
        for path in SOURCES
        for one in entered(["zoneuse", *path.relative_to(PACKAGE).parts[:-1]], path.read_text("utf-8"), known)
    }
    named = {f"zoneuse.{room}.{file}" for room, files in OPEN.items() for file in files.split()}
    assert used - named == set(), "behind a door: ask at the package, or name the file here with its reason"
    assert named - used == set(), "nobody outside asks there any more: shut it"


@pytest.mark.parametrize(
    ("code", "goes"),
    [
        ("from ..stats.choice.choice_newton import climb", {"zoneuse.stats.choice.choice_newton"}),
        ("def f():\n    from ..stats.choice import choice_newton", {"zoneuse.stats.choice.choice_newton"}),
        ("from ..stats.choice import fit_choice", set()),
        ("from .gathered import gather", set()),
    ],
)
def test_what_goes_behind_a_door_is_found(code: str, goes: set[str]) -> None:
    found = entered(["zoneuse", "page"], code, known_modules())
    assert found == goes
    assert not {one.removeprefix("zoneuse.stats.") for one in found} & {*OPEN["stats"].split()}
