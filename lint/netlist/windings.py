"""Transformers as circuit elements: what their nameplates and measured values make of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from coldcheck.lint.design import PartUse
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.physics.circuit import Coil, Element, Resistor, Transformer
from coldcheck.schemas import parts as kinds

if TYPE_CHECKING:
    from coldcheck.lint.netlist.elements import Writer

# Primary inductance of an output transformer where none is given: only ripple depends on it.
MAGNETISING_HENRIES = 10.0


def mains_transformer(
    writer: Writer, part: PartUse, spec: kinds.MainsTransformer
) -> Iterator[Element]:
    if writer.setting.mains_volts is None:
        yield from _windings_at_rest(writer, part, spec)
        return
    lacking = list(_lacking(spec))
    if lacking:  # all of it at once: each takes a trip to the bench
        words = ", ".join(what for _key, what in lacking)
        raise Missing(f"{words} of {part.ref}", (*part.path, *lacking[0][0]), part.subject)
    primary = spec.primary
    ohms = writer.needs(part, primary.resistance, "primary.resistance", "primary resistance")
    a, b = part.net("primary.1"), part.net("primary.2")
    if a is None or b is None:
        raise Missing(
            f"the nets of the primary of {part.ref}",
            ("schematic", part.ref),
            part.subject,
        )
    coils = [Coil(f"{part.ref}.primary", a, b, primary.voltage, ohms)]
    for name, winding in spec.windings.items():
        where = f"windings.{name}"
        resistance = writer.needs(
            part, winding.resistance, f"{where}.resistance", f"resistance of the {name} winding"
        )
        turns = winding.no_load or _open_circuit(writer, part, spec, name, resistance)
        coils += _sections(part, name, turns, resistance)
    yield Transformer(part.ref, tuple(coils))


def _lacking(spec: kinds.MainsTransformer) -> Iterator[tuple[tuple[str, ...], str]]:
    """What has to be known of a transformer and is not: where it is written, and its name."""
    if spec.primary.resistance is None:
        yield ("primary", "resistance"), "primary resistance"
    worked_out = any(winding.no_load is None for winding in spec.windings.values())
    for name, winding in spec.windings.items():
        if winding.resistance is None:
            yield ("windings", name, "resistance"), f"resistance of the {name} winding"
        if winding.current is None and (
            winding.no_load is None or (worked_out and not spec.rating)
        ):
            yield ("windings", name, "current"), f"rated current of the {name} winding"


def _windings_at_rest(
    writer: Writer, part: PartUse, spec: kinds.MainsTransformer
) -> Iterator[Element]:
    """With the mains off a winding is only its resistance (1 ohm where none is given)."""
    for name, winding in spec.windings.items():
        ohms = winding.resistance or tuple(1.0 for _ in winding.voltage)
        for coil in _sections(part, name, winding.voltage, ohms):
            yield Resistor(coil.name, coil.a, coil.b, coil.ohms)


def _open_circuit(
    writer: Writer, part: PartUse, spec: kinds.MainsTransformer, name: str, ohms: tuple[float, ...]
) -> tuple[float, ...]:
    """No-load volts of a winding from its nameplate and the resistances.

    With every winding at its rated current the primary loses a part of its voltage, and the
    winding its own drop: E = (V + I R) / (1 - S Rp / Vp^2), S the volt-amperes of all of them.
    """
    winding = spec.windings[name]
    total = spec.rating or 0.0
    if not total:
        for other, each in spec.windings.items():
            amperes = writer.needs(
                part,
                each.current,
                f"windings.{other}.current",
                f"rated current of the {other} winding",
            )
            # a centre-tapped winding feeds one half at a time
            total += each.voltage[0] * amperes * (math.sqrt(2.0) if len(each.voltage) == 2 else 1)
    amperes = writer.needs(
        part,
        winding.current,
        f"windings.{name}.current",
        f"rated current of the {name} winding",
    )
    share = 1.0 - total * (spec.primary.resistance or 0.0) / spec.primary.voltage**2
    if share < 0.5:
        raise Missing(
            f"no-load volts of {part.ref} {name}: its primary resistance and rating contradict"
            " each other, so they cannot be worked out",
            (*part.path, "windings", name, "no_load"),
            part.subject,
        )
    writer.data.append(
        Datum(f"no-load volts of {part.ref} {name}, worked out from its nameplate", Basis.DERIVED)
    )
    return tuple((v + amperes * r) / share for v, r in zip(winding.voltage, ohms, strict=True))


def _sections(
    part: PartUse, name: str, turns: tuple[float, ...], ohms: tuple[float, ...]
) -> Iterator[Coil]:
    """The coils of a winding: its halves where it is tapped, joined inside when the tap is idle."""
    terminals = ["1", "ct", "2"] if len(turns) == 2 else ["1", "2"]
    nets = [part.net(f"{name}.{terminal}") for terminal in terminals]
    if len(nets) == 3 and nets[1] is None and nets[0] is not None and nets[2] is not None:
        nets[1] = f"{part.ref}:{name} tap"
    for at, (one, other) in enumerate(itertools.pairwise(nets)):
        label = f"{part.ref}.{name}.{at + 1}" if len(turns) == 2 else f"{part.ref}.{name}"
        if one is not None and other is not None and one != other:
            yield Coil(label, one, other, turns[at], ohms[at])


def output_transformer(
    writer: Writer, part: PartUse, spec: kinds.OutputTransformer
) -> Iterator[Element]:
    primary, secondary = spec.primary, spec.secondary
    resistance = writer.needs(part, primary.resistance, "primary.resistance", "primary resistance")
    turns = math.sqrt(primary.impedance)
    halves = 2 if spec.centre_tap else 1
    ohms = resistance if len(resistance) == halves else (sum(resistance) / halves,) * halves
    coils = list(_sections(part, "primary", (turns / halves,) * halves, ohms))
    if not coils:
        return
    top = math.sqrt(float(secondary.taps[-1]))
    total = secondary.resistance
    if total is None:
        # 5 % of the load is usual copper loss in a secondary (common practice, no source)
        total = 0.05 * float(secondary.taps[-1])
        _assumed(writer, f"secondary resistance of {part.ref}")
    for low, high in itertools.pairwise(secondary.taps):
        a, b = part.net(f"secondary.{high}"), part.net(f"secondary.{low}")
        share = math.sqrt(float(high)) - math.sqrt(float(low))
        here = f"{part.ref}.secondary.{high}"
        coils.append(
            Coil(
                here,
                a if a is not None else f"{part.ref}:tap {high}",
                b if b is not None else f"{part.ref}:tap {low}",
                share,
                total * share / top,
            )
        )
    if primary.inductance is None:
        _assumed(writer, f"primary inductance of {part.ref}")
    henries = (primary.inductance or MAGNETISING_HENRIES) / halves**2
    yield Transformer(part.ref, tuple(coils), henries)


def _assumed(writer: Writer, what: str) -> None:
    """Note a figure of an output transformer; without tubes nothing depends on it."""
    if writer.setting.tubes:
        writer.data.append(Datum(what, Basis.ASSUMED))
