"""Coupling capacitors shorted: what then stands at a contact of a connector, and what a hand gets.

Each capacitor that alone keeps a contact from what is behind it is shorted in turn, with the tubes
cold and warm, the contact left open and then held by a hand.  What only resistors join to the
contact counts as the contact; a second capacitor in series ends it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Datum
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.physics.circuit import NotSolved, Resistor
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.schemas.parts import Capacitor, Connector

# IEC 60990 figure 4: 500 ohm in series with 1500 ohm stand for a body when nothing alternates.
HAND_OHMS = 2000.0
HAND = "hand"


class Touched(NamedTuple):
    """A contact with one capacitor behind it shorted, in one state."""

    contact: str
    """Of the connector, as it is marked."""
    capacitor: Use[Capacitor]
    volts: float
    """Of the contact to the chassis, dc, nothing connected to it."""
    amperes: float
    """Through the hand that holds it, dc."""
    state: str
    rests_on: tuple[Datum, ...]


class CouplingShorts:
    """Every contact that hangs on a coupling capacitor."""

    def __init__(self, design: Design, schematic: Schematic, cold: ColdStart, warm: Warm) -> None:
        self.design = design
        self._schematic = schematic
        self._cold = cold
        self._warm = warm

    def capacitors(self, part: Use[Connector]) -> Iterator[tuple[str, Use[Capacitor], str]]:
        """Contacts, with each capacitor between one and a net beyond, and that net."""
        ends = self._schematic.ground() | {self._schematic.metal}
        for contact, net in part.ends.items():
            here = self._schematic.held(net)
            for capacitor in self.design.of(Capacitor) if here else ():
                near, far = here & set(capacitor.ends.values()), set(capacitor.ends.values()) - here
                if len(near) == 1 and len(far) == 1 and not far & ends:
                    yield contact, capacitor, far.pop()

    def beyond(self, net: str) -> tuple[float, str, tuple[Datum, ...]]:
        """Largest dc of a net as built, in volts, the state, and what it rests on.

        The contact comes to no more: with the capacitor shorted what drains it loads that net.
        """
        known = [state for state in (self._cold.steady, self._warm.high) if state.has(net)]
        settled = [state for state in known if not state.floats(net)]
        cases = [(abs(state.volts(net)), state.name, state.rests_on) for state in settled]
        return max(cases, key=lambda case: case[0], default=(0.0, self._warm.high.name, ()))

    def touched(
        self, part: Use[Connector], contact: str, capacitor: Use[Capacitor]
    ) -> Iterator[Touched]:
        """Cold and warm, mains high; raises NotSolved with the state's name in its sentence."""
        net, ends = part.ends[contact], tuple(capacitor.ends.values())
        for state, tubes in ((self._cold.steady, False), (self._warm.high, True)):
            short = Setting(self._warm.mains["high"], tubes=tubes, shorted=((ends[0], ends[1]),))
            name = f"{state.name}, {capacitor.ref} shorted"
            volts = self._solved(name, short, state).volts(net)
            amperes = self._solved(name, short, state, net).mean_amperes(HAND)
            yield Touched(contact, capacitor, abs(volts), abs(amperes), name, state.rests_on)

    def _solved(self, name: str, setting: Setting, near: State, held: str = "") -> State:
        written = netlist(self.design, setting)
        circuit = written.circuit
        if held:
            hand = Resistor(HAND, held, circuit.ground, HAND_OHMS)
            circuit = circuit._replace(elements=(*circuit.elements, hand))
        try:
            return State(name, written, periodic_state(circuit))
        except NotSolved as trouble:
            raise NotSolved(f"{name}: {trouble}", trouble.nodes, trouble.elements) from None


def make(design: Design, schematic: Schematic, cold: ColdStart, warm: Warm) -> CouplingShorts:
    """Lazy: nothing is solved until a contact is asked for."""
    return CouplingShorts(design, schematic, cold, warm)
