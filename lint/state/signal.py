"""Small signal, level plan and distortion, as plain values in SI units."""

from __future__ import annotations

import math
from typing import Any

from coldcheck.lint.design import Design
from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.full_drive import FullDrive, Level, Output
from coldcheck.lint.facts.hum_budget import HumBudget
from coldcheck.lint.facts.level_plan import LevelPlan
from coldcheck.lint.facts.signal import LOADINGS, Signal
from coldcheck.lint.facts.stages import Stage
from coldcheck.lint.model import Datum
from coldcheck.lint.physics.feedback import Return
from coldcheck.lint.physics.small_signal import MIDDLE

Table = dict[str, Any]
SHARES = (0.1, 0.5, 0.9, 1.0)
"""Amplitudes at which distortion is told, as shares of clipping; our choice."""


def small(study: Study) -> Table:
    """Gain, corners, impedances and feedback of every output, controls as they stand."""
    signal: Signal = study.get("Signal")
    load = study.get("Design").document.site.load
    lacks = signal.top_lacks
    outputs = {}
    for out in signal.outputs:
        band, ohms = signal.band(out), signal.output_ohms(out)
        outputs[_name(out, signal.outputs)] = {
            "gain": abs(band.gain),
            "inverts": signal.inverts(out),
            "low_hertz": band.low,
            "high_hertz": None if lacks is not None or math.isinf(band.high) else band.high,
            "ohms": ohms,
            "damping": load.impedance / ohms if out.load is not None and load is not None else None,
            "feedback": [_feedback(signal, back) for back in signal.feedback(out)],
        }
    return {
        "input_ohms": signal.input_ohms(),
        "outputs": outputs,
        "supply": {
            feed.net: {
                _name(out, signal.outputs): signal.brought(feed.net, out) for out in signal.outputs
            }
            for feed in study.get("Feeds").every
        },
        "high_lacks": None if lacks is None else lacks.datum,
        "stages": {
            found.stage.name: {"grid": abs(found.driven), "output": abs(found.given)}
            for found in signal.stages
        },
        "rests_on": _said(signal.top_rests_on),
    }


def _name(out: Output, others: tuple[Output, ...]) -> str:
    """The connector's reference, with the net where it carries several signals."""
    alone = sum(other.ref == out.ref for other in others) == 1
    return out.ref if alone else f"{out.ref} {out.a}"


def _feedback(signal: Signal, back: Return) -> Table:
    """One loop, and how far it is from oscillating with each loading.

    Of high frequencies nothing where a datum lacks that they depend on.
    """
    most = MIDDLE if signal.top_lacks is not None else math.inf
    told: Table = {
        "parts": list(back.branch.names),
        "overall": back.overall,
        "positive": back.positive,
        "decibels": 20.0 * math.log10(abs(1.0 + back.loop)),
        "margins": {},
    }
    for loading in LOADINGS if back.overall else ():
        found = signal.margins(back, loading)
        told["margins"][loading] = {
            "phase": [{"hertz": f, "degrees": d} for f, d in found.phase if f < most],
            "gain": [{"hertz": f, "decibels": d} for f, d in found.gain if f < most],
        }
    return told


def plan(study: Study) -> Table:
    """From the source's level to full power."""
    found: LevelPlan = study.get("LevelPlan")
    signal: Signal = study.get("Signal")
    out = signal.outputs[0]
    full = abs(signal.gain(out, full=True))
    return {
        "loaded": out.load is not None,
        "source_volts": found.level,
        "output_volts": min(found.level, found.sensitivity) * full,
        "clipping_output_volts": found.sensitivity * full,
        "sensitivity_volts": found.sensitivity,
        "spare": found.spare,
        "controls": list(found.controls),
        "control_place": found.place,
        "rests_on": _said(found.rests_on),
    }


def distortion(study: Study) -> Table:
    """Power and harmonics at each output, up to clipping, mains nominal."""
    drive: FullDrive = study.get("FullDrive")
    design: Design = study.get("Design")
    levels = [drive.nominal.at(share) for share in SHARES[:-1]] + [drive.nominal.clipping]
    load = design.document.site.load
    told: Table = {}
    for out in drive.outputs:
        rows = []
        for share, level in zip(SHARES, levels, strict=True):
            first, *others = level.drive.harmonics((out.a, out.b)).tolist()
            rms = abs(first) / math.sqrt(2.0)
            rows.append(
                {
                    "share": share,
                    "volts": rms,
                    "watts": rms**2 / load.impedance if out.load and load else None,
                    "harmonics": [abs(h / first) for h in others] if first else None,
                }
            )
        told[_name(out, drive.outputs)] = rows
    found: Signal = study.get("Signal")
    return {
        "outputs": told,
        "stages": {one.stage.name: _at_clipping(one.stage, levels[-1]) for one in found.stages},
        "rests_on": _said(drive.rests_on),
    }


def _at_clipping(stage: Stage, level: Level) -> Table:
    """How near a stage comes to each of its ends within the cycle in which the output clips."""
    grid = level.between(stage.grid or stage.cathode, stage.cathode)
    plate = level.between(stage.plate, stage.cathode)
    current = level.drive.amperes(stage.name)
    return {
        "grid_peak_volts": float(grid.max()),
        "least_plate_volts": float(plate.min()),
        "least_current_share": float(current.min() / current.mean()),
        "swing_volts": float(plate.max() - plate.min()),
    }


def hum(study: Study) -> Table:
    """Every cause of hum at every output, mains nominal, no signal."""
    budget: HumBudget = study.get("HumBudget")
    load = study.get("Design").document.site.load
    outs = tuple(found.output for found in budget.budgets)
    return {
        "outputs": {
            _name(found.output, outs): {
                "volts": found.volts,
                "decibels_below_full_power": found.below(load.impedance) if load else None,
                "decibels_spl": found.pressure,
                "metres": load.distance if load else None,
                "causes": [
                    {"name": cause.name, "volts": cause.volts, "change": cause.change}
                    for cause in found.causes
                ],
                "halving": found.halving,
            }
            for found in budget.budgets
        },
        "lacks": [gap.datum for gap in budget.lacks],
        "rests_on": _said(
            tuple(dict.fromkeys(d for b in budget.budgets for c in b.causes for d in c.rests_on))
        ),
    }


def _said(data: tuple[Datum, ...]) -> list[str]:
    return [f"{datum.what} ({datum.basis.value})" for datum in data]
