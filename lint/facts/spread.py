"""What tolerances make of the warm state: a thousand builds of the same drawing.

Every build draws its own parts, tubes and mains, evenly layered so that the whole range of each is
met once (M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21, 239, 1979).  A draw depends
on the name of its part and on nothing else: not on order, nor on which rules were run.  Left as
drawn are capacitors, windings' resistance, rectifiers, and a tube's amplification at the same
current; an adjustment is left where it stands, also where a builder would turn it.
"""

from __future__ import annotations

import functools
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.design import Design
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Basis, Datum
from coldcheck.lint.physics.circuit import (
    GlowTube,
    NotSolved,
    Pentode,
    Resistor,
    Triode,
    ZenerDiode,
)
from coldcheck.lint.physics.spread import Band, Builds, band, spread
from coldcheck.schemas import parts as kinds

Array = NDArray[np.float64]

BUILDS = 1000
SEED = 1904
"""Any number does; fixed, so that a report can be made again."""

# Where a part's tolerance is not given.  IEC 60063 has E24 for parts within 5 %, E12 for 10 %:
# film and oxide resistors are sold in the former (makers' data sheets), composition ones mostly
# in the latter; wirewound ones within 5 % (common practice, no source).
RESISTORS = {"film": 0.05, "oxide": 0.05, "carbon composition": 0.10, "wirewound": 0.05}
POTENTIOMETERS = 0.20
"""Common practice, no source."""
ZENERS = 0.05
"""Zener diodes and gas-filled regulators, from memory: usual zeners bear a suffix for 5 %."""
NO_LOAD = 0.05
"""A winding's volts from its nameplate: IEC 61558-1 clause 11 allows 5 % at rated load (from
memory).  No-load volts that are given were measured, and are taken as they are."""
STRONGEST = 2.0**0.5
"""Current of the strongest tube of a type at the same voltages, relative to the usual one; the
weakest has as much less.  Of 25 new 6550 measured at the same bias the highest drew twice the
current of the lowest (an amplifier workshop's page on matching power tubes); guides to tube data
sheets give 30 to 34 % either way.  Tubes near the usual current are the most frequent: a bell
with ends, taken as a triangle over the logarithm (our choice)."""
TWINS = 0.05
"""How far a section of a twin tube may be from what its bulb gives: they share cathode coating,
pumping and age (our choice)."""

MATCHED = 0.05
"""How far a tube may be from its matched set: sellers match plate current within 5 to 10 %
(common practice, no source)."""


class Population:
    """The builds of a drawing in one state.

    Figures are arrays (builds,) in SI units, of the same builds whatever is asked.
    """

    def __init__(self, name: str, state: State, design: Design, supply: Array) -> None:
        self.name = name
        self._draws = _Draws(design, state)
        self._found = spread(state.solved, self._draws.builds(supply))
        if not self._found.builds.supply.size:
            raise NotSolved(f"{name}: none of {BUILDS} builds was solved")
        self._state = state

    @property
    def lost(self) -> int:
        """How many of :data:`BUILDS` were not solved, and are in no figure."""
        return self._found.lost

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        """What the state rests on, and every tolerance that the document does not give."""
        own = list(self._draws.assumed)
        own += [
            Datum(f"{name} taken as drawn in all builds", Basis.ASSUMED)
            for name in self._found.as_drawn
        ]
        if self.lost:
            own.append(Datum(f"{self.lost} of {BUILDS} builds not solved", Basis.ASSUMED))
        return (*self._state.rests_on, *own)

    def volts(self, net: str) -> Array:
        """Mean voltage of a net to the chassis."""
        return self._found.volts(net)

    def plate_amperes(self, tube: str) -> Array:
        return self._found.plate_amperes(tube)

    def unlike(self, some: Sequence[str], others: Sequence[str]) -> Array:
        """How much more or less plate current some tubes draw together than others do."""
        sides = (np.sum([self.plate_amperes(t) for t in side], axis=0) for side in (some, others))
        return np.asarray(np.abs(np.subtract(*sides)))

    def screen_amperes(self, tube: str) -> Array:
        return self._found.screen_amperes(tube)

    def plate_watts(self, *tubes: str) -> Array:
        """Heat of their plates together, as of the two sections in a bulb."""
        return np.asarray(np.sum([self._found.plate_watts(tube) for tube in tubes], axis=0))

    def screen_watts(self, tube: str) -> Array:
        return self._found.screen_watts(tube)

    def resistor_watts(self, ref: str) -> Array:
        return self._found.resistor_watts(ref)

    def band(self, figures: Array) -> Band:
        """Between which values a figure lies in nine builds of ten, and its middle."""
        return band(figures)

    def beyond(self, figures: Array, most: float) -> float:
        """Share of the builds in which a figure is more than ``most``."""
        return float(np.mean(figures > most))

    def often(self, share: float) -> str:
        """A share of the builds in words: "in 12 % of builds"."""
        if share in (0.0, 1.0):
            return "in every build" if share else "in no build"
        return f"in {max(100.0 * share, 1.0):.0f} % of builds"


class Spread:
    """A thousand builds, solved when first asked for: the same builds at two mains."""

    def __init__(self, design: Design, warm: Warm) -> None:
        self._design = design
        self._warm = warm

    def matters(self, figure: float, most: float) -> bool:
        """Whether a figure as drawn is so near its limit, or past it, that builds are worth solving:
        nothing here is off by more than the strongest tube."""
        return figure * STRONGEST > most

    @functools.cached_property
    def nominal(self) -> Population:
        """The mains anywhere within its tolerance, every voltage of it alike (our choice)."""
        within = self._design.document.site.mains.tolerance
        mains = 1.0 + within * _even("mains")
        name = f"warm, mains within {100.0 * within:.3g} %"
        return Population(name, self._warm.nominal, self._design, mains)

    @functools.cached_property
    def high(self) -> Population:
        """The mains at its highest in every build."""
        return Population("warm, mains high", self._warm.high, self._design, np.ones(BUILDS))


class _Draws:
    """The factors of every build, and the tolerances behind them that nobody stated."""

    def __init__(self, design: Design, state: State) -> None:
        self._design = design
        self._elements = state.solved.network.circuit.elements
        self._assumed: dict[Datum, None] = {}

    @property
    def assumed(self) -> tuple[Datum, ...]:
        return tuple(self._assumed)

    def _assume(self, what: str, basis: Basis) -> None:
        self._assumed[Datum(what, basis)] = None

    def builds(self, mains: Array) -> Builds:
        ohms: dict[str, Array] = {}
        amperes: dict[str, Array] = {}
        volts: dict[str, Array] = {}
        for element in self._elements:
            name = element.name
            ref = name.partition(".")[0]
            part = self._design.parts.get(ref)
            if part is None:
                continue
            match element:
                case Resistor() if isinstance(part.spec, kinds.Resistor):
                    ohms[name] = 1.0 + self._resistor(part.spec) * _even(ref)
                case Resistor() if isinstance(part.spec, kinds.Potentiometer):
                    self._assume(
                        f"potentiometers within {100 * POTENTIOMETERS:.0f} % of their value",
                        Basis.PRACTICE,
                    )
                    ohms[name] = 1.0 + POTENTIOMETERS * _even(ref)
                case Triode() | Pentode():
                    amperes[name] = self._tube(ref, name)
                case ZenerDiode() | GlowTube():
                    self._assume(f"zeners and regulators within {100 * ZENERS:.0f} %", Basis.MEMORY)
                    volts[name] = 1.0 + ZENERS * _even(ref)
                case _:
                    pass
        return Builds(mains * self._transformers(), ohms, amperes, volts)

    def _resistor(self, spec: kinds.Resistor) -> float:
        if spec.tolerance is not None:
            return spec.tolerance
        usual = RESISTORS[spec.style]
        self._assume(
            f"{spec.style} resistors within {100 * usual:.0f} % of their value", Basis.PRACTICE
        )
        return usual

    def _tube(self, ref: str, section: str) -> Array:
        self._assume(
            f"tubes of a type within {STRONGEST:.2g} times the usual current, up or down",
            Basis.ASSUMED,
        )
        spec = self._design.parts[ref].spec
        matched = spec.matched if isinstance(spec, kinds.Tube) else None
        even = _even(ref if matched is None else f"matched set {matched}")
        bell = np.sign(even) * (1.0 - np.sqrt(1.0 - np.abs(even)))
        factor = STRONGEST**bell
        if matched is not None:
            within = f"matched tubes within {100 * MATCHED:.0f} % of their set"
            self._assume(within, Basis.PRACTICE)
            factor = factor * (1.0 + MATCHED * _even(ref))
        return np.asarray(factor if section == ref else factor * (1.0 + TWINS * _even(section)))

    def _transformers(self) -> Array:
        """All mains transformers of a build are off alike; as good as always there is one."""
        worked_out = any(
            winding.no_load is None
            for part in self._design.of(kinds.MainsTransformer)
            for winding in part.spec.windings.values()
        )
        if not worked_out:
            return np.ones(BUILDS)
        self._assume(f"no-load volts within {100 * NO_LOAD:.0f} % where not measured", Basis.MEMORY)
        return 1.0 + NO_LOAD * _even("mains transformers")


def _even(name: str) -> Array:
    """What a thousand builds draw for a name: -1 to 1, each thousandth of the way met once."""
    random = np.random.default_rng([SEED, zlib.crc32(name.encode())])
    layers = random.permutation(BUILDS) + random.random(BUILDS)
    return np.asarray(2.0 * layers / BUILDS - 1.0)


def make(design: Design, warm: Warm) -> Spread:
    """Lazy: nothing is drawn until a population is asked for."""
    return Spread(design, warm)
