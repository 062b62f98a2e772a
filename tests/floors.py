"""The lowest versions that pyproject.toml promises, as pins for pip.

    python -m tests.floors > floors.txt
    pip install '.[test]' -r floors.txt

What is run on them is `tests/trust/test_supply.py` and the parts that
`.ci/run` names. Only what zoneuse itself needs is pinned; the tests' own
tools come as they are.
"""

import re
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1] / "pyproject.toml"


def floors(project: Path = PROJECT) -> dict[str, str]:
    """{package: lowest version} of all that zoneuse needs, the extras that users may ask for included.

    ValueError: a package that states no lowest version."""
    found = tomllib.loads(project.read_text("utf-8"))["project"]
    optional = found["optional-dependencies"]
    asked = found["dependencies"] + [
        one for extra in optional if extra not in {"test", "lint", "bench"} for one in optional[extra]
    ]
    pins = {}
    for line in asked:
        match = re.match(r"([A-Za-z0-9._-]+)(?:\[[^\]]*\])?\s*(?:>=|==)\s*([0-9][0-9A-Za-z.]*)", line)
        if not match:
            raise ValueError(f"{project}: {line!r} states no lowest version; write it as 'name>=1.2'")
        pins[match[1]] = match[2]
    return pins


if __name__ == "__main__":
    print("\n".join(f"{name}=={version}" for name, version in floors().items()))
