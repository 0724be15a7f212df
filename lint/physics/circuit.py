"""What a circuit is, for the solvers: named elements between named nodes, numbers in SI units.

Every element has a unique ``name``; a document's part may become several elements.  Nodes are
strings.  Nothing here is solved: see :mod:`coldcheck.lint.physics.dc` and its neighbours.
"""

from __future__ import annotations

from typing import NamedTuple


class NotSolved(Exception):
    """A solver gave up; the message is a sentence for the builder, and never a number.

    ``nodes`` and ``elements`` name what is to be looked at, so far as that is known.
    """

    def __init__(
        self, sentence: str, nodes: tuple[str, ...] = (), elements: tuple[str, ...] = ()
    ) -> None:
        super().__init__(sentence)
        self.nodes = nodes
        self.elements = elements


class Resistor(NamedTuple):
    """``ohms`` between ``a`` and ``b``; current is positive from ``a`` to ``b``."""

    name: str
    a: str
    b: str
    ohms: float


class Capacitor(NamedTuple):
    name: str
    a: str
    b: str
    farads: float


class Inductor(NamedTuple):
    """A coil of ``henries`` in series with its wire's ``ohms``."""

    name: str
    a: str
    b: str
    henries: float
    ohms: float


class Source(NamedTuple):
    """A voltage source, ``a`` positive: ``dc`` plus ``peak`` * sin(2 pi mains_hz t + phase)."""

    name: str
    a: str
    b: str
    dc: float = 0.0
    peak: float = 0.0
    phase: float = 0.0


class CurrentLoad(NamedTuple):
    """A constant current drawn from ``a`` to ``b`` (a declared black box); passes no ripple."""

    name: str
    a: str
    b: str
    amperes: float


class Coil(NamedTuple):
    """One winding on an ideal core: ``turns`` is its open-circuit voltage or any proportional."""

    name: str
    a: str
    b: str
    turns: float
    ohms: float


class Transformer(NamedTuple):
    """Windings on one core, ``a`` ends in phase.

    ``magnetising`` is the inductance seen at the first coil, in henries; None makes the core
    ideal (mains transformers), and then the first coil must be driven by a source at mains
    frequency.  With an inductance the coils are ideally coupled through it and carry dc
    (output transformers): at dc each coil is only its ``ohms``.
    """

    name: str
    coils: tuple[Coil, ...]
    magnetising: float | None = None


class SiliconDiode(NamedTuple):
    """i = saturation * (exp(v / slope) - 1), in series with ``ohms``; v in volts."""

    name: str
    anode: str
    cathode: str
    saturation: float
    slope: float
    ohms: float


class TubeDiode(NamedTuple):
    """Three-halves-power law: i = perveance * v ** 1.5 for v > 0; perveance in A / V ** 1.5."""

    name: str
    anode: str
    cathode: str
    perveance: float


class ZenerDiode(NamedTuple):
    """Conducts backward at ``volts`` through ``ohms``, forward like a silicon diode."""

    name: str
    anode: str
    cathode: str
    volts: float
    ohms: float


class TriodeLaw(NamedTuple):
    """Parameters of N. Koren, "Improved vacuum-tube models for SPICE simulations",
    Glass Audio 8(5), 1996; form Ia = 2 E1^ex / kg1 for E1 > 0.

    ``grid_ohms`` is the slope of grid current above 0 V grid-to-cathode.
    """

    mu: float
    ex: float
    kg1: float
    kp: float
    kvb: float
    grid_ohms: float = 2000.0


class PentodeLaw(NamedTuple):
    """A pentode or beam tetrode whose screen and plate share one space current.

    Form of D. Reefman, "Spice models for vacuum tubes using the uTracer", 2016, sections 4.3 and
    4.4, with his alpha = 0: what the plate does not take, the screen does, and at 0 V plate the
    screen takes all.  The space current is Koren's, 2 E1^ex / kg1.  (Of the paper the contents were
    read; the equations are from memory and agree with a published netlist in that form.)
    """

    mu: float
    ex: float
    kg1: float
    kg2: float
    """kg1 / kg2 is the screen's share at high plate voltage."""
    kp: float
    beta: float
    """How soon the plate takes its share, in 1 / V: half of it at 1 / beta volts."""
    plate_pull: float
    """How much the plate adds to the space current, in 1 / V; Reefman's A."""
    grid_ohms: float = 2000.0


class Triode(NamedTuple):
    name: str
    plate: str
    grid: str
    cathode: str
    law: TriodeLaw


class Pentode(NamedTuple):
    name: str
    plate: str
    screen: str
    grid: str
    cathode: str
    law: PentodeLaw


Element = (
    Resistor
    | Capacitor
    | Inductor
    | Source
    | CurrentLoad
    | Transformer
    | SiliconDiode
    | TubeDiode
    | ZenerDiode
    | Triode
    | Pentode
)


class Circuit(NamedTuple):
    """Elements, the node every voltage is measured from, and the mains frequency in hertz."""

    elements: tuple[Element, ...]
    ground: str
    mains_hz: float = 50.0
