"""Coverage-guided fuzzing of the readers, by hand: needs atheris (`pip install atheris`).

``nice -n 15 python -m tests.trust.fuzz layout 600 /tmp/finds``: a reader, seconds, where finds are put. What
follows goes to libFuzzer (``-len_control=0 -dict=FILE``). Every fault goes to that folder once, by where it was
raised; copy what is worth keeping to tests/trust/finds.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
import time
import traceback
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["zoneuse", "tomllib"]):
    from tests.trust.readers import READERS

from tests.trust.seeds import SEEDS


def main(name: str, seconds: int, finds: Path) -> None:
    reader = READERS[name]
    finds.mkdir(parents=True, exist_ok=True)
    corpus = finds / f"corpus-{name}"
    corpus.mkdir(exist_ok=True)
    for data in SEEDS[name]():
        (corpus / hashlib.sha1(data).hexdigest()).write_bytes(data)
    begun, runs, known = time.monotonic(), 0, set[str]()
    with tempfile.TemporaryDirectory(dir="/dev/shm") as place:

        def once(data: bytes) -> None:
            nonlocal runs
            runs += 1
            if runs % 5000 == 0:
                print(
                    f"{name}: {runs:,} inputs in {time.monotonic() - begun:.0f} s, {len(known)} finds",
                    flush=True,
                )
            try:
                reader(data, Path(place))
            except Exception as error:
                where = traceback.extract_tb(error.__traceback__)
                ours = [f"{f.filename}:{f.lineno}" for f in where if "zoneuse" in f.filename][-3:]
                if (sign := f"{type(error).__name__} {ours}") not in known:
                    known.add(sign)
                    code = hashlib.sha1(sign.encode()).hexdigest()[:8]
                    (finds / f"{name}-{code}").write_bytes(data)
                    (finds / f"{name}-{code}.txt").write_text(traceback.format_exc())
                    print(f"FIND {name}-{code}: {type(error).__name__}: {error!s:.200}", flush=True)

        atheris.Setup(
            [sys.argv[0], str(corpus), *sys.argv[4:], f"-max_total_time={seconds}", "-max_len=6000", "-timeout=60",
             "-rss_limit_mb=3000", f"-artifact_prefix={finds}/{name}-", "-print_final_stats=1"],
            once,
        )  # fmt: skip
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), Path(sys.argv[3]))
