"""Tubes as they are used: each section with the nets its electrodes are on, and each heater."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.graphs.schematic import HEATED, electrode_net
from coldcheck.lint.netlist.tubes import cathode_net, section_name
from coldcheck.schemas.parts import Tube
from coldcheck.schemas.reference import HeaterOption, TubeType


class Stage(NamedTuple):
    """One tube section; ``name`` is the element it is in a solved state."""

    name: str
    part: Use[Tube]
    section: int
    kind: str
    """triode, pentode or diode."""
    plate: str
    cathode: str
    grid: str | None
    screen: str | None
    """None for a triode; the plate's net for a pentode that is wired as one."""
    outputs: frozenset[str]
    """Nets its cathode is soldered to: two where the filament is the cathode."""

    def rated_state(self, warm: Warm) -> State:
        """The state its ratings hold for.

        Design-center ratings allow for the usual swing of the mains and are met at its nominal
        voltage; design-maximum and absolute ones are met at its highest (rating systems as
        defined in tube handbooks, from memory).
        """
        return warm.nominal if self.design_center else warm.high

    @property
    def design_center(self) -> bool:
        """Whether its ratings are design-center ones."""
        return self.part.tube is not None and self.part.tube.rating_system == "design-center"


class Heater(NamedTuple):
    """A heater or filament with the nets of its two sides; ``option`` is how it is connected."""

    part: Use[Tube]
    option: HeaterOption
    a: str
    b: str


class Stages(NamedTuple):
    """Every tube section and heater of a design, in order of reference.

    A heater whose pins are joined in none of the ways its data sheet gives is not among them.
    """

    amplifying: tuple[Stage, ...]
    rectifiers: tuple[Stage, ...]
    heaters: tuple[Heater, ...]


def make(design: Design) -> Stages:
    """Needs the schematic and the library; a tube type that is unknown is left out."""
    every = [stage for part in design.of(Tube) for stage in _sections(part)]
    heaters = (_heater(part) for part in design.of(Tube))
    return Stages(
        tuple(stage for stage in every if stage.kind != "diode"),
        tuple(stage for stage in every if stage.kind == "diode"),
        tuple(heater for heater in heaters if heater is not None),
    )


def _sections(part: Use[Tube]) -> Iterator[Stage]:
    if part.tube is None:
        return
    for section in part.tube.sections:
        number = section.number
        plate, cathode = electrode_net(part, "plate", number), cathode_net(part, number)
        if plate is None or cathode is None or plate == cathode or section.kind == "regulator":
            continue
        grid = electrode_net(part, "grid", number)
        screen = (
            (electrode_net(part, "screen", number) or plate) if section.kind == "pentode" else None
        )
        name = section_name(part, number)
        outputs = {cathode} if cathode in part.ends.values() else _heated(part, part.tube)
        yield Stage(
            name, part, number, section.kind, plate, cathode, grid, screen, frozenset(outputs)
        )


def _heater(part: Use[Tube]) -> Heater | None:
    """The way of feeding the heater that the wiring has: each side's pins on one net."""
    for option in part.tube.heater if part.tube is not None else ():
        if option.between is None:
            continue
        one, other = ({part.net(str(pin)) for pin in side} for side in option.between)
        if len(one) == len(other) == 1 and None not in one | other and one != other:
            return Heater(part, option, one.pop() or "", other.pop() or "")
    return None


def _heated(part: Use[Tube], kind: TubeType) -> set[str]:
    """Nets of the pins that heater current flows through."""
    pins = (str(pin) for pin, electrode in kind.pins.items() if electrode in HEATED)
    return {part.ends[pin] for pin in pins if pin in part.ends}
