"""How long a review takes, as ratios to what cannot be avoided on the same machine.

``python tests/bench_review.py [ROUNDS]`` prints ratios of wall time, and of processor time in
brackets, the least over rounds in which the two commands take turns:

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
import time
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


def seconds(arguments: tuple[str, ...]) -> tuple[float, float]:
    """Wall and processor time of one command; stops the benchmark if it fails."""
    begin, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=ENVIRONMENT, capture_output=True, check=False
    )
    end, waited = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter() - began
    # 1 is a review with findings, which takes as long as one without.
    if done.returncode not in (0, 1):
        raise SystemExit(f"{arguments} failed:\n{done.stderr.decode(errors='replace')}")
    return waited, end.ru_utime + end.ru_stime - begin.ru_utime - begin.ru_stime


def compare(name: str, ours: tuple[str, ...], theirs: tuple[str, ...], rounds: int) -> None:
    """Print the ratio of the two commands' least times, after one round that compiles."""
    seconds(ours)
    seconds(theirs)
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(rounds)]
    our, their = zip(*pairs, strict=True)
    wall, spent = (min(t[k] for t in our) / min(t[k] for t in their) for k in (0, 1))
    ms = [1e3 * min(t[0] for t in times) for times in (our, their)]
    print(f"{name}: {wall:.2f} ({ms[0]:.0f} ms against {ms[1]:.0f} ms) [{spent:.2f}]", flush=True)


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
