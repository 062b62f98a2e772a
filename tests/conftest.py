"""Of the tests as a whole: what is loaded to collect them is looked through for garbage once, not again and again."""

from __future__ import annotations

import gc

# Loading 250 files of tests, pandas and scipy makes objects that stay: a third of collecting went into searching them.
gc.disable()


def pytest_collection_finish() -> None:
    gc.freeze()
    gc.enable()
