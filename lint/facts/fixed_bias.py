"""Fixed bias: what holds the grids of output tubes negative, and what happens when it fails.

The bias supply dies, the wiper of a preset lifts off its track, or somebody turns the preset to an
end.  Each is a warm state with the mains at its highest, solved when first asked for.
An open rectifier stands for an open winding, series resistor or fuse ahead of it as well; of several
rectifiers all are opened, for one alone may leave most of the bias.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, PartUse, Use
from coldcheck.lint.facts.stages import Stage, Stages
from coldcheck.lint.facts.warm import State, Warm, solve
from coldcheck.lint.graphs.schematic import DC, Body, Schematic, Section
from coldcheck.lint.netlist import Setting
from coldcheck.schemas.parts import Fuse, Potentiometer, VoltageSource

LEAST_BIAS = 1.0
"""Volts below ground from which a grid counts as held by a negative supply; our choice."""


class Failure(NamedTuple):
    """One part of a bias supply opened."""

    name: str
    """ "D5 open", "F2 blown", "the wiper of RV2 open" """
    part: PartUse
    stages: tuple[Stage, ...]
    """The tube sections it holds negative."""
    opens: tuple[str, ...]
    """References of parts; or a terminal, "RV2.wiper"."""


class Preset(NamedTuple):
    """A potentiometer that sets a bias."""

    part: Use[Potentiometer]
    stages: tuple[Stage, ...]


class FixedBias:
    """The bias supplies of a design; empty where every tube biases itself."""

    def __init__(self, design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> None:
        self._design = design
        self._schematic = schematic
        self._stages = stages
        self._warm = warm
        self._known: dict[str, State] = {}

    @property
    def running(self) -> State:
        """The state with nothing wrong."""
        return self._warm.high

    @functools.cached_property
    def stages(self) -> tuple[Stage, ...]:
        """Tube sections whose grid is held negative, by more than their cathode is lifted."""
        state, found = self._warm.high, []
        for stage in self._stages.amplifying:
            if stage.grid is not None:
                held, lifted = state.volts(stage.grid), state.volts(stage.cathode)
                if held < -max(LEAST_BIAS, abs(lifted)):
                    found.append(stage)
        return tuple(found)

    @functools.cached_property
    def failures(self) -> tuple[Failure, ...]:
        """Every part of a bias supply whose opening counts, with the stages it holds."""
        holds: dict[tuple[str, tuple[str, ...]], list[Stage]] = {}
        for stage in self.stages:
            for key in dict.fromkeys(self._holders(stage)):
                holds.setdefault(key, []).append(stage)
        return tuple(
            Failure(name, self._design.parts[opens[0].partition(".")[0]], tuple(stages), opens)
            for (name, opens), stages in sorted(holds.items())
        )

    @functools.cached_property
    def presets(self) -> tuple[Preset, ...]:
        """Potentiometers in the dc path of a grid that is held negative."""
        found = []
        for part in self._design.of(Potentiometer):
            own = tuple(
                stage for stage in self.stages if self._held(stage) & set(part.ends.values())
            )
            if own and len(set(part.ends.values())) > 1 and part.net("wiper") is not None:
                found.append(Preset(part, own))
        return tuple(found)

    def failed(self, failure: Failure, blown: tuple[str, ...] = ()) -> State:
        """The state with that part open, and fuses blown: "D5 open, mains high"."""
        volts, gone = self._warm.mains["high"], frozenset({*failure.opens, *blown})
        parts, ends = (
            frozenset(r for r in gone if ("." in r) is dotted) for dotted in (False, True)
        )
        name = ", ".join([failure.name, *(f"{ref} blown" for ref in blown)])
        return self._solve(name, Setting(volts, open_parts=parts, open_ends=ends))

    def cut_off(self, stage: Stage, blown: tuple[str, ...]) -> bool:
        """Whether with those fuses blown no rectifier or battery feeds a plate any more."""
        ends = self._schematic.ground() | {METAL}
        fed = self._schematic.reach(
            stage.plate, lambda s: s.body in DC and s.part not in blown, ends
        )
        sections = self._schematic.sections.values()
        sources = {net for s in sections if s.body in (Body.DIODE, Body.SOURCE) for net in s.nets}
        sources |= {net for each in self._stages.rectifiers for net in each.outputs}
        return fed.isdisjoint(sources)

    def turned(self, preset: Preset, share: float) -> State:
        """The state with the wiper at that share of the track from ccw: "RV2 at 100 %, mains high"."""
        ref = preset.part.ref
        setting = Setting(self._warm.mains["high"], wipers={ref: share})
        return self._solve(f"{ref} at {100.0 * share:.0f} %", setting)

    def _solve(self, name: str, setting: Setting) -> State:
        if name not in self._known:
            full = f"{name}, mains high"
            self._known[name] = solve(self._design, full, setting, self._warm.high)
        return self._known[name]

    def _held(self, stage: Stage) -> frozenset[str]:
        return self._schematic.held(stage.grid) if stage.grid is not None else frozenset()

    def _holders(self, stage: Stage) -> Iterator[tuple[str, tuple[str, ...]]]:
        """What to open, and how it is said: rectifiers, fuses, batteries and presets."""
        held = self._held(stage)
        sections = self._schematic.sections.values()
        rectifiers = tuple(dict.fromkeys(s.part for s in sections if self._draws(s, held)))
        if rectifiers:
            yield f"{' and '.join(rectifiers)} open", rectifiers
        for part in self._design.of(Fuse, VoltageSource):
            if held & set(part.ends.values()):
                word = "blown" if isinstance(part.spec, Fuse) else "open"
                yield f"{part.ref} {word}", (part.ref,)
        for part in self._design.of(Potentiometer):
            if part.net("wiper") in held and len(set(part.ends.values())) > 1:
                yield f"the wiper of {part.ref} open", (f"{part.ref}.wiper",)

    def _draws(self, section: Section, held: frozenset[str]) -> bool:
        """Whether a rectifier draws current out of what is held, into a winding."""
        if section.body is Body.DIODE:
            anode, cathode = section.nets[0], section.nets[-1]
        else:
            own = [stage for stage in self._stages.rectifiers if stage.part.ref == section.part]
            if section.body is not Body.TUBE or not own:
                return False
            anode, cathode = own[0].plate, own[0].cathode
        return anode in held and cathode in self._schematic.wound - held


def make(design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> FixedBias:
    """Lazy: nothing but the warm state is solved until a failure is asked for."""
    return FixedBias(design, schematic, stages, warm)
