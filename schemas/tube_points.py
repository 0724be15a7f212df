"""Laws of tubes through one published point, in closed form.

For a type that is not in the library a builder has a data sheet: one operating point, and two of
amplification factor, transconductance and plate resistance.  Fitting rows needs scipy, which
coldcheck does without; through one point Koren's form (see :mod:`coldcheck.lint.physics.devices`)
can be solved for by hand.  With E1 = (V / kp) ln(1 + e^x), x = kp (1 / mu + Vg / R) and
R^2 = kvb + V^2 its derivatives give, at the point,

    1 / rp = ex Ia / V - Vg V gm / R^2          whatever kp and mu,
    x s(x) / ln(1 + e^x) = K (1 / mu + Vg / R)   with K = gm R / (ex Ia), s the logistic,

so that kvb follows from the plate resistance, x from mu, kp from x and kg1 from the current.  What
the point does not tell is the usual of tubes, and said to be so.
"""

from __future__ import annotations

import math
from typing import NamedTuple

EX, EX_LEAST, EX_MOST = 1.4, 1.1, 1.7
"""Exponent: the middle, least and most of the fitted laws of the library, about; 1.5 by Child's law."""
X_LEAST, X_MOST = 0.7, 4.0
"""Between these lies x of the library's triodes that were fitted to more than one row, at the row."""
X_USUAL = 2.0
KVB = 300.0
BETA = 0.1
"""1 / V: the plate of a pentode has half its share at 10 V; the middle of the library's laws."""
PLATE_PULL = 3e-4
"""1 / V: the same."""
MISSED = 0.25
"""Most by which a law may miss the published plate resistance of a triode; our choice."""


class Point(NamedTuple):
    """An operating point, in volts, amperes, siemens and ohms; the grid is negative or zero."""

    plate: float
    grid: float
    amperes: float
    mu: float | None = None
    transconductance: float | None = None
    plate_ohms: float | None = None
    screen: float | None = None
    screen_amperes: float | None = None


class Through(NamedTuple):
    """Parameters of the law, how far it misses what was published, and what was assumed."""

    parameters: dict[str, float]
    worst: dict[str, float]
    assumed: str


class Unfit(ValueError):
    """The numbers cannot be of one tube; the message says what would be."""


def triode_through(point: Point) -> Through:
    """Koren's law of a triode; raises Unfit.

    Of ``mu``, ``transconductance`` and ``plate_ohms`` two are needed.
    """
    mu, gm, rp = _two_of_three(point)
    volts, amperes = point.plate, point.amperes
    pull, flow = -point.grid * volts * gm, amperes / volts
    ex, kvb = EX, KVB
    reach = pull / (1.0 / rp - EX * flow) if 1.0 / rp > EX * flow else math.inf
    if volts**2 <= reach <= 2.0 * volts**2 and pull > 0.0:
        kvb = reach - volts**2
    else:  # the exponent gives way instead
        kvb = 0.0 if reach < volts**2 else KVB if pull == 0.0 else volts**2
        ex = (1.0 / rp - pull / (kvb + volts**2)) / flow
        ex = min(max(ex, EX_LEAST), EX_MOST)
    found = 1.0 / (ex * flow + pull / (kvb + volts**2))
    missed = abs(found / rp - 1.0)
    if missed > MISSED:
        raise Unfit(
            f"figures of one point: with this current, grid voltage and transconductance the plate"
            f" resistance would be near {found:.3g} ohm"
        )
    kvb = max(kvb, 1.0)
    root = math.sqrt(kvb + volts**2)
    factor = gm * root / (ex * amperes)
    x, mu = _bend(factor, point.grid / root, mu)
    kp = factor * _softplus(x) / _logistic(x)
    kg1 = 2.0 * (volts * _softplus(x) / kp) ** ex / amperes
    parameters = {"mu": mu, "ex": ex, "kg1": kg1, "kp": kp, "kvb": kvb}
    worst = {"plate_current": 0.0, "transconductance": 0.0, "plate_resistance": missed}
    return Through(parameters, worst, f"exponent {ex:.3g} assumed" if ex == EX else "")


def pentode_through(point: Point) -> Through:
    """A pentode's law, as in :class:`coldcheck.lint.physics.circuit.PentodeLaw`; raises Unfit.

    Needs the screen's voltage and current and the transconductance; ``mu`` is that from first to
    second grid.
    """
    gm, screen, to_screen = point.transconductance, point.screen, point.screen_amperes
    if gm is None or screen is None or to_screen is None:
        raise Unfit("the transconductance, the screen's voltage and its current")
    factor = gm * screen / (EX * point.amperes)
    x, mu = _bend(factor, point.grid / screen, point.mu)
    kp = factor * _softplus(x) / _logistic(x)
    drive = screen * _softplus(x) / kp
    total, pull = point.amperes + to_screen, PLATE_PULL
    for _ in range(20):
        space = total / (1.0 + pull * point.plate)
        share = to_screen / space
        # at least half of what the screen takes here is to be its own at any plate voltage
        beta = max(BETA, (2.0 / share - 1.0) / point.plate)
        knee = 1.0 / (1.0 + beta * point.plate)
        floor = (share - knee) / (1.0 - knee)
        if point.plate_ohms is not None:
            slope = 1.0 / (point.plate_ohms * space) - (1.0 - floor) * beta * knee**2
            pull = min(max(slope, 0.1 * PLATE_PULL), 10.0 * PLATE_PULL)
    kg1 = 2.0 * drive**EX / space
    parameters = {
        "mu": mu,
        "ex": EX,
        "kg1": kg1,
        "kg2": kg1 / floor,
        "kp": kp,
        "beta": beta,
        "plate_pull": pull,
    }
    worst = {"plate_current": 0.0, "screen_current": 0.0, "transconductance": 0.0}
    if point.plate_ohms is not None:
        found = 1.0 / (space * ((1.0 - floor) * beta * knee**2 + pull))
        worst["plate_resistance"] = abs(found / point.plate_ohms - 1.0)
    return Through(parameters, worst, f"exponent {EX} and the knee assumed")


def _two_of_three(point: Point) -> tuple[float, float, float]:
    """Amplification factor, transconductance and plate resistance: mu = gm rp."""
    mu, gm, rp = point.mu, point.transconductance, point.plate_ohms
    if mu is None and gm is not None and rp is not None:
        mu = gm * rp
    elif gm is None and mu is not None and rp is not None:
        gm = mu / rp
    elif rp is None and mu is not None and gm is not None:
        rp = mu / gm
    if mu is None or gm is None or rp is None:
        raise Unfit("two of mu, transconductance and plate_ohms")
    if abs(gm * rp / mu - 1.0) > MISSED:
        raise Unfit(f"mu near transconductance times plate_ohms, {gm * rp:.3g}")
    return mu, gm, rp


def _bend(factor: float, grid: float, mu: float | None) -> tuple[float, float]:
    """x and mu at the point; mu gives way where x would be like that of no tube."""
    if mu is not None:
        aim = factor * (1.0 / mu + grid)
        if _bent(X_LEAST) <= aim <= _bent(X_MOST):
            low, high = X_LEAST, X_MOST
            for _ in range(60):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if _bent(middle) < aim else (low, middle)
            return low, mu
        x = X_LEAST if aim < _bent(X_LEAST) else X_MOST
    else:
        x = X_USUAL
    return x, 1.0 / (_bent(x) / factor - grid)


def _bent(x: float) -> float:
    """Rises from 0 at 0 to 1."""
    return x * _logistic(x) / _softplus(x)


def _softplus(x: float) -> float:
    return math.log1p(math.exp(x))


def _logistic(x: float) -> float:
    return 1.0 / (1.0 + math.exp(-x))
