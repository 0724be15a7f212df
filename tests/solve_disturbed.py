"""Solves 500 disturbed circuits and counts: ``python tests/solve_disturbed.py [first] [last]``.

What counts as solvable, and what is checked, is in ``tests/physics/disturbed.py``.
"""

from __future__ import annotations

import os
import sys
import time
import warnings
from collections import Counter
from pathlib import Path

# Before numpy is first imported; why, see coldcheck.lint.physics.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path[:0] = [str(Path(__file__).parent.parent / ".src"), str(Path(__file__).parent)]

from physics import disturbed  # noqa: E402

SLOW = 5.0
"""Seconds of processor time from which a circuit is named for its slowness."""


def main(first: int = 0, last: int = 500) -> int:
    warnings.simplefilter("error")
    count: Counter[str] = Counter()
    for seed in range(first, last):
        circuit, words = disturbed.disturbed(seed)
        began = time.process_time()
        verdict = disturbed.judge(circuit, seed)
        taken = time.process_time() - began
        kind = "solvable" if verdict.solvable else "with a node that nothing ties to ground"
        count[kind] += 1
        if not verdict.refused:
            count[f"{kind}, solved"] += 1
            count[f"{kind}, solved with one taken as linear and named"] += bool(verdict.linear)
        failed = bool(verdict.wrong) or (verdict.solvable and bool(verdict.refused))
        count["FAILED"] += failed
        if failed or verdict.refused or taken > SLOW:
            said = [*verdict.wrong, *(f"{k}: {v}" for k, v in verdict.refused.items())]
            mark = "FAILED" if failed else "refused" if verdict.refused else "slow"
            print(f"{mark:8}{seed:5} {taken:6.1f} s  {words}: {'; '.join(said)}", flush=True)
    for kind in sorted(count):
        print(f"{count[kind]:5} {kind}")
    return 1 if count["FAILED"] else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:3])))
