"""What is asked of a study: everything an answer starts from, as one frozen thing."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, replace

import pandas as pd

from ..journal import Journals
from ..study import Declaration
from ..tables import place_label, places_of
from ..tables.conditions import Readings
from .effort import ASKED, Effort, effort, usual_cluster
from .filters import Filters, select

# What was done in the time that a budget of behaviours gives to none of them; no id can be called so.
ELSE = "(else)"


@dataclass(frozen=True)
class Question:
    """A study's content with what is asked of it.

    ``moments`` are all of the study, ``rows`` those inside the filters; ``cluster`` is the unit of evidence asked
    for (None: the usual one), ``unit`` the one that counts; ``readings`` loads what the loggers measured.
    """

    declared: Declaration
    journals: Journals
    moments: pd.DataFrame
    filters: Filters
    readings: Readings | None = None
    cluster: str | None = None
    seed: int = 1
    # Whether the moments are those asked for already, with time budgets among them.
    budgets: bool = False

    @functools.cached_property
    def rows(self) -> pd.DataFrame:
        return self.moments if self.budgets else select(self.moments, self.filters)

    @functools.cached_property
    def unit(self) -> str:
        return self.cluster or usual_cluster(self.rows)[0]

    @functools.cached_property
    def because(self) -> str:
        """Why that unit counts, as a code of ``effort.BECAUSE``."""
        return ASKED if self.cluster else usual_cluster(self.rows)[1]

    @functools.cached_property
    def effort(self) -> Effort:
        return self.effort_of(self.rows)

    def effort_of(self, rows: pd.DataFrame) -> Effort:
        """The effort behind a part of the moments, or behind others of the same study."""
        return effort(rows, self.journals, self.unit, self.because)

    def by(self, cluster: str) -> Question:
        """The same question with another unit of evidence."""
        return replace(self, cluster=cluster)

    @functools.cached_property
    def labels(self) -> Mapping[str, str]:
        return labels_of(self.declared)


def labels_of(declared: Declaration) -> Mapping[str, str]:
    """What ids are called on a screen."""
    labels = {place: place_label(declared, place) for place in places_of(declared)}
    for kind in (declared.animals, declared.groups, declared.behaviours):
        labels.update({i: one.label for i, one in kind.items()})
    return {**labels, ELSE: "Anything else"}
