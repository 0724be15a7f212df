"""The warm state: tubes hot and conducting, supply in its steady state, at three mains levels."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.design import Design
from coldcheck.lint.model import Basis, Datum
from coldcheck.lint.netlist import Netlist, Setting, netlist
from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.supply import FINEST, periodic_state

Array = NDArray[np.float64]

# Samples of a cycle where only voltages and mean currents are asked for: finer samples of narrow
# pulses change nothing in their fourth digit.
ENOUGH = 128


class State:
    """One solved state of the circuit, by net and part; SI units."""

    def __init__(self, name: str, written: Netlist, solved: PeriodicState) -> None:
        self.name = name
        self.netlist = written
        self.solved = solved

    @functools.cached_property
    def rests_on(self) -> tuple[Datum, ...]:
        """Weak figures it was solved from, and devices taken as linear that swing too far for it."""
        bent = (
            Datum(f"{name} as linear, which it is not over its swing", Basis.ASSUMED)
            for name in self.solved.bent()
        )
        return (*self.netlist.data, *bent)

    def volts(self, net: str) -> float:
        """Mean voltage of a net to the chassis, in volts."""
        return self.solved.mean(net)

    def ripple(self, net: str) -> float:
        """Peak-to-peak ripple of a net, in volts."""
        return self.solved.ripple(net)

    def between(self, a: str, b: str) -> Array:
        """Voltage of net a over net b through one mains cycle, in volts (samples,)."""
        return self.solved.volts(a) - self.solved.volts(b)

    def over(self, a: str, b: str) -> float:
        """Mean voltage of net a over net b, in volts; below a microvolt the solver is heard."""
        return round(self.volts(a) - self.volts(b), 6) + 0.0

    def peak(self, a: str, b: str) -> float:
        """The value of largest magnitude between two nets in a cycle, with its sign, in volts."""
        wave = self.between(a, b)
        return float(wave[np.argmax(np.abs(wave))])

    def least(self, a: str, b: str) -> float:
        """Lowest voltage of net a over net b in a cycle, below zero when reversed, in volts."""
        return float(np.min(self.between(a, b)))

    def rms(self, a: str, b: str) -> float:
        """rms voltage between two nets, in volts."""
        return _rms(self.between(a, b))

    def has(self, net: str) -> bool:
        """Whether anything that conducts is on a net, so that it has a voltage."""
        return net in self.solved.network.index

    def floats(self, net: str) -> bool:
        """Whether a net has no dc path to ground, so that its voltage to it is anyone's guess."""
        return any(net in group for group in self.netlist.floating)

    @property
    def rectifiers(self) -> frozenset[str]:
        """Names of the diodes, legs and plates that see the mains swing."""
        network = self.solved.network
        swinging = self.solved.swinging & network.diodes.one_way
        names = (*network.diodes.names, *network.shared)
        return frozenset(name for name in names if swinging[network.port(name)])

    def knows(self, element: str) -> bool:
        """Whether an element or coil of that name is in the circuit as it stands."""
        return element in self.solved.network.elements

    def watts(self, element: str) -> float:
        """Mean dissipation of a resistor, diode, coil, or of a tube's plate, in watts."""
        return self.solved.watts(element)

    def screen_watts(self, tube: str) -> float:
        return self.solved.screen_watts(tube)

    def cathode_amperes(self, tube: str) -> float:
        """Mean current of a tube's cathode: plate and screen together, in amperes."""
        screen = self.solved.network.tubes.screen_port
        drawn = self.solved.amperes(tube)
        return float(np.mean(drawn + self.solved.screen_amperes(tube) if tube in screen else drawn))

    def grid_amperes(self, tube: str) -> float:
        """Mean current into a tube's grid, in amperes."""
        return float(np.mean(self.solved.grid_amperes(tube)))

    def mean_amperes(self, element: str) -> float:
        return float(np.mean(self.solved.amperes(element)))

    def least_amperes(self, element: str) -> float:
        """The lowest magnitude of an element's current in a cycle: 0 where it stops or reverses."""
        wave = self.solved.amperes(element)
        crosses = float(np.min(wave)) * float(np.max(wave)) <= 0.0
        return 0.0 if crosses else float(np.min(np.abs(wave)))

    def rms_amperes(self, element: str) -> float:
        return _rms(self.solved.amperes(element))

    def peak_amperes(self, element: str) -> float:
        return abs(self.solved.peak_amperes(element))


def _rms(wave: Array) -> float:
    return math.sqrt(float(wave @ wave) / wave.size)


def solve(
    design: Design,
    name: str,
    setting: Setting,
    near: State | None = None,
    finest: int = FINEST,
) -> State:
    """The steady state of a design in a setting, begun from a state ``near`` it where one is known.

    ``finest``: most samples of a cycle, :data:`ENOUGH` where no rms current is asked for.  Raises
    Missing, and NotSolved with the state's name in its sentence.
    """
    written = netlist(design, setting)
    start = None if near is None else near.solved
    try:
        try:
            solved = periodic_state(written.circuit, start=start, finest=finest)
        except NotSolved:
            if start is None:
                raise
            # the state near by led astray
            solved = periodic_state(written.circuit, finest=finest)
    except NotSolved as trouble:
        raise NotSolved(f"{name}: {trouble}", trouble.nodes, trouble.elements) from None
    return State(name, written, solved)


class Warm:
    """The warm state at mains low, nominal and high; each solved when first asked for.

    Low and high start from nominal, always, so that no digit depends on which rules were run.
    """

    def __init__(self, design: Design) -> None:
        self._design = design
        mains = design.document.site.mains
        self.mains: Mapping[str, float] = {
            "low": mains.low,
            "nominal": mains.voltage,
            "high": mains.high,
        }

    @functools.cached_property
    def nominal(self) -> State:
        return self._solve("nominal")

    @functools.cached_property
    def high(self) -> State:
        return self._solve("high", self.nominal)

    @functools.cached_property
    def low(self) -> State:
        return self._solve("low", self.nominal)

    def _solve(self, level: str, near: State | None = None) -> State:
        name = f"warm, mains {level}"
        return solve(self._design, name, Setting(self.mains[level]), near)


def make(design: Design) -> Warm:
    """Lazy: nothing is solved until a level is asked for."""
    return Warm(design)
