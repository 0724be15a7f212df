"""Loads a project, builds its graphs, computes its electrical state, runs rules, writes reports.

The matrices solved here are below 100 by 100, where a second linear-algebra thread never pays and,
with the other core busy, costs up to nine times the run time (measured on two cores).  OpenBLAS
reads its thread count once, when numpy is first imported, so it is set here, before any module
below this package.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
