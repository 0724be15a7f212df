"""Fits a law to the published rows of a type: ``python tests/fit_tube_laws.py 6V6GT EL34``.

Prints tables for ``schemas/library/tubes.toml``.  Needs scipy, which nothing else here does.  The
rows and stages marked ``fit`` are used, plate current weighing most; what no row tells is held near the usual
by a weak prior.  Beyond its weight an error counts by its third power, so that the worst row tells.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

sys.path[:0] = [str(Path(__file__).parent.parent / ".src"), str(Path(__file__).parent)]

from coldcheck.lint.physics.circuit import PentodeLaw, TriodeLaw  # noqa: E402
from tube_laws import (  # noqa: E402
    FAMILY,
    Row,
    Stage,
    at_full_drive,
    missed,
    residuals,
    rows,
    stages,
)

# Published amplification factors, of pentodes from first to second grid: the makers' sheets where
# a row has them, else recalled.
MU = {
    "6V6GT": 9.8, "6AQ5A": 9.8, "6L6GC": 8.0, "7027A": 8.0, "5881": 8.0, "EL34": 11.0,
    "EL84": 19.0, "EL86": 8.0, "KT88": 8.0, "6550A": 8.0, "KT66": 8.0, "EF86": 38.0,
    "6AU6": 36.0, "6BM8.2": 9.5, "6K6GT": 6.8, "6F6GT": 6.8, "6SJ7": 19.0,
    "5751": 70.0, "6AQ8": 57.0, "6H30": 15.0, "12AX7": 100.0,
    "6BM8.1": 70.0, "6GW8.1": 100.0, "6GW8.2": 21.0, "7591A": 17.0, "5687": 17.0, "6BL7GT": 15.0,
    "6BX7GT": 10.0,
}  # fmt: skip
WEIGHT = {
    "plate_current": 0.04,
    "screen_current": 0.07,
    "transconductance": 0.08,
    "plate_resistance": 0.4,
}
FULL_DRIVE = (0.1, 0.3)
STAGE = {"plate_current": 0.04, "cathode_current": 0.04, "screen_current": 0.07, "gain": 0.06}
PRIOR = {  # the usual value, and by what factor it may well be missed
    "ex": (1.4, 1.07),
    "kp": (60.0, 2.7),
    "share": (0.05, 10.0),
    "beta": (0.1, 1.7),
    "plate_pull": (3e-4, 3.0),
    "kvb": (300.0, 3.0),
}
MU_FACTOR = 1.08
EX_WIDER = 1.15
"""In place of 1.07 where stages tell of currents an order below those of the rows."""


def cubed(error: np.ndarray) -> np.ndarray:
    """Errors whose squares are their third powers, but plain within one weight."""
    return np.where(np.abs(error) < 1.0, error, np.sign(error) * np.abs(error) ** 1.5)


def law_from(names: list[str], logs: np.ndarray) -> TriodeLaw | PentodeLaw:
    found = dict(zip(names, np.exp(logs), strict=True))
    if "share" in found:
        found["kg2"] = found["kg1"] / found.pop("share")
        return PentodeLaw(**found)
    return TriodeLaw(**found)


def fitted(name: str, used: list[Row], coupled: list[Stage]) -> TriodeLaw | PentodeLaw:
    names = ["mu", "ex", "kg1", "kp"]
    names += ["kvb"] if used[0].connection == "triode" else ["share", "beta", "plate_pull"]
    prior = {**PRIOR, "mu": (MU[name], MU_FACTOR)}
    if coupled:
        prior["ex"] = (PRIOR["ex"][0], EX_WIDER)

    def errors(logs: np.ndarray) -> np.ndarray:
        law = law_from(names, logs)
        found = []
        for row in used:
            for quantity, error in residuals(law, row).items():
                found.append(np.log1p(max(error, -0.999)) / WEIGHT[quantity])
            if row.load is not None and isinstance(law, PentodeLaw):
                for have, want, width in zip(
                    at_full_drive(law, row), row.load[2:], FULL_DRIVE, strict=True
                ):
                    found.append(np.log(have / want) / width)
        for stage in coupled:
            found += [np.log1p(error) / STAGE[q] for q, error in missed(law, stage).items()]
        for log, one in zip(logs, names, strict=True):
            if one in prior:
                usual, factor = prior[one]
                found.append(np.log(np.exp(log) / usual) / np.log(factor))
        return cubed(np.array(found))

    best = None
    for kp in (30.0, 60.0, 150.0, 400.0):
        start = {**{k: v[0] for k, v in prior.items()}, "kg1": 1000.0, "kp": kp}
        run = least_squares(errors, np.log([start[one] for one in names]))
        if best is None or run.cost < best.cost:
            best = run
    return law_from(names, best.x)


def main() -> None:
    for name in sys.argv[1:] or MU:
        published = [row for row in rows() if row.type == name]
        used = [row for row in published if row.use == "fit"]
        published_stages = [
            stage for stage in stages() if FAMILY.get(stage.type, stage.type) == name
        ]
        coupled = [stage for stage in published_stages if stage.use == "fit"]
        found = fitted(name, used, coupled)._asdict()
        values = {k: float(f"{v:.5g}") for k, v in found.items()}
        del values["grid_ohms"]
        law = PentodeLaw(**values) if "kg2" in values else TriodeLaw(**values)
        print(f'[tubes."{name}".law]')
        print(f'form = "{"reefman" if "kg2" in values else "koren"}"')
        for key, value in values.items():
            print(f"{key} = {value:g}" if value >= 1e-3 else f"{key} = {value:.4e}")
        for word, use in (("rows", "fit"), ("rows_held", "held")):
            some = [r for r in published if r.use == use]
            more = [stage for stage in published_stages if stage.use == use and stage.type == name]
            if not some and not more:
                continue
            print(f"{word} = {len(some) + len(more)}")
            worst: dict[str, float] = {}
            errors = [residuals(law, row) for row in some] + [missed(law, one) for one in more]
            for quantity, error in (pair for row in errors for pair in row.items()):
                worst[quantity] = max(worst.get(quantity, 0.0), abs(error))
            for quantity, error in worst.items():
                print(f"{'worst' if use == 'fit' else 'held'}_{quantity} = {error:.3f}")
        for row in published:
            shown = (f"{q} {100 * e:+.0f} %" for q, e in residuals(law, row).items())
            print(f"# {row.use} {row.label}: " + ", ".join(shown), end="")
            if row.load is not None and isinstance(law, PentodeLaw):
                both = zip(at_full_drive(law, row), row.load[2:], strict=True)
                print(" | full drive", *(f"{100 * (a / b - 1):+.0f} %" for a, b in both), end="")
            print()
        for stage in published_stages:
            shown = (f"{q} {100 * e:+.1f} %" for q, e in missed(law, stage).items())
            print(f"# {stage.use} {stage.label}: " + ", ".join(shown))
        print()


if __name__ == "__main__":
    main()
