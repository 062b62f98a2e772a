"""What invented animals are asked while a house rule is halved and doubled (``house_rules``).

Each function returns percents, as its line of ``ASKED`` names them. Rules are read where they are used, at every
call; what does not depend on them is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial

import numpy as np
import pandas as pd

from tests.sim.animals import Design, simulate
from tests.sim.calibrate_agreement import observed
from tests.sim.calibrate_curves import SAME, read, word
from tests.sim.calibrate_evenings import called, sides
from tests.sim.calibrate_evenings import told as surely
from tests.sim.calibrate_often import p_of
from tests.sim.calibrate_retreats import as_checks
from tests.sim.calibrate_shifts import PLACES, verdicts
from tests.sim.calibrate_shifts import Design as Change
from tests.sim.calibrate_shifts import simulate as changed
from tests.sim.calibrate_zones import STEEP, WIDE, settle_one
from tests.sim.changes import WATCHED, Ints, hiding, step, wave
from tests.sim.colony import RETREATS, colony, dry_colony
from tests.sim.creatures import OFFER, alone, columns, long_stays, together
from tests.sim.curves import Ways, avoids_above, even, indifferent, watched
from zoneuse.answers.activity import judge as activity
from zoneuse.answers.finding import FAIRLY_SURE, standing
from zoneuse.answers.observers import judge as observers
from zoneuse.answers.preference.measured.loggers import stood_in_the_sun
from zoneuse.answers.retreats import judge as retreats
from zoneuse.answers.retreats.company import company_of
from zoneuse.answers.retreats.conditions import Known, dry_table
from zoneuse.answers.retreats.keeping import fidelity_of
from zoneuse.answers.second_opinion import judge as opinions
from zoneuse.answers.shifts.around import unseen
from zoneuse.answers.shifts.phases import Sides
from zoneuse.answers.zones import judge as zones
from zoneuse.answers.zones.judge import call_zones
from zoneuse.stats.agreement.agreement import agreement
from zoneuse.stats.association.sharing import company, sharing
from zoneuse.stats.intervals.any_time import level_any_time
from zoneuse.stats.second_opinion import share
from zoneuse.stats.space_use.zone_use import zone_use

Told = tuple[str, ...]


def zones_told(studies: int) -> Told:
    """Percent of studies with a false word: company, long stays; and in which a true preference is told."""
    told = []
    for make in (partial(together, carry=0.8, joins=0.95), partial(long_stays, shape=0.8)):
        hits = []
        for seed in range(studies):
            zone = make(4, 24, np.random.default_rng(seed))
            found = zone_use(**columns(zone), availability=OFFER, draws=499, seed=seed)
            hits.append(
                any(w in ("avoided", "favoured") for w in call_zones(found, zones.EVEN_WITHIN).verdict)
            )
        told.append(f"{100 * np.mean(hits):.0f}")
    design = replace(STEEP, animals=3, sessions=24)
    made, hits = simulate(design, studies, 7), []
    for i in range(studies):
        found = zone_use(**made.study(i), availability=design.offered, draws=499, seed=i)
        hits.append("favoured" in call_zones(found, zones.EVEN_WITHIN).verdict)
    return (*told, f"{100 * np.mean(hits):.0f}")


def shifts_told(studies: int) -> Told:
    """Percent with a false rise or fall of the zone expected (moods that last; a drift), and of a true rise told."""
    cells = (Change(12, phi=0.7, mood=1.0), Change(12, drift=1.5), Change(12, after=0.45))
    told = []
    for cell in cells:
        hits = []
        for seed in range(studies):
            words, moved, _ = verdicts(changed(cell, np.random.default_rng(seed)), seed, True)
            main = [w for w, m in zip(words, moved, strict=True) if m.name == "z3"]
            hits.append(any(w in ("rose", "fell") for w in main))
        told.append(f"{100 * np.mean(hits):.0f}")
    return tuple(told)


def sure_told(studies: int) -> Told:
    """Percent fairly sure in a slow wave, of a rise begun three days before, and of a true rise; 16 v 16 days."""
    cells: tuple[Callable[[np.random.Generator], Ints], ...] = (
        lambda r: wave(16, 16, 3, r),
        lambda r: step(16, 16, 3, r, 0.45, 3),
        lambda r: step(16, 16, 3, r, 0.45),
    )
    return tuple(
        f"{100 * np.mean([surely(make(np.random.default_rng(i)), i)[1] for i in range(studies)]):.0f}"
        for make in cells
    )


def prefer_told(studies: int) -> Told:
    """Percent called peaked with a peak; threshold with an edge; and fairly sure of anything by the hour alone."""
    cells: tuple[tuple[Ways, Callable[[str], bool]], ...] = (
        (Ways(even(), 20, 2), lambda w: w.startswith("peaked")),
        (Ways(avoids_above(31.0, 0.8), 20, 2), lambda w: w.startswith("threshold")),
        (Ways(indifferent, 20, 2, out_by_day=2.0, base=SAME), lambda w: w.endswith("*")),
    )
    return tuple(
        f"{100 * np.mean([hit(word(read(watched(ways, 50 + i)))) for i in range(studies)]):.0f}"
        for ways, hit in cells
    )


OFTEN = np.array([8, 10, 12, 15, 18, 22, 27, 33, 40, 50, 60, 80, 105, 140, 200])


@cache
def _p_at(animals: int, carry: float, liked: float, studies: int) -> np.ndarray:
    """Studies x looks: the least p over zones that holds however often one asks; zone 2 is used so many times more."""
    offer = OFFER * np.where(np.arange(OFFER.size) == 2, liked, 1.0)
    return np.array(
        [
            [p_of(zone[:, :n]) for n in OFTEN]
            for zone in (
                alone(animals, 200, np.random.default_rng(61_000 + s), carry, offer / offer.sum())
                for s in range(studies)
            )
        ]
    )


def often_told(studies: int) -> Told:
    """Percent ever fairly sure in 200 sessions without preference (one animal, carry-over .8; three), and by the 60th
    of a zone of .16 used twice as much."""
    grade = np.array([standing(int(n), int(n)) == FAIRLY_SURE for n in OFTEN])

    def sure(p: np.ndarray) -> np.ndarray:
        return (p <= level_any_time(OFTEN)) & grade

    ever = [sure(_p_at(a, c, 1.0, studies)).any(axis=1) for a, c in ((1, 0.8), (3, 0.0))]
    by_60 = sure(_p_at(1, 0.0, 2.0, studies))[:, OFTEN <= 60].any(axis=1)
    return tuple(f"{100 * v.mean():.0f}" for v in (*ever, by_60))


def moving_told(studies: int) -> Told:
    """Percent ever fairly sure of a behaviour of the last fortnight, of nothing (three animals, carry-over .5) and of
    one that becomes twice as common after 60 sessions, within a fortnight."""

    def sure(share: np.ndarray, looks: range) -> bool:
        for n in looks:
            found = activity.recent_change(share[: n - 15], share[n - 15 : n], 1 - activity.LEVEL_MOVING, 6)
            if ((found.low > 0) | (found.high < 0)).any():
                return True
        return False

    hits = np.zeros((studies, 2))
    for s in range(studies):
        random = np.random.default_rng(62_000 + s)
        did = alone(3, 200, random, 0.5)
        each = np.stack([(did == k).mean(axis=(0, 2)) for k in range(6)], axis=1)
        hits[s, 0] = sure(each, range(30, 201, 3))
        more = OFFER * np.where(np.arange(6) == 2, 2.0, 1.0)
        did = np.concatenate([alone(3, 60, random), alone(3, 15, random, offer=more / more.sum())], axis=1)
        each = np.stack([(did == k).mean(axis=(0, 2)) for k in range(6)], axis=1)
        hits[s, 1] = sure(each, range(75, 76))
    return tuple(f"{100 * v:.0f}" for v in hits.mean(axis=0))


def early_told(studies: int) -> Told:
    """Percent with any claim by the tenth session, asked after each from the third: no preference; a wide one."""
    told = []
    for design in (Design(animals=3, sessions=10), replace(WIDE, animals=3, sessions=10)):
        made, hits = simulate(design, studies, 63), []
        for s in range(studies):
            one = made.study(s)
            ever = False
            for n in (3, 4, 5, 7, 10):
                rows = one["unit"] < n
                found = zone_use(
                    **{k: v[rows] for k, v in one.items()}, availability=design.offered, draws=499, seed=s
                )
                called_now = any(w in ("avoided", "favoured") for w in call_zones(found).verdict)
                ever |= called_now and bool(standing(n, n))
            hits.append(ever)
        told.append(f"{100 * np.mean(hits):.0f}")
    return tuple(told)


def even_told(studies: int) -> Told:
    """Percent of zones used as offered called in proportion at 40 sessions, and of one of .22 used .6 times."""
    hits = np.zeros((studies, 2))
    for j, design in enumerate(
        (Design(animals=3, sessions=40), Design(animals=3, sessions=40, times=(1, 0.6, 1, 1, 1, 1)))
    ):
        made = simulate(design, studies, 64)
        for s in range(studies):
            found = zone_use(**made.study(s), availability=design.offered, draws=499, seed=s)
            words = np.array(call_zones(found, zones.EVEN_WITHIN).verdict) == "in proportion"
            hits[s, j] = words[1] if j else words.mean()
    return tuple(f"{100 * v:.0f}" for v in hits.mean(axis=0))


def ahead_told(studies: int) -> Told:
    """Zones of three animals too early after 8 sessions: percent with a forecast, the chance stated, and that came."""
    random, told = np.random.default_rng(65), []
    for s in range(studies):
        design = Design(sessions=208, animals=3, times=tuple(np.exp(0.5 * random.normal(size=6))))
        told += settle_one(simulate(design, 1, 65 + 10 * s).study(0), design.offered, 8, 499)
    stated, stands, _ = np.mean(np.array(told, float), axis=0)
    return f"{100 * len(told) / (6 * studies):.0f}", f"{100 * stated:.0f}", f"{100 * stands:.0f}"


def expected_told(studies: int) -> Told:
    """Percent with any claim of nothing, 16 v 16; with a rise to .35 told that was expected; and that was not, while
    another zone was."""
    hits = np.zeros((studies, 3))
    for s in range(studies):
        for j, (to, zone) in enumerate(((0.15, WATCHED), (0.35, WATCHED), (0.35, 0))):
            claimed, _ = called(step(16, 16, 3, np.random.default_rng(66_000 + s), to), s, zone)
            hits[s, j] = PLACES[WATCHED] in claimed if j else bool(claimed)
    return tuple(f"{100 * v:.0f}" for v in hits.mean(axis=0))


def unseen_told(studies: int) -> Told:
    """16 v 16: percent with a false claim where zone 3 was searched less well; said to be found unalike although it
    was not; and with a true rise to .45 told, found alike."""
    hits = np.zeros((studies, 3))
    for s in range(studies):
        for j, (found_in, to) in enumerate((((0.9, 0.2), 0.15), ((0.8, 0.8), 0.15), ((0.8, 0.8), 0.45))):
            zone = hiding(16, 16, 3, np.random.default_rng(67_000 + s), found_in, to)
            found = sides(np.maximum(zone, 0))
            found.rows.loc[zone.ravel() < 0, "place"] = None
            found = replace(
                found, rows=found.rows.assign(out=False, behaviour=None, zone=found.rows["place"])
            )
            seen = unseen.seen_of(found, PLACES, 499, s)
            assert seen is not None
            if j == 1:
                hits[s, j] = seen.differs
                continue
            share = np.array([(day == WATCHED).sum() / max((day >= 0).sum(), 1) for day in zone])
            p = unseen.permute_phases(share[:, None], found.late, draws=499, seed=s).p[0]
            hits[s, j] = p <= 0.04 and unseen.stands_unseen(
                found, seen, WATCHED, level=0.04, draws=499, seed=s
            )
    return tuple(f"{100 * v:.0f}" for v in hits.mean(axis=0))


def hands_told(studies: int) -> Told:
    """8 v 8 sessions: percent said to be in other hands where two observers take turns by lot, and where one watched
    nine of ten before and two of ten after."""
    hits, many = np.zeros(2), 10 * studies
    for s in range(many):
        random = np.random.default_rng(68_000 + s)
        for j, (before, after) in enumerate(((0.5, 0.5), (0.9, 0.2))):
            ann = random.random(16) < np.repeat([before, after], 8)
            rows = pd.DataFrame({"observer": np.where(ann, "ann", "bo"), "method": "scan"})
            found = Sides(rows, np.arange(16), np.arange(16) >= 8, np.zeros(16, int), np.arange(16.0), ())
            hits[j] += bool(unseen.watched_alike("x", found, None))
    return tuple(f"{100 * v / many:.0f}" for v in hits)


def company_told(studies: int) -> Told:
    """Eight animals, 60 checks: any claim without company; one pair that joins at .3; four that shun at .9."""
    cells = ({}, {"follows": 0.3}, {"avoids": 0.9, "pairs": 4})
    told = []
    for cell in cells:
        hits = []
        for s in range(studies):
            where = colony(np.random.default_rng([69, s]), **cell)  # type: ignore[arg-type]
            found = company(sharing(where, draws=499, seed=s))
            hits.append(found.together or found.apart)
        told.append(f"{100 * np.mean(hits):.0f}")
    return tuple(told)


@cache
def _retreat_p(studies: int) -> tuple[np.ndarray, list[dict]]:
    """p of company (one pair joins .6), of keeping apart (four shun .9) and of keeping to one's own, 60 checks; rows of
    dry spells (moisture sought, 2)."""
    p, dry = np.ones((studies, 3)), []
    for s in range(studies):
        cells = ({"follows": 0.6}, {"avoids": 0.9, "pairs": 4})
        for j, cell in enumerate(cells):
            checks = as_checks(colony(np.random.default_rng([70, s]), **cell))  # type: ignore[arg-type]
            told = company_of(checks, 500, s, 1)
            assert told is not None
            p[s, j] = (told[0].p_together, told[0].p_apart)[j]
        random = np.random.default_rng([71, s])
        own = np.exp(random.normal(0, 1, (8, RETREATS)))
        where = np.stack([random.choice(RETREATS, 60, p=w / w.sum()) for w in own], axis=1)
        p[s, 2] = float(np.nanmin(fidelity_of(as_checks(where), 500, s, 1).p))
        seen, moisture, since = dry_colony(random, seeks=2.0)
        known = Known({"humidity_pct": moisture}, {"humidity_pct": since})
        dry += dry_table([as_checks(seen)], [known]).to_dict("records")
    return p, dry


def parts_told(studies: int) -> Told:
    """Percent fairly sure at 60 checks of a pair that joins, of four that shun, of keeping to one's own; and of moves
    to where it is moist, were heat known."""
    p, dry = _retreat_p(studies)
    parts = retreats.COMPANY_PART, retreats.APART_PART, retreats.KEEPING_PART
    hits = [np.mean([retreats.stands_always(q, 60, part) for q in p[:, j]]) for j, part in enumerate(parts)]
    moist = np.mean([retreats._dry_always(row, int(row["days_with_moves_dry"])) for row in dry])
    return tuple(f"{100 * v:.0f}" for v in (*hits, moist))


def rare_told(studies: int) -> Told:
    """A code in 2 of 100 moments, 8 sessions: percent of pairs whose kappa is shown, and of its limits that hold;
    faults in few of 8 sessions, one code at .9: limits that hold."""
    few = (0.98, 0.02), 0.005, 2.0
    patchy = (0.9, 0.04, 0.03, 0.03), 0.05, 0.3
    shown, held = [], []
    for j, (mix, fault, mood) in enumerate((few, patchy)):
        truth = agreement(*observed(20_000, 4, mix, fault, mood, np.random.default_rng(1))[:2]).kappa
        for s in range(4 * studies):
            one, other, session = observed(8, 4, mix, fault, mood, np.random.default_rng([72, j, s]))
            found = agreement(one, other, session, categories=len(mix))
            uncommon = int(((one != 0) | (other != 0)).sum()), int(((one != 0) & (one == other)).sum())
            if np.isnan(found.kappa_low):
                continue
            if j == 0:
                shown.append(not observers.too_rare(*uncommon))
            if j or shown[-1]:
                held.append((j, found.kappa_low <= truth <= found.kappa_high))
    three = shown, *([h for k, h in held if k == j] for j in (0, 1))
    return tuple(f"{100 * np.mean(hits):.0f}" if hits else "–" for hits in three)


def surely_told(studies: int) -> Told:
    """20 sessions of two animals: percent fairly sure of a peak that is there; of one where there is an edge; the
    edge's value shown, and its limits held of those shown."""
    peak = [word(read(watched(Ways(even(), 20, 2), 73_000 + s))) == "peaked*" for s in range(studies)]
    found = [read(watched(Ways(avoids_above(31.0, 0.8), 20, 2), 73_000 + s)) for s in range(studies)]
    false = [word(f) == "peaked*" for f in found]
    shown = [e for f in found if (e := f.each[0].edge_shown) is not None]
    held = f"{100 * np.mean([e.low <= 31.0 <= e.high for e in shown]):.0f}" if shown else "–"
    return (
        f"{100 * np.mean(peak):.0f}", f"{100 * np.mean(false):.0f}", f"{100 * len(shown) / studies:.0f}", held
    )  # fmt: skip


def serial_told(studies: int) -> Told:
    """One animal, 40 sessions: percent fairly sure of anything, without a preference in zones it likes for days; and
    of a peak that is there."""
    told = []
    for pull in (indifferent, even()):
        ways = Ways(pull, 40, 1, stay=0.998, liking=0.0) if pull is indifferent else Ways(pull, 40, 1)
        told.append([word(read(watched(ways, 74_000 + s))).endswith("*") for s in range(studies)])
    return tuple(f"{100 * np.mean(hits):.0f}" for hits in told)


def sun_told(studies: int) -> Told:
    """Six loggers over 30 days: percent with one said to stand in the sun, where none does (one zone swings half as
    much again with the weather), where a lamp is 5 °C hotter from one day on, and where one does."""
    hits = np.zeros((10 * studies, 3))
    for s in range(10 * studies):
        random = np.random.default_rng(75_000 + s)
        gain = np.array([0.7, 0.8, 0.9, 1.0, 1.1, 1.4])
        top = 20 + 3.0 * np.arange(6)[:, None] + gain[:, None] * 2.0 * random.normal(size=30)
        top += 0.5 * random.normal(size=(6, 30))
        own, later = (np.arange(6) == 3)[:, None], np.arange(30) >= random.integers(8, 22)
        shone = random.random(30) < 0.5
        for j, more in enumerate((0.0, 5.0 * later * own, 5.0 * shone * own)):
            hits[s, j] = any(j == 0 or i == 3 for i, *_ in stood_in_the_sun(top + more))
    return tuple(f"{100 * v:.0f}" for v in hits.mean(axis=0))


def clusters_told(studies: int) -> Told:
    """Percent of a clustered binomial's limits that hold with so many sessions, a zone of .16 and one of .08."""
    many, held = opinions.CLUSTERS_ENOUGH, np.zeros((4 * studies, 2))
    for s in range(4 * studies):
        zone = alone(1, many, np.random.default_rng(76_000 + s))[0]
        session = np.repeat(np.arange(many), zone.shape[1])
        for j, (place, truth) in enumerate(((2, OFFER[2]), (5, OFFER[5]))):
            found = share((zone == place).ravel(), np.ones(zone.size), session)
            held[s, j] = found.low <= truth <= found.high
    return tuple(f"{100 * v:.0f}" for v in held.mean(axis=0))


ASKED: dict[str, tuple[str, Callable[[int], Told]]] = {
    "zones": ("false in company / false in long stays / favoured zone told", zones_told),
    "shifts": ("false in lasting moods / false in a drift / true rise told", shifts_told),
    "sure": ("fairly sure in a wave / of a rise begun before / of a true rise", sure_told),
    "prefer": ("peak told / edge told / fairly sure by the hour alone", prefer_told),
    "often": (
        "ever fairly sure of nothing, one animal / three / of a favoured zone by 60 sessions",
        often_told,
    ),
    "moving": ("ever fairly sure of nothing / of a behaviour twice as common", moving_told),
    "early": ("any claim by 10 sessions, no preference / one of .05 to .45", early_told),
    "even": ("in proportion, as offered / used .6 times", even_told),
    "ahead": ("zones with a forecast / chance stated / came true", ahead_told),
    "expected": ("any claim of nothing / expected rise told / one not expected told", expected_told),
    "unseen": ("false in a zone searched less / said unalike in vain / true rise told", unseen_told),
    "hands": ("other hands in vain / other hands told", hands_told),
    "company": ("any claim of nothing / a pair told / four that shun told", company_told),
    "parts": ("fairly sure of a pair / of four that shun / of own retreats / of moist ones", parts_told),
    "rare": ("kappa shown / held of these / held where faults are in few sessions", rare_told),
    "surely": ("peak fairly sure / a false one at an edge / edge's value shown / held of these", surely_told),
    "serial": ("fairly sure of nothing / of a peak", serial_told),
    "sun": ("said of none / of a lamp made hotter / of one that stands in it", sun_told),
    "clusters": ("clustered limits hold, zone of .16 / of .08", clusters_told),
}
