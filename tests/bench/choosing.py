"""The choice model beside statsmodels and scipy, and limits of shares and peaks beside resampling them."""

from __future__ import annotations

import warnings

import numpy as np

from tests.bench.measure import Line, by_turns, in_processes, timed
from zoneuse.stats.choice.choice import fit_choice
from zoneuse.stats.choice.peaks import fieller_peak
from zoneuse.stats.choice.preference import fit_preference
from zoneuse.stats.space_use.zone_use import zone_use

MILLION = """
import time
from tests.bench.choosing import table
from zoneuse.stats.choice.choice import fit_choice
x, moment, chosen = table({moments}, 8, 6, 1)
start = time.perf_counter()
fit_choice(x, moment, chosen, cluster=moment // 40)
seconds = time.perf_counter() - start
"""


def table(moments: int, zones: int, terms: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A choice table with known coefficients: x (rows x terms), moment and chosen (rows)."""
    random = np.random.default_rng(seed)
    x = random.normal(size=(moments, zones, terms))
    beta = np.linspace(-1.0, 1.0, terms)
    pull = x @ beta + random.gumbel(size=(moments, zones))
    chosen = np.zeros((moments, zones), int)
    chosen[np.arange(moments), pull.argmax(axis=1)] = 1
    return x.reshape(-1, terms), np.repeat(np.arange(moments), zones), chosen.reshape(-1)


def against_statsmodels(rounds: int = 3) -> list[Line]:
    """2,000 and 10,000 moments x 8 zones x 6 terms; coefficients must agree to 1e-6."""
    from statsmodels.discrete.conditional_models import ConditionalLogit

    found = []
    for moments in (2_000, 10_000):
        x, moment, chosen = table(moments, 8, 6, 20260301)
        fits: dict[str, np.ndarray] = {}

        def ours(x=x, moment=moment, chosen=chosen, fits=fits) -> None:  # type: ignore[no-untyped-def]
            fits["ours"] = fit_choice(x, moment, chosen, cluster=moment // 40).coef

        def theirs(x=x, moment=moment, chosen=chosen, fits=fits) -> None:  # type: ignore[no-untyped-def]
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                model = ConditionalLogit(chosen, x, groups=moment)
                fits["theirs"] = model.fit(method="newton", disp=False).params

        times = by_turns({"zoneuse": ours, "statsmodels ConditionalLogit": theirs}, rounds)
        apart = float(np.abs(fits["ours"] - fits["theirs"]).max())
        work = f"choice model, {moments:,} moments x 8 zones x 6 terms, three covariances"
        found.append(
            Line(
                work,
                times.pop("zoneuse"),
                times,
                {"statsmodels ConditionalLogit": 1 / 300},
                (f"coefficients {apart:.0e} apart (at most 1e-6)",),
            )
        )
    return found


def against_bfgs(rounds: int = 3) -> list[Line]:
    """100,000 moments beside scipy's BFGS, as it comes and given the exact gradient; a million beside a tenth."""
    from scipy.optimize import minimize

    x, moment, chosen = table(100_000, 8, 6, 1)
    cube, took = x.reshape(-1, 8, 6), chosen.reshape(-1, 8).argmax(axis=1)
    taken = cube[np.arange(took.size), took].sum(axis=0)

    def loss(beta: np.ndarray) -> tuple[float, np.ndarray]:
        pull = cube @ beta
        pull -= pull.max(axis=1, keepdims=True)
        weight = np.exp(pull)
        total = weight.sum(axis=1)
        gradient = np.einsum("mz,mzt->t", weight / total[:, None], cube) - taken
        chosen_pull = pull[np.arange(took.size), took]
        return float((np.log(total) - chosen_pull).sum()) / took.size, gradient / took.size

    times = by_turns(
        {
            "zoneuse": lambda: fit_choice(x, moment, chosen, errors=False),
            "with": lambda: fit_choice(x, moment, chosen, cluster=moment // 40),
            "scipy BFGS": lambda: minimize(lambda b: loss(b)[0], np.zeros(6), method="BFGS"),
            "scipy BFGS given the gradient": lambda: minimize(loss, np.zeros(6), jac=True, method="BFGS"),
        },
        rounds,
    )
    with_errors = times.pop("with")
    sizes = in_processes({str(n): MILLION.format(moments=n) for n in (100_000, 1_000_000)}, rounds)
    (small, _), (large, memory) = sizes["100000"], sizes["1000000"]
    return [
        Line(
            "choice model, 100,000 moments, coefficients",
            times.pop("zoneuse"),
            times,
            {"scipy BFGS": 0.25},
            (f"with three covariances {with_errors:.2f} s",),
        ),
        Line(
            "choice model, a million moments",
            large,
            {"a tenth of them": small},
            {"a tenth of them": 12.0},
            (f"peak memory {memory:.0f} MB (at most 1,400), the table itself included",),
        ),
    ]


def limits_of_shares(rounds: int = 5) -> Line:
    """Limits of use for 500 sessions x 8 zones, beside 10,000 resamplings by a pandas groupby (from 100)."""
    import pandas as pd

    random = np.random.default_rng(3)
    session = np.repeat(np.arange(500), 20)
    zone = random.choice(8, session.size, p=np.arange(1, 9) / 36)
    order = np.arange(session.size)
    frame = pd.DataFrame({"session": session, "zone": zone})

    def resampled() -> None:
        groups = [part for _, part in frame.groupby("session")]
        for _ in range(100):
            drawn = pd.concat([groups[k] for k in random.integers(0, 500, 500)])
            drawn.groupby("zone").size() / len(drawn)

    ours, theirs = [], []
    for _ in range(rounds):
        ours.append(
            timed(lambda: zone_use(session, np.zeros(session.size, int), zone, order, np.full(8, 1 / 8)))
        )
        theirs.append(100 * timed(resampled))
    rival = "10,000 resamplings by pandas groupby"
    return Line(
        "limits, tests and verdicts of 8 zones over 500 sessions", float(np.median(ours)),
        {rival: float(np.median(theirs))}, {rival: 1 / 300},
        ("zoneuse does not resample: its limits come from a test with the animals' own stays (docs/methods)",),
    )  # fmt: skip


def limits_of_a_peak(rounds: int = 3) -> list[Line]:
    """The set of the peak by CR3 and Fieller, beside 1,000 full refits over resampled sessions (from 20)."""
    found = []
    for sessions in (20, 60):
        random = np.random.default_rng(4)
        moments = sessions * 20
        celsius = 20 + 8 * random.random((moments, 8))
        pull = -0.05 * (celsius - 24) ** 2 + random.gumbel(size=celsius.shape)
        chosen = (pull == pull.max(axis=1, keepdims=True)).astype(int).ravel()
        moment, cluster = np.repeat(np.arange(moments), 8), np.repeat(np.arange(moments) // 20, 8)
        zone, x = np.tile(np.arange(8), moments), celsius.reshape(-1, 1)

        def ours(x=x, moment=moment, zone=zone, chosen=chosen, cluster=cluster) -> None:  # type: ignore[no-untyped-def]
            fit = fit_preference(
                x, moment, zone, chosen, np.zeros(zone.size), cluster=cluster, quantities=("t",)
            )
            fieller_peak(*fit.curve(0), fit.degrees())

        def refitted(x=x, moments=moments, chosen=chosen, sessions=sessions, random=random) -> None:  # type: ignore[no-untyped-def]
            # As zoneuse's: a fit of the curve, and one with a constant for each zone beside it.
            zones = np.tile(np.eye(8)[:, 1:], (moments, 1))
            both = np.column_stack([x - 24, (x - 24) ** 2, zones]).reshape(sessions, -1, 9)
            took = chosen.reshape(sessions, -1)
            for _ in range(20):
                drawn = random.integers(0, sessions, sessions)
                rows, number = both[drawn].reshape(-1, 9), np.repeat(np.arange(moments), 8)
                fit_choice(rows[:, :2], number, took[drawn].ravel(), errors=False)
                fit_choice(rows, number, took[drawn].ravel(), errors=False)

        times = by_turns({"zoneuse": ours, "refits": refitted}, rounds)
        rival = "1,000 refits of resampled sessions"
        found.append(
            Line(
                f"set of the peak, {sessions} sessions, with and without zone constants",
                times["zoneuse"],
                {rival: 50 * times["refits"]},
                {rival: 1 / 300} if sessions >= 60 else {},
                ("zoneuse does not resample: one-step jackknife over sessions, then Fieller's set",),
            )
        )
    return found


def lines() -> list[Line]:
    """All lines of the choice model and of limits."""
    return [*against_statsmodels(), *against_bfgs(), limits_of_shares(), *limits_of_a_peak()]
