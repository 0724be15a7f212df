"""How far each tube law misses its published rows: ``python tests/print_tube_laws.py [TYPE ...]``.

One line a row or stage, errors in percent, plus is too much; ``*`` marks one beyond the bar.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent.parent / ".src"), str(Path(__file__).parent)]

from coldcheck.lint.physics.circuit import PentodeLaw  # noqa: E402
from tube_laws import (  # noqa: E402
    BARS,
    FAMILY,
    PRINTED,
    STAGE_BARS,
    at_full_drive,
    law_of,
    missed,
    residuals,
    rows,
    stages,
)


def main() -> None:
    wanted = sys.argv[1:]
    fitted: dict[str, int] = {}
    for row in rows():
        fitted[row.type] = fitted.get(row.type, 0) + (row.use == "fit")
    heads = ("plate A", "screen A", "gm", "rp", "at full drive")
    print(f"{'row':34}{'use':14}{'evidence':13}" + "".join(f"{head:>10}" for head in heads))
    for row in rows():
        law = law_of(row.type)
        if law is None or (wanted and row.type not in wanted):
            continue
        found = residuals(law, row)
        cells = []
        for name in PRINTED:
            beyond = "*" if abs(found.get(name, 0.0)) > BARS.get(name, float("inf")) else " "
            cells.append(f"{100 * found[name]:+.0f}{beyond}" if name in found else "")
        use = "only row" if row.use == "fit" and fitted[row.type] == 1 else row.use
        line = f"{row.label:34}{use:14}{row.level:13}" + "".join(f"{c:>10}" for c in cells)
        if row.load is not None and isinstance(law, PentodeLaw):
            both = zip(at_full_drive(law, row), row.load[2:], strict=True)
            line += "     " + " / ".join(f"{100 * (a / b - 1):+.0f}" for a, b in both)
        print(line.rstrip())
    quantities = ("gain", "plate_current", "cathode_current", "screen_current")
    titles = ("gain", "plate A", "cathode A", "screen A")
    print(f"\n{'stage':34}{'use':14}{'evidence':13}" + "".join(f"{one:>10}" for one in titles))
    for stage in stages():
        kind = FAMILY.get(stage.type, stage.type)
        law = law_of(kind)
        if law is None or (wanted and kind not in wanted):
            continue
        errors = missed(law, stage)
        cells = []
        for name in quantities:
            beyond = "*" if abs(errors.get(name, 0.0)) > STAGE_BARS[name] else " "
            cells.append(f"{100 * errors[name]:+.0f}{beyond}" if name in errors else "")
        line = f"{stage.label:34}{stage.use:14}{stage.level:13}"
        print((line + "".join(f"{cell:>10}" for cell in cells)).rstrip())


if __name__ == "__main__":
    main()
