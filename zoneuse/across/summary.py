"""A study to the numbers it can give away: no titles, names, labels, notes, observers, dates or file names."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from ..answers import reasons
from ..answers.finding import TOO_EARLY
from ..answers.study import Study
from ..answers.zones import zones as ask_zones
from ..study.model import Zone
from ..version import __version__
from .shared import (
    FORMAT,
    Consent,
    Shared,
    SharedAnimal,
    SharedChange,
    SharedEnclosure,
    SharedTerm,
    SharedZone,
)

CONFOUNDED = "confounded"


def summarise(study: Study, keeper: str, enclosure: str, consent: Consent) -> Shared:
    """Everything of a study that is held together with others', by the answers' own numbers."""
    declared = study.declared
    moments = study.moments
    counted = moments[moments["out"] == ""]
    # What a face adds to it (cuts, what would settle it) is not given away.
    zones = ask_zones(study.question({}), cuts=False, finer=False)
    preferred = study.preference(compare=False).to_dict()["parts"]
    names = _names(study)
    return Shared(
        format=FORMAT,
        zoneuse=__version__,
        keeper=keeper,
        species=" ".join(declared.species.split()).capitalize()[:80],
        consent=consent,
        enclosure=SharedEnclosure(
            token=enclosure,
            enclosures=len(declared.enclosures),
            animals=int(counted["animal"].nunique()),
            sessions=int(counted["session"].nunique()),
            days=int(counted["day"].nunique()),
            measured_in=declared.measured_in,
            methods=tuple(sorted(map(str, counted["method"].unique()))),
            slots=tuple(sorted(map(str, counted["slot"].unique()))),
            months=tuple(sorted({day.month for day in counted["day"]})),
            zones=tuple(_zones(names, zones.to_dict()["rows"])),
            animals_used=tuple(_animals(preferred.get("by_animal", []))),
            terms=tuple(_terms(preferred.get("terms", []), preferred.get("term_covariance", []))),
            changes=tuple(_changes(study, names)),
        ),
    )


def common_name(zone: Zone) -> str:
    """What a place is called where studies are held together: as the keeper says, else by its role."""
    return zone.common or ("" if zone.role == "other" else zone.role)


def _names(study: Study) -> dict[str, str]:
    """Common names by zone id and by place."""
    named: dict[str, str] = {}
    for zone in study.declared.zones.values():
        named[zone.id] = named[zone.place] = " ".join(common_name(zone).lower().split())
    return named


def _zones(names: Mapping[str, str], rows: list[dict[str, Any]]) -> Iterator[SharedZone]:
    by_name: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        if names.get(row["zone"]) and row["used"] is not None and row["n_eff"] and row["available"]:
            by_name.setdefault(names[row["zone"]], []).append(row)
    for name, some in sorted(by_name.items()):
        yield SharedZone(
            name, _sum(some, "available"), _sum(some, "used"), some[0]["n_eff"], some[0]["df"],
            # Several places of one name vary together or against each other: one's own error is no one else's.
            some[0]["se"] if len(some) == 1 else None,
            _sum(some, "unseen_low"), min(1.0, _sum(some, "unseen_high")), max(row["sessions"] for row in some),
        )  # fmt: skip


def _sum(rows: list[dict[str, Any]], name: str) -> float:
    return math.fsum(row[name] or 0.0 for row in rows)


def _animals(rows: list[dict[str, Any]]) -> Iterator[SharedAnimal]:
    for row in rows:
        if None not in (row["mean"], row["median"], row["q25"], row["q75"]):
            yield SharedAnimal(
                row["quantity"], row["mean"], row["median"], row["q25"], row["q75"], row["moments"]
            )


def _terms(rows: list[dict[str, Any]], covariance: list[dict[str, Any]]) -> Iterator[SharedTerm]:
    # Constants of places stand for places: they say nothing elsewhere.
    plain = [row for row in rows if row["fit"] == "plain" and row["coefficient"] is not None]
    pairs = {(row["term"], row["with_term"]): row for row in covariance}
    for i, row in enumerate(plain):
        found = [pairs.get((row["term"], other["term"])) for other in plain[: i + 1]]
        known = [one for one in found if one is not None]
        whole = len(known) == len(found)
        yield SharedTerm(
            row["term"], row["coefficient"], row["se"], known[-1]["centre"] if whole else None,
            tuple(one["covariance"] for one in known) if whole else None, known[-1]["df"] if whole else None,
        )  # fmt: skip


def _changes(study: Study, names: Mapping[str, str]) -> Iterator[SharedChange]:
    shifts = study.shifts()
    confounded = {f.about[0] for f in shifts.findings if f.verdict == CONFOUNDED and f.about}
    early = {
        f.about for f in shifts.findings if f.verdict == TOO_EARLY and f.reason == reasons.ONE_SIDE_SHORT
    }
    changes = {e.record.fields["adjustment"]: e.record.fields for e in study.journals.entries("adjusted")}
    for row in shifts.to_dict()["rows"]:
        told = row["change"] is not None and row["se"] and (row["adjustment"], row["zone"]) not in early
        if row["what"] == "zone" and row["adjustment"] in changes and names.get(row["zone"]) and told:
            yield _change(row, changes[row["adjustment"]], names, row["adjustment"] in confounded)


def _change(
    row: Mapping[str, Any], fields: Mapping[str, Any], names: Mapping[str, str], confounded: bool
) -> SharedChange:
    where = sorted({names.get(zone, "") for zone in fields["zones"]} - {""})
    return SharedChange(
        fields["what"], where[0] if len(where) == 1 else "", names[row["zone"]], _expected(fields, row["zone"]),
        row["change"], row["se"], row["df"], row["sessions_before"], row["sessions_after"], confounded,
    )  # fmt: skip


def _expected(fields: Mapping[str, Any], zone: str) -> str:
    for one in fields.get("expects") or ():
        if one.get("zone", one.get("name")) == zone:
            return str(one.get("direction", ""))
    return ""
