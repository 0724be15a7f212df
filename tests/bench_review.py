"""How long a review takes, as ratios to what cannot be avoided on the same machine.

``python tests/bench_review.py [ROUNDS]`` prints ratios of wall time, median over rounds in
which the two commands take turns, so that a busy machine slows both alike:

- a cold review of each finished demo against importing the libraries it stands on;
- ``coldcheck --help`` against starting Python to do nothing.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
ENVIRONMENT = {
    **os.environ,
    "PYTHONPATH": str(ROOT / ".src"),
    # More threads than work slow small matrices down, by an amount that depends on the machine.
    "OPENBLAS_NUM_THREADS": "1",
}
DEMOS = ("lantern", "heron")
LIBRARIES = ("-c", "import numpy, networkx, pydantic, rich")
HELP = ("-m", "coldcheck", "--help")
NOTHING = ("-c", "pass")


def seconds(arguments: tuple[str, ...]) -> float:
    """Wall time of one Python process; stops the benchmark if the process fails."""
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=ENVIRONMENT, capture_output=True, check=False
    )
    taken = time.perf_counter() - begin
    # 1 is a review with findings, which takes as long as one without.
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments} failed:\n{done.stderr.decode(errors='replace')}")
    return taken


def compare(name: str, ours: tuple[str, ...], theirs: tuple[str, ...], rounds: int) -> None:
    """Print the ratio of the two commands' median times, after one round to warm the caches."""
    seconds(ours)
    seconds(theirs)
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(rounds)]
    our, their = (statistics.median(column) for column in zip(*pairs, strict=True))
    print(f"{name}: {our / their:.2f} ({our * 1e3:.0f} ms against {their * 1e3:.0f} ms)")


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    for demo in DEMOS:
        review = ("-m", "coldcheck", "review", f"projects/{demo}.toml")
        compare(f"review of {demo} / importing its libraries", review, LIBRARIES, rounds)
    compare("--help / an idle Python", HELP, NOTHING, rounds)


if __name__ == "__main__":
    main()
