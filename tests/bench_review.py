"""How long a review takes, as ratios to what cannot be avoided on the same machine.

``python tests/bench_review.py [ROUNDS]`` prints ratios of processor time, the least over rounds
in which the two commands take turns, so that a busy machine troubles both alike and little:

- a cold review of each finished demo against importing the libraries it stands on;
- ``coldcheck --help`` against starting Python to do nothing.

Both run from compiled bytecode, as what pip has installed does.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
ENVIRONMENT = {
    **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
    "PYTHONPATH": str(ROOT / ".src"),
    # More threads than work slow small matrices down, by an amount that depends on the machine.
    "OPENBLAS_NUM_THREADS": "1",
}
DEMOS = ("lantern", "heron", "harbour")
LIBRARIES = ("-c", "import numpy, networkx, pydantic, rich")
HELP = ("-m", "coldcheck", "--help")
NOTHING = ("-c", "pass")


def seconds(arguments: tuple[str, ...]) -> float:
    """Processor time of one Python process; stops the benchmark if the process fails."""
    begin = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=ENVIRONMENT, capture_output=True, check=False
    )
    end = resource.getrusage(resource.RUSAGE_CHILDREN)
    # 1 is a review with findings, which takes as long as one without.
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments} failed:\n{done.stderr.decode(errors='replace')}")
    return end.ru_utime + end.ru_stime - begin.ru_utime - begin.ru_stime


def compare(name: str, ours: tuple[str, ...], theirs: tuple[str, ...], rounds: int) -> None:
    """Print the ratio of the two commands' least times, after one round that compiles."""
    seconds(ours)
    seconds(theirs)
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(rounds)]
    our, their = (min(column) for column in zip(*pairs, strict=True))
    print(f"{name}: {our / their:.2f} ({our * 1e3:.0f} ms against {their * 1e3:.0f} ms)")


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    with tempfile.TemporaryDirectory() as compiled:
        ENVIRONMENT["PYTHONPYCACHEPREFIX"] = compiled
        for demo in DEMOS:
            review = ("-m", "coldcheck", "review", f"projects/{demo}.toml")
            compare(f"review of {demo} / importing its libraries", review, LIBRARIES, rounds)
        compare("--help / an idle Python", HELP, NOTHING, rounds)


if __name__ == "__main__":
    main()
