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


class Saturation(NamedTuple):
    """How iron gives up: past a magnetising current of ``amperes`` only ``henries`` are left.

    The current j that the unsaturated inductance L would draw stands for the flux, L j.  What is
    drawn is j + (L / henries - 1) times what j exceeds ``amperes`` by, with a rounded bend.
    """

    amperes: float
    henries: float


class Inductor(NamedTuple):
    """A coil of ``henries`` in series with its wire's ``ohms``."""

    name: str
    a: str
    b: str
    henries: float
    ohms: float
    saturation: Saturation | None = None


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
    (output transformers): at dc each coil is only its ``ohms``.  ``saturation``, in terms of the
    first coil, needs an inductance.
    """

    name: str
    coils: tuple[Coil, ...]
    magnetising: float | None = None
    saturation: Saturation | None = None


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


class GlowTube(NamedTuple):
    """A gas-filled regulator: dark until ``strikes`` volts stand across it, then as a zener of
    ``volts`` and ``ohms``; conducts from anode to cathode only."""

    name: str
    anode: str
    cathode: str
    volts: float
    ohms: float
    strikes: float


class Bipolar(NamedTuple):
    """A junction transistor by the transport form of J. J. Ebers and J. L. Moll, Proc. IRE 42,
    1761, 1954.

    ``saturation`` in amperes and ``slope`` in volts are those of its base-emitter exponential,
    ``gain`` its dc current gain; ``polarity`` is 1 for npn, -1 for pnp.
    """

    name: str
    collector: str
    base: str
    emitter: str
    saturation: float
    slope: float
    gain: float
    polarity: int = 1


class Mosfet(NamedTuple):
    """An insulated-gate transistor by the square law of H. Shichman and D. A. Hodges, IEEE J.
    Solid-State Circuits 3, 285, 1968: drain current steepness / 2 * (vgs - threshold)^2, in
    A / V^2 and volts, with the diode of its body from source to drain.

    ``polarity`` is 1 for an n channel, -1 for a p channel.
    """

    name: str
    drain: str
    gate: str
    source: str
    threshold: float
    steepness: float
    polarity: int = 1


class Regulator(NamedTuple):
    """A three-terminal regulator by its data-sheet figures.

    Holds ``volts`` from output to common through ``ohms`` while the input is ``dropout`` volts
    above the output; gives at most ``most`` amperes; draws ``quiescent`` amperes through common.
    ``polarity`` is 1, or -1 for one that regulates a negative voltage.
    """

    name: str
    input: str
    output: str
    common: str
    volts: float
    ohms: float
    dropout: float
    most: float
    quiescent: float
    polarity: int = 1


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
    | GlowTube
    | Bipolar
    | Mosfet
    | Regulator
    | Triode
    | Pentode
)


class Circuit(NamedTuple):
    """Elements, the node every voltage is measured from, and the mains frequency in hertz."""

    elements: tuple[Element, ...]
    ground: str
    mains_hz: float = 50.0
