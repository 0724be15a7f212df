"""Wound parts as magnets: where their middle is, where their axis points, how strong they are.

No maker states a stray field, and none was found published with the distance, the direction and
the transformer beside it.  What is assumed here is said beside each figure, and ``stray`` in the
document takes its place.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from coldcheck.lint.design import Design, PartUse
from coldcheck.lint.facts.places import on_face
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.netlist.cores import loaded_volts
from coldcheck.lint.physics.magnetics import Vector, moment_of
from coldcheck.schemas.build import Face
from coldcheck.schemas.parts import Choke, MainsTransformer, OutputTransformer, Wound

REFERENCE_VA = 100.0
STRAY = 50e-6, 0.1
"""Tesla on the axis of a stacked mains transformer of 100 VA, and the metres from its middle;
assumed.  A portable radio on the mains is listed with 16 to 56 uT at 3 cm of its case (Federal
Office for Radiation Safety, Germany 1999, by way of the WHO; from memory): some 10 VA 6 cm off,
by the two laws below 20 to 70 uT here."""
GROWTH = 0.75
"""The moment goes with the iron's volume where the flux in the iron is the same, and a transformer's
volt-amperes with the fourth power of its length."""
TOROID = 0.1
"""Of a toroid over a stacked core of its rating; assumed."""
GATHERED = 4.0
"""Flux an idle core gathers from the field about it, over what its coil would link without iron;
assumed.  By reciprocity it is also its moment over the ampere-turns of its idle current times the
area of its limb, and for the 100 VA above, 15 % idle current, 230 V and 1.2 T that is 4.4."""
IRON_TESLA = 1.2
"""Peak flux density of stacked iron at its rating: as in the habits of cores; from memory."""
LOWEST_HERTZ = 30.0
"""Where an output transformer reaches that at full power; assumed."""
GAPPED_TESLA = 1.0
"""The same in a choke at its rated dc; assumed."""
TALL = 0.08
"""Height of a 100 VA transformer, in metres, of others as the fourth root of their rating: the
limbs of an E-I 96 core stand 80 mm; from memory."""
OUTPUT_VA = 3.0
"""Rating of the mains transformer as large as an output transformer, per watt; assumed."""

# The ways of the first and the second number of a place on a face, and the way out of it.
_WAYS: dict[Face, tuple[Vector, Vector, Vector]] = {
    "top": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "bottom": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0)),
    "front": ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0)),
    "rear": ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0)),
    "left": ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (-1.0, 0.0, 0.0)),
    "right": ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
}


class Seated(NamedTuple):
    """A wound part where it stands."""

    part: PartUse
    at: Vector
    """Its middle, in metres from the left front corner of the underside."""
    axis: Vector
    """Of its coil, of length 1; as much one way as the other."""
    turned: Vector
    """The same with the part turned by a right angle on its face."""
    rests_on: tuple[Datum, ...]


class Strength(NamedTuple):
    """A moment in A m2 rms, or an area times turns in m2, and where it comes from."""

    value: float
    working: tuple[str, ...]
    rests_on: tuple[Datum, ...]


def seated(design: Design, part: PartUse) -> Seated:
    """Raises Missing where it has no place, or no chassis is described, or its size is not known."""
    assert isinstance(part.spec, Wound)
    seat, ref = part.seat, part.ref
    foot = None if seat is None else on_face(design, seat.on, *seat.at)
    if seat is None or foot is None:
        what = "[chassis]" if seat is not None else f"a place in [layout] for {ref}"
        raise Missing(what, ("chassis",) if seat is not None else ("layout",), part.subject)
    rests_on = []
    tall = part.spec.size[2] if part.spec.size is not None else None
    if tall is None:
        tall = TALL * (_volt_amperes(design, part) / REFERENCE_VA) ** 0.25
        rests_on.append(Datum(f"the height of {ref}", Basis.ASSUMED))
    ways = _WAYS[seat.on]
    named = part.spec.axis
    if named is None:
        named = "up" if getattr(part.spec, "core", "") == "toroid" else "along"
        rests_on.append(Datum(f'the axis of {ref}, "{named}" with turn 0', Basis.ASSUMED))
    lift = (-0.5 if seat.side == "inside" else 0.5) * tall
    at = _sum(1.0, foot, lift, ways[2])
    if named == "up":
        return Seated(part, at, ways[2], ways[2], tuple(rests_on))
    angle = math.radians(seat.turn + (90.0 if named == "across" else 0.0))
    axis = _sum(math.cos(angle), ways[0], math.sin(angle), ways[1])
    turned = _sum(-math.sin(angle), ways[0], math.cos(angle), ways[1])
    return Seated(part, at, axis, turned, tuple(rests_on))


def stated(part: PartUse) -> Strength | None:
    """The moment by the field that the document gives; None where it gives none."""
    spec = part.spec
    if not isinstance(spec, MainsTransformer | Choke) or spec.stray is None:
        return None
    tesla, metres = spec.stray
    said = spec.basis_of("stray")
    basis = {"measured": Basis.MEASURED, "assumed": Basis.ASSUMED}.get(said or "", Basis.DECLARED)
    words = f"{part.ref}: {tesla * 1e6:.3g} uT at {metres * 1e3:.0f} mm, {basis.value}"
    datum = Datum(f"the stray field of {part.ref}", basis)
    return Strength(moment_of(tesla, metres), (words,), (datum,))


def of_transformer(design: Design, part: PartUse) -> Strength:
    """The moment of a mains transformer, stated or by its rating.  Raises Missing for the rating."""
    if (known := stated(part)) is not None:
        return known
    rating = _volt_amperes(design, part)
    toroid = getattr(part.spec, "core", "") == "toroid"
    tesla = STRAY[0] * (rating / REFERENCE_VA) ** GROWTH * (TOROID if toroid else 1.0)
    words = (
        f"{part.ref}: {tesla * 1e6:.3g} uT at {STRAY[1] * 1e3:.0f} mm on its axis, assumed for"
        f" {'a toroid' if toroid else 'a stacked core'} of {rating:g} VA"
    )
    datum = Datum(f"the stray field of {part.ref}, by its rating", Basis.ASSUMED)
    return Strength(moment_of(tesla, STRAY[1]), (words,), (datum,))


def of_choke(part: PartUse, amperes: float) -> Strength:
    """The moment of a choke with that much ripple in it, rms.  Raises Missing for its current."""
    if (known := stated(part)) is not None:
        return known
    gathers = area_turns(part)
    words = f"{part.ref}: {amperes * 1e3:.3g} mA of ripple round {gathers.value:.2g} m2"
    return Strength(gathers.value * amperes, (*gathers.working, words), gathers.rests_on)


def area_turns(part: PartUse) -> Strength:
    """Turns times area of an output transformer's primary or of a choke, its iron counted in.

    The flux linked at the rating over the flux density there.  Raises Missing for the rating.
    """
    spec = part.spec
    datum = Datum(f"the flux that the iron of {part.ref} gathers", Basis.ASSUMED)
    if isinstance(spec, OutputTransformer):
        if spec.power is None:
            raise Missing(f"the power of {part.ref}", (*part.path, "power"), part.subject)
        volts = math.sqrt(spec.power * spec.primary.impedance)
        bare = math.sqrt(2.0) * volts / (2.0 * math.pi * LOWEST_HERTZ * IRON_TESLA)
        words = f"{volts:.0f} V at {LOWEST_HERTZ:g} Hz and {IRON_TESLA:g} T"
    else:
        assert isinstance(spec, Choke)
        amperes = _rated_amperes(part, spec)
        bare = spec.inductance * amperes / GAPPED_TESLA
        words = f"{spec.inductance:g} H, {amperes * 1e3:.0f} mA and {GAPPED_TESLA:g} T"
    said = (
        f"{part.ref}: {bare:.2g} m2 of turns by {words}, its iron gathers {GATHERED:g} times that"
    )
    return Strength(GATHERED * bare, (said,), (datum,))


def _volt_amperes(design: Design, part: PartUse) -> float:
    """Rating of the mains transformer that a wound part is as large as."""
    spec = part.spec
    if isinstance(spec, OutputTransformer):
        if spec.power is None:
            raise Missing(f"the power of {part.ref}", (*part.path, "power"), part.subject)
        return OUTPUT_VA * spec.power
    if isinstance(spec, Choke):
        hertz = design.document.site.mains.frequency
        return 2.0 * math.pi * hertz * spec.inductance * _rated_amperes(part, spec) ** 2
    assert isinstance(spec, MainsTransformer)
    if spec.rating is not None:
        return spec.rating
    known = [(w, w.current) for w in spec.windings.values() if w.current is not None]
    if len(known) < len(spec.windings) or not known:
        raise Missing(f"VA of {part.ref}", (*part.path, "rating"), part.subject)
    return sum(loaded_volts(winding) * amperes for winding, amperes in known)


def _rated_amperes(part: PartUse, spec: Choke) -> float:
    if spec.current is None:
        raise Missing(f"the rated current of {part.ref}", (*part.path, "current"), part.subject)
    return spec.current


def _sum(p: float, a: Vector, q: float, b: Vector) -> Vector:
    return p * a[0] + q * b[0], p * a[1] + q * b[1], p * a[2] + q * b[2]
