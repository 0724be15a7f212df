"""Laws of tubes, diodes and iron: currents from voltages, with their derivatives.

Every function works on whole arrays.  A tube is described by its ports, each from one electrode
to the cathode: plate and grid of a triode; plate, screen and grid of a pentode.  The current of a
port flows in at the electrode and out at the cathode.

Tube laws: N. Koren, "Improved vacuum-tube models for SPICE simulations", Glass Audio 8(5), 1996;
how a pentode's current divides: D. Reefman, "Spice models for vacuum tubes using the uTracer", 2016.
Space-charge diodes: three-halves-power law (C. D. Child, Phys. Rev. 32, 492, 1911; I. Langmuir,
Phys. Rev. 2, 450, 1913).  Silicon diodes: W. Shockley, Bell Syst. Tech. J. 28, 435, 1949.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from coldcheck.lint.physics.circuit import Pentode, PentodeLaw, Triode, TriodeLaw

Array = NDArray[np.float64]

KNEE = 0.05
"""Width in volts over which grid current and zener current set in; our choice, so that their
slopes are continuous.  It adds 17 uA to a 2 kohm grid at 0 V, 1 nA at -0.5 V."""

TANGENT = 0.5
"""Current in amperes above which a silicon diode follows the tangent of its exponential; our
choice.  Above it a real diode is governed by its series resistance, which stands outside."""

FAINT = -600.0
"""Exponent below which an exponential is taken as it is there, 1e-261: nothing beside 1, while
one that underflows takes twice the time."""

ZENER_SATURATION = 1e-9
ZENER_SLOPE = 0.05
"""Forward law of a zener diode in amperes and volts: an ordinary silicon junction, from memory."""

SMALLEST_ZENER_OHMS = 1e-3
"""Least slope resistance of a zener diode, so that a declared 0 ohm stays finite; our choice."""

BEND = 0.05
"""Half-width of the bend into saturation, relative to the knee; our choice.  A strip of good core
steel bends over about that much, and the flux of one sample in a cycle is no smaller."""

TRIODE = ("mu", "ex", "kg1", "kp", "kvb")
PENTODE = ("mu", "ex", "kg1", "kg2", "kp", "beta", "plate_pull")


def softplus(x: ArrayLike) -> Array:
    """ln(1 + e^x) without overflow, as max(x, 0) + ln(1 + e^-|x|)."""
    return _soft(x)[0]


def logistic(x: ArrayLike) -> Array:
    """1 / (1 + e^-x) without overflow: the derivative of :func:`softplus`."""
    return _soft(x)[1]


def _soft(x: ArrayLike) -> tuple[Array, Array]:
    """:func:`softplus` and :func:`logistic`, for the price of one exponential."""
    x = np.asarray(x, dtype=float)
    small = np.exp(np.maximum(-np.abs(x), FAINT))
    whole = 1.0 + small
    share = np.where(x >= 0.0, 1.0, small) / whole
    return np.maximum(x, 0.0) + np.log1p(small), np.asarray(share)


def triode_current(law: TriodeLaw, plate: ArrayLike, grid: ArrayLike) -> Array:
    """Plate current in amperes; ``plate`` and ``grid`` in volts to the cathode.

    Ia = 2 E1^ex / kg1 with E1 = (Va / kp) ln(1 + exp(kp (1 / mu + Vg / sqrt(kvb + Va^2)))),
    zero for Va <= 0 (Koren 1996, equations 3 and 4).
    """
    plate, grid = np.asarray(plate, dtype=float), np.asarray(grid, dtype=float)
    return _triode((law.mu, law.ex, law.kg1, law.kp, law.kvb), plate, grid)[0]


def pentode_currents(
    law: PentodeLaw, plate: ArrayLike, screen: ArrayLike, grid: ArrayLike
) -> tuple[Array, Array]:
    """Plate and screen current in amperes; electrodes in volts to the cathode.

    Space current I = 2 E1^ex / kg1 with E1 = (Vs / kp) ln(1 + exp(kp (1 / mu + Vg / Vs))) (Koren
    1996, equation 5); Vs is kept positive as (V + sqrt(V^2 + 4)) / 2.  Of it the screen has the
    share s = kg1 / kg2 + (1 - kg1 / kg2) / (1 + beta Va) and the plate the rest:

        Is = I s,   Ia = I (1 - s + plate_pull Va),   Is = I and Ia = 0 for Va <= 0.

    This is the rational form of Reefman 2016, section 4.4, with alpha = 0, so that Is + Ia is I
    but for the plate's own pull, A Va there.
    """
    plate, screen = np.asarray(plate, dtype=float), np.asarray(screen, dtype=float)
    grid = np.asarray(grid, dtype=float)
    return _pentode([getattr(law, name) for name in PENTODE], plate, screen, grid)[:2]


def grid_current(ohms: ArrayLike, grid: ArrayLike) -> tuple[Array, Array]:
    """Grid current in amperes and its slope: (KNEE / ohms) ln(1 + exp(Vg / KNEE))."""
    ohms = np.asarray(ohms, dtype=float)
    x = np.asarray(grid, dtype=float) / KNEE
    soft, share = _soft(x)
    return KNEE * soft / ohms, share / ohms


def silicon_current(
    saturation: ArrayLike, slope: ArrayLike, volts: ArrayLike
) -> tuple[Array, Array]:
    """Junction current in amperes and its slope: saturation (exp(v / slope) - 1).

    Continued as its tangent above :data:`TANGENT`.
    """
    saturation, slope = np.asarray(saturation, dtype=float), np.asarray(slope, dtype=float)
    most = np.log(TANGENT / saturation + 1.0)
    share = np.asarray(volts, dtype=float) / slope
    below = np.minimum(share, most)
    rise = saturation * np.exp(np.maximum(below, FAINT))
    return rise * (1.0 + share - below) - saturation, rise / slope


def child_current(perveance: ArrayLike, volts: ArrayLike) -> tuple[Array, Array]:
    """Space-charge current perveance * v^1.5 in amperes for v > 0, and its slope."""
    root = np.sqrt(np.maximum(volts, 0.0))
    return np.asarray(perveance * root**3), np.asarray(1.5 * np.asarray(perveance) * root)


def zener_current(breakdown: ArrayLike, ohms: ArrayLike, volts: ArrayLike) -> tuple[Array, Array]:
    """Anode-to-cathode current in amperes and its slope; ``volts`` anode to cathode.

    Backward (KNEE / ohms) ln(1 + exp((-v - breakdown) / KNEE)), forward a silicon junction.
    """
    forward, conductance = silicon_current(ZENER_SATURATION, ZENER_SLOPE, volts)
    ohms = np.maximum(ohms, SMALLEST_ZENER_OHMS)
    x = -(np.asarray(volts, dtype=float) + np.asarray(breakdown, dtype=float)) / KNEE
    soft, share = _soft(x)
    return forward - KNEE * soft / ohms, conductance + share / ohms


def glow_current(volts: ArrayLike, ohms: ArrayLike, across: ArrayLike) -> tuple[Array, Array]:
    """Anode-to-cathode current in amperes and its slope of a glow tube that is lit.

    (KNEE / ohms) ln(1 + exp((across - volts) / KNEE)), ``across`` anode to cathode.
    """
    ohms = np.maximum(ohms, SMALLEST_ZENER_OHMS)
    x = (np.asarray(across, dtype=float) - np.asarray(volts, dtype=float)) / KNEE
    soft, share = _soft(x)
    return KNEE * soft / ohms, share / ohms


def iron_current(
    reactance: ArrayLike, knee: ArrayLike, ratio: ArrayLike, volts: ArrayLike
) -> tuple[Array, Array]:
    """What saturated iron draws beyond its linear current j, in amperes, and its slope in siemens.

    ``volts``: the flux as that current times the unsaturated ``reactance`` at mains frequency.
    With w = BEND * knee it is ratio * w (ln(1 + exp((j - knee) / w)) - ln(1 + exp((-j - knee) / w))),
    ``ratio`` being the unsaturated inductance over the saturated one, less 1.
    """
    reactance, knee = np.asarray(reactance, dtype=float), np.asarray(knee, dtype=float)
    ratio = np.asarray(ratio, dtype=float)
    width = BEND * knee
    up = (np.asarray(volts, dtype=float) / reactance - knee) / width
    down = -up - 2.0 / BEND
    (soft_up, share_up), (soft_down, share_down) = _soft(up), _soft(down)
    rise = share_up + share_down
    return ratio * width * (soft_up - soft_down), ratio / reactance * rise


def _triode(
    parameters: Sequence[ArrayLike], plate: Array, grid: Array
) -> tuple[Array, Array, Array]:
    """Plate current and its derivatives by plate and grid voltage."""
    mu, ex, kg1, kp, kvb = (np.asarray(p, dtype=float) for p in parameters)
    va = np.maximum(plate, 0.0)
    reach = np.sqrt(kvb + va * va + 1e-12)
    x = kp * (1.0 / mu + grid / reach)
    soft, share = _soft(x)
    drive = va * soft / kp
    power = 2.0 / kg1 * drive ** (ex - 1.0)
    slope = ex * power
    by_plate = np.where(plate > 0.0, soft / kp - va * va * share * grid / reach**3, 0.0)
    return power * drive, slope * by_plate, slope * va * share / reach


def _pentode(
    parameters: Sequence[ArrayLike], plate: Array, screen: Array, grid: Array
) -> tuple[Array, Array, Array, Array, Array, Array, Array, Array]:
    """Ia, Is, then the derivatives of Ia by plate, screen and grid, then those of Is."""
    mu, ex, kg1, kg2, kp, beta, pull = (np.asarray(p, dtype=float) for p in parameters)
    va = np.maximum(plate, 0.0)
    root = np.sqrt(screen * screen + 4.0)
    vs = np.where(screen > 0.0, 0.5 * (screen + root), 2.0 / (root - np.minimum(screen, 0.0)))
    x = kp * (1.0 / mu + grid / vs)
    soft, share = _soft(x)
    drive = vs * soft / kp
    power = 2.0 / kg1 * drive ** (ex - 1.0)
    space = power * drive
    by_screen = ex * power * (soft / kp - share * grid / vs) * (vs / root)
    by_grid = ex * power * share
    knee = 1.0 / (1.0 + beta * va)
    bend = (1.0 - kg1 / kg2) * beta * knee  # the plate's part is bend * va
    to_plate = (bend + pull) * va
    to_screen = 1.0 - bend * va
    diverted = np.where(plate > 0.0, space * bend * knee, 0.0)
    pulled = np.where(plate > 0.0, space * pull, 0.0)
    return (
        space * to_plate,
        space * to_screen,
        diverted + pulled,
        by_screen * to_plate,
        by_grid * to_plate,
        -diverted,
        by_screen * to_screen,
        by_grid * to_screen,
    )


def _columns(things: Sequence[object], names: Sequence[str]) -> tuple[Array, ...]:
    """Parameters of the laws, (things, 1) each."""
    columns = ([getattr(thing, name) for thing in things] for name in names)
    return tuple(np.array(column, dtype=float)[:, None] for column in columns)


class Tubes:
    """The triodes and pentodes of a circuit as one vector of ports.

    Port order: triode plates, triode grids, pentode plates, screens, grids.  The current of port
    ``row`` follows the voltage of port ``column``, (slopes,) each, and that of no other pair does.
    """

    def __init__(self, triodes: Sequence[Triode], pentodes: Sequence[Pentode]) -> None:
        t, p = len(triodes), len(pentodes)
        self.count = 2 * t + 3 * p
        laws = [*(x.law for x in triodes), *(x.law for x in pentodes)]
        self._triode = _columns(laws[:t], TRIODE)
        self._pentode = _columns(laws[t:], PENTODE)
        self._grid_ohms = _columns(laws, ("grid_ohms",))[0]
        self._spans = [slice(0, t), slice(t, 2 * t)]
        self._spans += [slice(2 * t + k * p, 2 * t + (k + 1) * p) for k in range(3)]
        ports = np.arange(self.count)
        ta, tg, pa, ps, pg = (ports[span] for span in self._spans)
        self.terminals: list[tuple[str, str]] = [
            *((x.plate, x.cathode) for x in triodes),
            *((x.grid, x.cathode) for x in triodes),
            *((x.plate, x.cathode) for x in pentodes),
            *((x.screen, x.cathode) for x in pentodes),
            *((x.grid, x.cathode) for x in pentodes),
        ]
        self.plate_port = {x.name: int(k) for x, k in zip(triodes, ta, strict=True)}
        self.plate_port |= {x.name: int(k) for x, k in zip(pentodes, pa, strict=True)}
        self.grid_port = {x.name: int(k) for x, k in zip(triodes, tg, strict=True)}
        self.grid_port |= {x.name: int(k) for x, k in zip(pentodes, pg, strict=True)}
        self.screen_port = {x.name: int(k) for x, k in zip(pentodes, ps, strict=True)}
        grids = np.concatenate([tg, pg])
        self.row = np.concatenate([ta, ta, pa, pa, pa, ps, ps, ps, grids])
        self.column = np.concatenate([ta, tg, pa, ps, pg, pa, ps, pg, grids])
        self.start = np.full(self.count, 100.0)
        self.start[grids] = -1.0
        self.reach = np.full(self.count, 60.0)
        """How far, in volts, one Newton step may move a port (and 0.3 of its voltage besides)."""
        self.reach[grids] = 2.0

    def law(self, volts: Array) -> tuple[Array, Array]:
        """Port currents, (count, samples), at ``volts`` of that shape, and their slopes, (slopes,
        samples), in A and A/V."""
        plate, grid, plate_5, screen_5, grid_5 = (volts[span] for span in self._spans)
        triodes = plate.shape[0]
        gates, by_gate = grid_current(self._grid_ohms, np.concatenate([grid, grid_5]))
        amperes, slopes = [], []
        if triodes:
            flowing, *by = _triode(self._triode, plate, grid)
            amperes += [flowing, gates[:triodes]]
            slopes += by
        if plate_5.size:
            to_plate, to_screen, *by = _pentode(self._pentode, plate_5, screen_5, grid_5)
            amperes += [to_plate, to_screen, gates[triodes:]]
            slopes += by
        if not amperes:
            return volts, volts
        return np.concatenate(amperes), np.concatenate([*slopes, by_gate])

    def currents(self, volts: Array) -> tuple[Array, Array]:
        """Port currents, shape (count,), and their Jacobian, (count, count), in A and A/V."""
        current, slopes = self.law(volts[:, None])
        jacobian = np.zeros((self.count, self.count))
        jacobian[self.row, self.column] = slopes[:, 0]
        return current[:, 0], jacobian

    def resting(self, volts: Array) -> tuple[Array, Array]:
        """As :meth:`currents`, but of plain resistors that draw about what the tubes will.

        Each plate and screen is what it draws at 200 V with the grid at six tenths of cut-off,
        as a resistance; grids draw nothing.
        """
        at, (_, grid, _, _, grid_5) = np.full(self.count, 200.0), self._spans
        at[grid] = -120.0 / self._triode[0][:, 0]
        at[grid_5] = -120.0 / self._pentode[0][:, 0]
        chord = self.currents(at)[0] / 200.0
        chord[grid] = chord[grid_5] = 0.0
        return chord * volts, np.diag(chord)
