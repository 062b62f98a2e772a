"""A record told as not written is not there, and a folder that cannot be flushed is no reason to fail."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from tests.making import run, study_folder
from zoneuse.journal.reader import read_journals


def _failing_on_folders(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def fsync(handle: int) -> None:
        if os.path.isdir(f"/proc/self/fd/{handle}"):  # noqa: PTH112
            raise OSError(number, os.strerror(number))
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs Linux")
@pytest.mark.parametrize(("number", "status", "held"), [(errno.EIO, 1, 0), (errno.EINVAL, 0, 1)])
def test_what_a_folder_that_cannot_be_flushed_means(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, status: int, held: int
) -> None:
    study = study_folder(tmp_path / "study")
    (study / "journal").mkdir()
    with monkeypatch.context() as failing:
        _failing_on_folders(number, failing)
        assert run("seen", "a1", "moss", "--study", study).exit_code == status
    assert len(list(read_journals(study).entries("seen"))) == held
