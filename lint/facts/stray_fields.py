"""Stray fields: what mains transformers and chokes induce in windings and in loops of wire.

Each is a point dipole at the middle of its part, in free air.  That is true far off and rough
nearer than about the part's own size; what stands between bends the field, steel the most.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import Design, PartUse
from coldcheck.lint.facts.input_loops import InputLoop, input_loops
from coldcheck.lint.facts.magnets import (
    Seated,
    Strength,
    area_turns,
    of_choke,
    of_transformer,
    seated,
    stated,
)
from coldcheck.lint.facts.places import Point3, place_of
from coldcheck.lint.facts.signal_ground import GroundLoop, SignalGround
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Warm
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.graphs.wiring import Wiring
from coldcheck.lint.model import Basis, Datum, Missing, NothingToJudge, Subject
from coldcheck.lint.physics.magnetics import (
    Vector,
    coil_flux,
    dot,
    emf,
    field,
    loop_flux,
    minus,
    size,
)
from coldcheck.schemas.parts import Choke, MainsTransformer, OutputTransformer
from coldcheck.schemas.quantity import show

GAP = 3e-3
"""Metres between the middles of a signal wire and of its return where they are neither twisted nor
a screened lead: laid side by side; assumed."""


class Source(NamedTuple):
    """A wound part whose field is felt elsewhere."""

    seat: Seated
    moment: Strength
    hertz: float


class Pickup(NamedTuple):
    """What one source induces in one winding or loop."""

    source: str
    """The part that makes the field: "T1"."""
    victim: str
    """"T2", "the input loop of J2.tip to V1.1", "the ground loop of W27"."""
    about: Subject
    where: str
    """What the voltage is in series with: "T2.primary" (the whole of it), "L1", the name of a
    stage (its grid), or of a ring's link."""
    volts: float
    """rms."""
    hertz: float
    tesla: float
    """rms, at the middle of the victim."""
    metres: float
    """Between the two middles."""
    degrees: float | None
    """Between the field and the victim's axis, 0 to 90; None for a loop."""
    turned: float | None
    """Volts with the victim turned by a right angle on its face; None for a loop."""
    working: tuple[str, ...]
    rests_on: tuple[Datum, ...]


class StrayFields:
    """Every source with every victim; the ripple of chokes is asked for last."""

    def __init__(
        self,
        design: Design,
        loops: tuple[InputLoop, ...],
        rings: tuple[GroundLoop, ...],
        warm: Warm,
    ) -> None:
        self._design = design
        self._warm = warm
        self._hertz = design.document.site.mains.frequency
        self._loops, self._rings = loops, rings
        self._gaps: list[Missing] = []

    @functools.cached_property
    def of_mains(self) -> tuple[Pickup, ...]:
        """What mains transformers induce, at mains frequency; no state is solved for it."""
        parts = self._design.of(MainsTransformer)
        made = (self._known(self._transformer, part) for part in parts)
        return tuple(p for source in made if source is not None for p in self._from(source))

    @functools.cached_property
    def of_chokes(self) -> tuple[Pickup, ...]:
        """What the ripple in chokes induces; raises NotSolved where no warm state is found."""
        made = (self._known(self._choke, part) for part in self._design.of(Choke))
        return tuple(p for source in made if source is not None for p in self._from(source))

    @property
    def pickups(self) -> tuple[Pickup, ...]:
        return (*self.of_mains, *self.of_chokes)

    @property
    def lacks(self) -> tuple[Missing, ...]:
        """The data that something could not be judged for; of chokes, once they were asked for."""
        _ = self.of_mains
        return tuple(self._gaps)

    def _known(self, make: Callable[[PartUse], Source], part: PartUse) -> Source | None:
        try:
            return make(part)
        except Missing as gap:
            self._lack(gap)
            return None

    def _lack(self, gap: Missing) -> None:
        said = {(known.datum, known.about) for known in self._gaps}
        if (gap.datum, gap.about) not in said:
            self._gaps.append(gap)

    def _transformer(self, part: PartUse) -> Source:
        return Source(seated(self._design, part), of_transformer(self._design, part), self._hertz)

    def _choke(self, part: PartUse) -> Source:
        """Its ripple at its strongest harmonic: twice the mains where both half waves are used."""
        seat = seated(self._design, part)
        if (known := stated(part)) is not None:
            return Source(seat, known, 2.0 * self._hertz)
        state = self._warm.nominal
        if not state.knows(part.ref):
            raise Missing(f"the nets of {part.ref}", part.ends_path, part.subject)
        wave = state.solved.amperes(part.ref)
        harmonics = np.abs(np.fft.rfft(wave))[1:]
        strongest = int(np.argmax(harmonics)) + 1 if harmonics.size else 2
        moment = of_choke(part, float(np.std(wave)))
        weak = (*moment.rests_on, *state.rests_on)
        return Source(seat, moment._replace(rests_on=weak), strongest * self._hertz)

    def _from(self, source: Source) -> Iterator[Pickup]:
        """Raises nothing: what a victim lacks is noted."""
        parts = self._design.of(OutputTransformer, Choke)
        others = [part for part in parts if part.ref != source.seat.part.ref]
        asks: list[tuple[str, Callable[[], Pickup | None]]] = []
        asks += [(part.ref, functools.partial(self._coil, source, part)) for part in others]
        asks += [(k.contact, functools.partial(self._input, source, k)) for k in self._loops]
        asks += [(k.weakest.name, functools.partial(self._ground, source, k)) for k in self._rings]
        own = source.seat.part
        for name, ask in asks:
            try:
                pickup = ask()
            except Missing as gap:
                self._lack(gap)
            except ValueError:  # one on top of the other
                self._lack(Missing(f"places that differ for {own.ref} and {name}", ("layout",)))
            else:
                if pickup is not None:
                    yield pickup

    def _coil(self, source: Source, part: PartUse) -> Pickup:
        coil, gathers = seated(self._design, part), area_turns(part)
        own, ref = source.seat, coil.part.ref
        offset, moment = minus(coil.at, own.at), _scaled(own.axis, source.moment.value)
        seen = field(moment, offset)
        volts, turned = (
            emf(coil_flux(moment, offset, axis, gathers.value), source.hertz)
            for axis in (coil.axis, coil.turned)
        )
        # a choke without ripple has no field at all
        along = abs(dot(seen, coil.axis)) / size(seen) if any(seen) else 0.0
        share = min(round(along, 9), 1.0)
        degrees = math.degrees(math.acos(share))
        words = (
            *source.moment.working,
            *gathers.working,
            f"{show(size(seen), 'T')}, {size(offset) * 1e3:.0f} mm from {own.part.ref} and"
            f" {degrees:.0f} degrees off the axis of {ref}",
            f"2 pi {source.hertz:g} Hz x {show(size(seen), 'T')} x {gathers.value:.2g} m2 x"
            f" {share:.2g} = {_show(volts)}",
        )
        where = f"{ref}.primary" if isinstance(coil.part.spec, OutputTransformer) else ref
        about = coil.part.subject
        weak = (*self._weak(source), *gathers.rests_on, *coil.rests_on)
        return Pickup(
            source=own.part.ref,
            victim=ref,
            about=about,
            where=where,
            volts=volts,
            hertz=source.hertz,
            tesla=size(seen),
            metres=size(offset),
            degrees=degrees,
            turned=turned,
            working=words,
            rests_on=weak,
        )

    def _ground(self, source: Source, ring: GroundLoop) -> Pickup | None:
        cut = ring.weakest
        if ring.area is None:
            places = f"a place in [layout] for {', '.join(ring.unplaced)}"
            raise Missing(places, ("layout",), cut.subject)
        if len(ring.corners) < 3:
            return None
        name = f"the ground loop of {cut.subject.name}"
        return self._ring(source, name, cut.subject, cut.name, ring.corners)

    def _input(self, source: Source, loop: InputLoop) -> Pickup | None:
        """A ring of input wiring: its corners, and the gap of wires that lie side by side."""
        if loop.unplaced:
            places = f"a place in [layout] for {', '.join(loop.unplaced)}"
            raise Missing(places, ("layout",), loop.part.subject)
        if not loop.corners:
            return None
        own = source.seat
        moment = _scaled(own.axis, source.moment.value)
        area = 0.0
        linked = 0.0
        for wire in loop.there:
            if any(w.spec.shield or w.ref == wire.twist for w in loop.back):
                continue
            ends = [place_of(self._design, point) for point in wire.run]
            spots = [place for place in ends if place is not None]
            if not spots:
                continue
            length = wire.spec.length or sum(map(math.dist, spots, spots[1:]))
            gap = GAP * length
            area += gap
            linked += gap * size(field(moment, minus(_middle(spots), own.at)))
        name = f"the input loop of {loop.contact} to {loop.stage.name}"
        found = self._ring(source, name, loop.part.subject, loop.stage.name, loop.corners)
        if not area:
            return found
        added = emf(linked, source.hertz)
        words = (
            f"{area * 1e4:.2g} cm2 between signal wires and their returns {GAP * 1e3:g} mm beside,"
            f" across the field at the worst: {_show(added)}",
        )
        gap_assumed = Datum("the gap between signal wires and their returns", Basis.ASSUMED)
        return found._replace(
            volts=found.volts + added,
            working=(*found.working, *words),
            rests_on=(*found.rests_on, gap_assumed),
        )

    def _ring(
        self, source: Source, name: str, about: Subject, where: str, corners: tuple[Point3, ...]
    ) -> Pickup:
        own = source.seat
        moment, middle = _scaled(own.axis, source.moment.value), _middle(corners)
        offset = minus(middle, own.at)
        seen = size(field(moment, offset))
        volts = emf(loop_flux(moment, own.at, corners), source.hertz)
        words = (
            *source.moment.working,
            f"{show(seen, 'T')}, {size(offset) * 1e3:.0f} mm from {own.part.ref}, the middle of"
            f" {name}",
            f"its flux through the corners of the ring gives {_show(volts)} at {source.hertz:g} Hz",
        )
        return Pickup(
            source=own.part.ref,
            victim=name,
            about=about,
            where=where,
            volts=volts,
            hertz=source.hertz,
            tesla=seen,
            metres=size(offset),
            degrees=None,
            turned=None,
            working=words,
            rests_on=self._weak(source),
        )

    def _weak(self, source: Source) -> tuple[Datum, ...]:
        found = (*source.moment.rests_on, *source.seat.rests_on)
        box = self._design.chassis
        if box is not None and box.material == "steel":
            found += (Datum("the field as in free air, steel about it or not", Basis.ASSUMED),)
        return found


def _show(volts: float) -> str:
    """Volts for a reader; below a tenth of a nanovolt it is rounding."""
    return show(volts if volts >= 1e-10 else 0.0, "V")


def _scaled(axis: Vector, moment: float) -> Vector:
    return axis[0] * moment, axis[1] * moment, axis[2] * moment


def _middle(spots: tuple[Point3, ...] | list[Point3]) -> Point3:
    x, y, z = (sum(values) / len(spots) for values in zip(*spots, strict=True))
    return x, y, z


def make(
    design: Design,
    wiring: Wiring | None,
    schematic: Schematic,
    stages: Stages,
    ground: SignalGround | None,
    warm: Warm,
) -> StrayFields:
    """Raises NothingToJudge where nothing makes a field."""
    if not any(True for _ in design.of(MainsTransformer, Choke)):
        raise NothingToJudge("no mains transformer, no choke")
    nets = schematic.ground()
    loops = input_loops(design, wiring, nets, stages.amplifying) if wiring is not None else ()
    return StrayFields(design, loops, ground.loops if ground is not None else (), warm)
