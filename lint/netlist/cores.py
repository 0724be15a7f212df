"""The iron of mains transformers: what it draws with nothing connected, and when it gives up."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from coldcheck.lint.design import PartUse
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.physics.circuit import Saturation
from coldcheck.schemas import parts as kinds
from coldcheck.schemas.windings import Winding

if TYPE_CHECKING:
    from coldcheck.lint.netlist.elements import Writer


class Habit(NamedTuple):
    """How a kind of core is usually made."""

    idle: float
    """No-load current over rated primary current."""
    knee: float
    """Flux at which it saturates, over the peak flux at rated voltage."""
    left: float
    """Reactance once saturated, over rated voltage / rated current."""


# All from memory.  No load: stacked cores of 20 to 200 VA draw some 10 to 30 % of their rated
# current, toroids 1 to 5 %.  Flux: stacked iron is worked at 1.2 to 1.4 T and bends at 1.6 to 1.7 T;
# a toroid of grain-oriented strip is worked at 1.5 to 1.6 T and bends at 1.8 to 1.9 T.  Reactance
# left: such that the first half cycle from a core left at 0.5 (toroid 0.7) of its peak flux draws
# what makers tell of the first cycle, 10 to 15 times the rated current (toroid 30 to 90 times).
HABITS = {"E-I": Habit(0.15, 1.25, 0.12), "toroid": Habit(0.03, 1.15, 0.04)}


class Iron(NamedTuple):
    """A core as its first coil sees it."""

    henries: float
    saturation: Saturation


def iron(writer: Writer, part: PartUse, spec: kinds.MainsTransformer, turns: float) -> Iron:
    """Magnetising inductance and saturation seen at a primary coil of that many volts.

    A whole piece of the primary, of V volts, draws I rms when idle, so L = V / (2 pi f I); the
    copper's and the iron's loss, both small in it, are left in.  The knee is its peak current times
    the margin in flux.  Seen at another number of turns, L goes with their square and the current
    with their inverse.  Raises Missing where the rating cannot be told.
    """
    habit = HABITS[spec.core]
    whole = spec.primary.voltage.taps[0][-1] - spec.primary.voltage.taps[0][0]
    rated = _volt_amperes(part, spec) / whole
    idle = spec.primary.idle_current
    if idle is None or spec.basis_of("idle_current") == "assumed":
        writer.core_data.append(Datum(f"no-load current of {part.ref}", Basis.ASSUMED))
    idle = habit.idle * rated if idle is None else idle
    writer.core_data.append(Datum(f"flux at which {part.ref} saturates", Basis.MEMORY))
    writer.core_data.append(Datum(f"inductance of {part.ref} once saturated", Basis.MEMORY))
    omega = 2.0 * math.pi * writer.design.document.site.mains.frequency
    ratio = turns / whole
    henries = whole / (omega * idle) * ratio**2
    left = min(habit.left * whole / rated / omega * ratio**2, henries)
    return Iron(henries, Saturation(habit.knee * math.sqrt(2.0) * idle / ratio, left))


def loaded_volts(winding: Winding) -> float:
    """Volts that a winding's rated current counts for: one half of a centre-tapped one, which
    works at a time, by the square root of 2."""
    taps = winding.voltage.taps
    if len(taps) == 1 and taps[0][0] < 0.0:
        return -taps[0][0] * math.sqrt(2.0)
    return sum(winding.voltage)


def _volt_amperes(part: PartUse, spec: kinds.MainsTransformer) -> float:
    if spec.rating is not None:
        return spec.rating
    total = 0.0
    for winding in spec.windings.values():
        if winding.current is None:
            raise Missing(f"VA of {part.ref}", (*part.path, "rating"), part.subject)
        total += loaded_volts(winding) * winding.current
    if not total:
        raise Missing(f"VA of {part.ref}", (*part.path, "rating"), part.subject)
    return total
