"""The only door for the author of a rule.

A rule is a generator function whose parameters name, by type, the facts it needs::

    @rule(title="...", harm=Harm.WEARS, why="...", sources=[cite("capacitor-rating")])
    def overvoltage(design: Design, cold: ColdStart) -> Verdicts:
        yield Fail(about=part.subject, says="...", remedy="...")

It yields a :class:`Fail`, :class:`Open` or :class:`Pass` for every subject it looked at, and
nothing at all where there was nothing to judge.  Its name is its path: ``rules/ratings/
overvoltage.py`` is ``ratings/overvoltage``.
"""

from __future__ import annotations

import functools
import importlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from coldcheck.lint.model import (
    Basis,
    Card,
    Datum,
    Fail,
    Figure,
    Harm,
    Limit,
    Missing,
    Open,
    Pass,
    Source,
    Subject,
    Verdict,
)
from coldcheck.lint.printing import figure

if TYPE_CHECKING:
    from coldcheck.lint.design import Design, PartUse, Use
    from coldcheck.lint.facts.cold_start import ColdStart
    from coldcheck.lint.facts.conductors import Conductors
    from coldcheck.lint.facts.coupling_shorts import CouplingShorts
    from coldcheck.lint.facts.exposed import Exposed
    from coldcheck.lint.facts.faults import Faults
    from coldcheck.lint.facts.feeds import Feeds
    from coldcheck.lint.facts.fixed_bias import FixedBias
    from coldcheck.lint.facts.full_drive import FullDrive
    from coldcheck.lint.facts.fuses import Fuses
    from coldcheck.lint.facts.grid_leaks import GridLeaks
    from coldcheck.lint.facts.ground_network import GroundNetwork
    from coldcheck.lint.facts.heater_coupling import HeaterCoupling
    from coldcheck.lint.facts.hum_budget import HumBudget
    from coldcheck.lint.facts.inrush import Inrush
    from coldcheck.lint.facts.level_plan import LevelPlan
    from coldcheck.lint.facts.mains_capacitors import MainsCapacitors
    from coldcheck.lint.facts.mains_side import MainsSide
    from coldcheck.lint.facts.off_states import OffStates
    from coldcheck.lint.facts.passages import Passages
    from coldcheck.lint.facts.pulled import Pulled
    from coldcheck.lint.facts.ratings import Ratings
    from coldcheck.lint.facts.realised import Realised
    from coldcheck.lint.facts.rectifiers import Rectifiers
    from coldcheck.lint.facts.ripple import Ripple
    from coldcheck.lint.facts.runs import Runs
    from coldcheck.lint.facts.signal import Signal
    from coldcheck.lint.facts.signal_ground import SignalGround
    from coldcheck.lint.facts.slow_modes import SlowModes
    from coldcheck.lint.facts.spread import Spread
    from coldcheck.lint.facts.stacks import Stacks
    from coldcheck.lint.facts.stages import Stages
    from coldcheck.lint.facts.standings import Standings
    from coldcheck.lint.facts.states import States
    from coldcheck.lint.facts.stray_fields import StrayFields
    from coldcheck.lint.facts.warm import Warm
    from coldcheck.lint.facts.warm_up import WarmUp
    from coldcheck.lint.graphs.channels import Channels
    from coldcheck.lint.graphs.schematic import Schematic
    from coldcheck.lint.graphs.wiring import Wiring
    from coldcheck.schemas import parts as kinds

NEEDS: Mapping[str, tuple[str, str]] = {
    "Design": ("coldcheck.lint.design", "the document, references resolved"),
    "Schematic": ("coldcheck.lint.graphs.schematic", "the schematic graph"),
    "Wiring": ("coldcheck.lint.graphs.wiring", "the wiring graph"),
    "Channels": ("coldcheck.lint.graphs.channels", "channels, and in what they differ"),
    "Realised": ("coldcheck.lint.facts.realised", "nets against what is soldered"),
    "Passages": ("coldcheck.lint.facts.passages", "conductors through metal"),
    "Conductors": ("coldcheck.lint.facts.conductors", "wires and leads with what they carry"),
    "CouplingShorts": (
        "coldcheck.lint.facts.coupling_shorts",
        "contacts with a coupling capacitor shorted",
    ),
    "SignalGround": ("coldcheck.lint.facts.signal_ground", "ground conductors and their loops"),
    "GroundNetwork": ("coldcheck.lint.facts.ground_network", "hum of the ground wires"),
    "Exposed": ("coldcheck.lint.facts.exposed", "exposed metal and its way to earth"),
    "MainsSide": ("coldcheck.lint.facts.mains_side", "parts in order from the inlet"),
    "MainsCapacitors": ("coldcheck.lint.facts.mains_capacitors", "capacitors across the mains"),
    "Fuses": ("coldcheck.lint.facts.fuses", "fuses and their time-current gates"),
    "Inrush": ("coldcheck.lint.facts.inrush", "current of each fuse from switch-on"),
    "Stages": ("coldcheck.lint.facts.stages", "tube sections and heaters with their nets"),
    "GridLeaks": ("coldcheck.lint.facts.grid_leaks", "resistance from each grid to ground"),
    "Rectifiers": ("coldcheck.lint.facts.rectifiers", "rectifier tubes and what feeds them"),
    "Ratings": ("coldcheck.lint.facts.ratings", "ratings, stated or from the library"),
    "Warm": ("coldcheck.lint.facts.warm", "warm state at mains low, nominal, high"),
    "FullDrive": ("coldcheck.lint.facts.full_drive", "driven to clipping, below and beyond"),
    "Signal": ("coldcheck.lint.facts.signal", "small signal: gains, corners, feedback"),
    "LevelPlan": ("coldcheck.lint.facts.level_plan", "levels from the source to full power"),
    "Standings": ("coldcheck.lint.facts.standings", "warm state in every standing of the switches"),
    "Pulled": ("coldcheck.lint.facts.pulled", "warm state without one tube"),
    "WarmUp": ("coldcheck.lint.facts.warm_up", "states while the heaters come up"),
    "FixedBias": ("coldcheck.lint.facts.fixed_bias", "warm state with a bias failed, or turned"),
    "Spread": ("coldcheck.lint.facts.spread", "a thousand builds within tolerances, warm"),
    "States": ("coldcheck.lint.facts.states", "the worst of all states, for a rating"),
    "Feeds": ("coldcheck.lint.facts.feeds", "the smoothed node that feeds each tube"),
    "Ripple": ("coldcheck.lint.facts.ripple", "supply ripple at the outputs"),
    "HeaterCoupling": ("coldcheck.lint.facts.heater_coupling", "heater hum at each grid"),
    "Runs": ("coldcheck.lint.facts.runs", "what input wires lie beside"),
    "StrayFields": ("coldcheck.lint.facts.stray_fields", "stray fields and what they induce"),
    "HumBudget": ("coldcheck.lint.facts.hum_budget", "every cause of hum, at the outputs"),
    "SlowModes": ("coldcheck.lint.facts.slow_modes", "slow swings of the warm circuit"),
    "ColdStart": ("coldcheck.lint.facts.cold_start", "cold start at mains high"),
    "Stacks": ("coldcheck.lint.facts.stacks", "capacitors in series without resistors"),
    "OffStates": ("coldcheck.lint.facts.off_states", "discharge after mains off"),
    "Faults": ("coldcheck.lint.facts.faults", "currents with one part shorted"),
}
"""Every fact a rule may ask for: the module that makes it, and what it is in a few words."""

Verdicts = Iterator[Verdict]
Known = TypeVar("Known")
_RULES = Path(__file__).resolve().parent.parent / "rules"


class Rule(NamedTuple):
    """A rule as the engine runs it."""

    card: Card
    judge: Callable[..., Verdicts]
    facts: tuple[str, ...]
    """Names of the facts it is called with, in order."""


def rule(
    *,
    title: str,
    harm: Harm,
    why: str,
    sources: Sequence[Source],
    states: Sequence[str] = (),
) -> Callable[[Callable[..., Verdicts]], Rule]:
    """Make a rule of a generator function; the engine gives it its name from its path."""

    def make(judge: Callable[..., Verdicts]) -> Rule:
        facts = tuple(name for slot, name in judge.__annotations__.items() if slot != "return")
        unknown = [name for name in facts if name not in NEEDS]
        if unknown:
            raise TypeError(f"a rule may not need {', '.join(unknown)}; see rulekit.NEEDS")
        if not sources:
            raise TypeError("a rule names the source of its limit")
        text = " ".join(why.split())
        needs = tuple(NEEDS[name][1] for name in facts)
        card = Card("", title, harm, text, tuple(sources), needs, tuple(states))
        return Rule(card, judge, facts)

    return make


@functools.cache
def _table(name: str) -> Mapping[str, Any]:
    import tomli

    with (_RULES / name).open("rb") as file:
        return tomli.load(file)


@functools.cache
def cite(key: str) -> Source:
    """A source from rules/sources.toml by its key."""
    entry = _table("sources.toml")[key]
    return Source(key, entry["text"], Basis(entry["basis"]))


@functools.cache
def limit(key: str) -> Limit:
    """A limit from rules/limits.toml by its key, in SI units."""
    entry = _table("limits.toml")[key]
    figure = Figure(float(entry["value"]), entry["unit"])
    return Limit(figure, cite(entry["source"]), entry.get("most", True))


def rated(value: float, unit: str, text: str, basis: Basis, most: bool = True) -> Limit:
    """A limit that comes from the part itself, or from a library's entry for it."""
    return Limit(Figure(value, unit), Source("", text, basis), most)


def allowed_hum(
    design: Design, ref: str, share: float = 1.0, source: Source | None = None
) -> Limit:
    """Most volts rms of hum at an output, or the share of it that one cause may take.

    source: of that share; of the whole it is that of the limit.
    """
    of = getattr(design.document.site.load, "impedance", None)
    loud = [p for p in design.parts.values() if getattr(p.spec, "role", "") == "loudspeaker"]
    volts, whole = limit("line-hum").figure.value, cite("hum-line")
    if of is not None and design.parts[ref] in loud:
        power = limit("loudspeaker-reference").figure.value / len(loud)
        volts = limit("loudspeaker-hum").figure.value * float((power * of) ** 0.5)
        whole = cite("hum-loudspeaker")
    return Limit(Figure(share * volts, "V"), source or whole)


def known(ask: Callable[..., Known], *of: Any) -> Known | Open:
    """What a fact answers, or the Open that names what it lacks: for one part among many."""
    try:
        return ask(*of)
    except Missing as gap:
        return Open(gap.about or of[0].subject, gap.datum, gap.where)


def worst(*cases: tuple[float, str]) -> tuple[float, str]:
    """The largest value and the state it occurs in; of values alike but for rounding the first."""
    most = cases[0]
    for case in cases[1:]:
        if case[0] > most[0] * (1.0 + 1e-6) + 1e-9:
            most = case
    return most


def weak(bound: Limit, what: str) -> tuple[Datum, ...]:
    """What a verdict rests on when its limit is assumed or remembered; nothing when it is not."""
    return (Datum(what, bound.source.basis),) if bound.source.basis.weak else ()


def volt(number: float) -> str:
    """Volts, as a reader wants them."""
    return figure(Figure(number, "V"))


def amp(number: float) -> str:
    """Amperes, as a reader wants them."""
    return figure(Figure(number, "A"))


def watt(number: float) -> str:
    """Watts, as a reader wants them."""
    return figure(Figure(number, "W"))


def ohm(number: float) -> str:
    """Ohms, as a reader wants them."""
    return figure(Figure(number, "ohm"))


def farad(number: float) -> str:
    """Farads, as a reader wants them."""
    return figure(Figure(number, "F"))


def seconds(number: float) -> str:
    """Seconds, as a reader wants them; without end reads "for good"."""
    return figure(Figure(number, "s"))


def metre(number: float) -> str:
    """Metres, as a reader wants them (millimetres, mostly)."""
    return figure(Figure(number, "m"))


__all__ = [
    "NEEDS",
    "Basis",
    "Channels",
    "ColdStart",
    "Conductors",
    "CouplingShorts",
    "Datum",
    "Design",
    "Exposed",
    "Fail",
    "Faults",
    "Feeds",
    "Figure",
    "FixedBias",
    "FullDrive",
    "Fuses",
    "GridLeaks",
    "GroundNetwork",
    "Harm",
    "HeaterCoupling",
    "HumBudget",
    "Inrush",
    "LevelPlan",
    "Limit",
    "MainsCapacitors",
    "MainsSide",
    "Missing",
    "OffStates",
    "Open",
    "PartUse",
    "Pass",
    "Passages",
    "Pulled",
    "Ratings",
    "Realised",
    "Rectifiers",
    "Ripple",
    "Rule",
    "Runs",
    "Schematic",
    "Signal",
    "SignalGround",
    "SlowModes",
    "Source",
    "Spread",
    "Stacks",
    "Stages",
    "Standings",
    "States",
    "StrayFields",
    "Subject",
    "Use",
    "Verdict",
    "Verdicts",
    "Warm",
    "WarmUp",
    "Wiring",
    "allowed_hum",
    "amp",
    "cite",
    "farad",
    "figure",
    "kinds",
    "known",
    "limit",
    "metre",
    "ohm",
    "rated",
    "rule",
    "seconds",
    "volt",
    "watt",
    "weak",
    "worst",
]


class FactName:
    """Stands for a fact's class at run time, where only its name matters."""


class _Kinds:
    """The kinds of parts, loaded when a rule first asks for one: listings need none of them."""

    def __getattr__(self, name: str) -> Any:
        return getattr(importlib.import_module("coldcheck.schemas.parts"), name)


if not TYPE_CHECKING:
    kinds = _Kinds()


def __getattr__(name: str) -> type[FactName]:
    if name in NEEDS or name in ("PartUse", "Use"):
        return FactName
    raise AttributeError(name)
