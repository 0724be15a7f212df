"""Transformers as circuit elements: what their nameplates and measured values make of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from coldcheck.lint.design import PartUse, Use
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.netlist import cores
from coldcheck.lint.physics.circuit import Coil, Element, Inductor, Resistor, Transformer
from coldcheck.schemas import parts as kinds

if TYPE_CHECKING:
    from coldcheck.lint.netlist.elements import Writer

# Primary inductance of an output transformer where none is given: only ripple depends on it.
MAGNETISING_HENRIES = 10.0


def coil_names(part: Use[kinds.MainsTransformer], winding: str) -> tuple[str, ...]:
    """The coils a winding may be in the circuit: "T1.ht", or "T1.ht.1" on, one per section."""
    spec = part.spec
    plate = (spec.primary if winding == "primary" else spec.windings[winding]).voltage
    return _labels(part.ref, winding, len(plate))


def primaries(element: Transformer) -> tuple[Coil, ...]:
    """Of a transformer in a circuit, the sections of its primary that are in use."""
    own = f"{element.name}.primary"
    return tuple(c for c in element.coils if c.name == own or c.name.startswith(f"{own}."))


def _labels(ref: str, winding: str, sections: int) -> tuple[str, ...]:
    if sections == 1:
        return (f"{ref}.{winding}",)
    return tuple(f"{ref}.{winding}.{at}" for at in range(1, sections + 1))


def mains_transformer(
    writer: Writer, part: PartUse, spec: kinds.MainsTransformer
) -> Iterator[Element]:
    if writer.setting.mains_volts is None:
        for name, winding in spec.windings.items():
            yield from at_rest(part, spec, name, winding.resistance)
        return
    lacking = list(_lacking(spec))
    if lacking:  # all of it at once: each takes a trip to the bench
        words = ", ".join(what for _key, what in lacking)
        raise Missing(f"{words} of {part.ref}", (*part.path, *lacking[0][0]), part.subject)
    primary = spec.primary
    ohms = writer.needs(part, primary.resistance, "primary.resistance", "primary resistance")
    coils = list(_coils(part, spec, "primary", primary.voltage, ohms))
    if not coils:
        raise Missing(
            f"the nets of the primary of {part.ref}",
            ("schematic", part.ref),
            part.subject,
        )
    first = coils[0]
    for name, winding in spec.windings.items():
        where = f"windings.{name}"
        resistance = writer.needs(
            part, winding.resistance, f"{where}.resistance", f"resistance of the {name} winding"
        )
        turns = winding.no_load or _open_circuit(writer, part, spec, name, resistance)
        coils += _coils(part, spec, name, turns, resistance)
    if writer.setting.core:
        iron = cores.iron(writer, part, spec, first.turns)
        yield Transformer(part.ref, tuple(coils), iron.henries, iron.saturation)
    else:
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


def at_rest(
    part: PartUse,
    spec: kinds.MainsTransformer,
    name: str,
    ohms: tuple[float, ...] | None,
    otherwise: float = 1.0,
) -> Iterator[Resistor]:
    """With the mains off a winding is only its resistance, or ``otherwise`` ohms a section."""
    plate = (spec.primary if name == "primary" else spec.windings[name]).voltage
    for coil in _coils(part, spec, name, plate, ohms or (otherwise,) * len(plate)):
        if coil.a != coil.b:
            yield Resistor(coil.name, coil.a, coil.b, coil.ohms)


def _open_circuit(
    writer: Writer, part: PartUse, spec: kinds.MainsTransformer, name: str, ohms: tuple[float, ...]
) -> tuple[float, ...]:
    """No-load volts of a winding from its nameplate and the resistances.

    With every winding at its rated current the primary loses a part of its voltage, and the
    winding its own drop: E = (V + I R) / (1 - S Rp / Vp^2), S the volt-amperes of all of them,
    Rp and Vp those of all sections of the primary in series.
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
            total += cores.loaded_volts(each) * amperes
    amperes = writer.needs(
        part,
        winding.current,
        f"windings.{name}.current",
        f"rated current of the {name} winding",
    )
    share = 1.0 - total * sum(spec.primary.resistance or ()) / spec.primary.whole**2
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


def _coils(
    part: PartUse,
    spec: kinds.MainsTransformer,
    name: str,
    turns: Sequence[float],
    ohms: Sequence[float],
) -> Iterator[Coil]:
    """The coils of a winding, one per section between the outermost terminals in use.

    A secondary with both ends on one net is left out; a primary that is shorted is not.
    """
    pieces = [terminals for winding, terminals in spec.coils() if winding == name]
    labels, at = _labels(part.ref, name, len(turns)), 0
    for terminals in pieces:
        for one, other in itertools.pairwise(_joined_inside(part, name, terminals)):
            if one is not None and other is not None and (one != other or name == "primary"):
                yield Coil(labels[at], one, other, turns[at], ohms[at])
            at += 1


def _joined_inside(part: PartUse, name: str, terminals: tuple[str, ...]) -> list[str | None]:
    """Nets of terminals in order; idle taps between two that are in use have a node of their own."""
    nets = [part.net(terminal) for terminal in terminals]
    used = [at for at, net in enumerate(nets) if net is not None]
    for at in range(used[0], used[-1]) if used else ():
        if nets[at] is None:
            tap = terminals[at].removeprefix(f"{name}.")
            nets[at] = f"{part.ref}:{name} tap" + ("" if tap == "ct" else f" {tap}")
    return nets


def output_transformer(
    writer: Writer, part: PartUse, spec: kinds.OutputTransformer
) -> Iterator[Element]:
    primary, secondary = spec.primary, spec.secondary
    resistance = writer.needs(part, primary.resistance, "primary.resistance", "primary resistance")
    halves = 2 if spec.centre_tap else 1
    ohms = resistance if len(resistance) == halves else (sum(resistance) / halves,) * halves
    coils: list[Coil] = []
    for coil, leakage in _output_primary(part, spec, ohms):
        coils.append(coil)
        yield from leakage
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
    henries = primary.inductance or MAGNETISING_HENRIES
    seen = (coils[0].turns / math.sqrt(primary.impedance)) ** 2
    yield Transformer(part.ref, tuple(coils), henries * seen)


def _output_primary(
    part: PartUse, spec: kinds.OutputTransformer, ohms: Sequence[float]
) -> Iterator[tuple[Coil, tuple[Inductor, ...]]]:
    """The coils of the primary, each with the leakage inductance before its plate end.

    "T2.primary", or "T2.primary.1" and "T2.primary.2".  With an ultralinear tap in use that is the
    part between plate and tap, and "T2.primary.1.ul" the part from there on.
    """
    primary, halves = spec.primary, len(ohms)
    turns = math.sqrt(primary.impedance) / halves
    middle = f"{part.ref}:primary tap"
    ends = [part.net(f"primary.{terminal}") for terminal in ("1", "2")]
    if spec.centre_tap:
        centre = part.net("primary.ct") or (middle if None not in ends else None)
        ways = [("1", ends[0], centre), ("2", ends[1], centre)]
    else:
        ways = [("", ends[0], ends[1])]
    for (half, plate, supply), resistance in zip(ways, ohms, strict=True):
        if plate is None or supply is None or plate == supply:
            continue
        label = f"{part.ref}.primary.{half}" if half else f"{part.ref}.primary"
        # both halves run the same way round the core
        forward = half != "2"
        leakage: tuple[Inductor, ...] = ()
        if primary.leakage is not None:
            inner = f"{part.ref}:primary {half or '1'}"
            leakage = (Inductor(f"{label}.leakage", plate, inner, primary.leakage / halves, 0.0),)
            plate = inner
        tap = part.net(f"primary.ul{half}")
        share = (primary.screen_taps or 0.0) if tap is not None else 0.0
        for name, a, b, part_of_it in (
            (label, plate, tap or supply, 1.0 - share),
            (f"{label}.ul", tap or "", supply, share),
        ):
            if part_of_it > 0.0 and a != b:
                one, other = (a, b) if forward else (b, a)
                coil = Coil(name, one, other, turns * part_of_it, resistance * part_of_it)
                yield coil, leakage
                leakage = ()


def _assumed(writer: Writer, what: str) -> None:
    """Note a figure of an output transformer; without tubes nothing depends on it."""
    if writer.setting.tubes:
        writer.data.append(Datum(what, Basis.ASSUMED))
