"""Every reference circuit in every state, ours against ngspice: ``python tests/compare_ngspice.py``.

Prints a table of the largest error of each kind in each case, and where it is.  ``--write`` puts the
table into DEVELOPERS.md; words given pick the cases whose name holds them all.  A long job: ngspice
runs for some ten minutes on two idle cores.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

# Before numpy is first imported; why, see coldcheck.lint.physics.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path[:0] = [str(Path(__file__).parent.parent / ".src"), str(Path(__file__).parent)]

from coldcheck.lint.physics.circuit import Capacitor, Circuit, NotSolved  # noqa: E402
from coldcheck.lint.physics.supply import periodic_state  # noqa: E402
from physics import agreement, references, spice  # noqa: E402
from physics.agreement import Error  # noqa: E402

DOCUMENT = Path(__file__).parent.parent / "DEVELOPERS.md"
BEGIN, END = "<!-- ngspice -->", "<!-- end of ngspice -->"
KINDS = tuple(agreement.BARS)
ASKED = {
    "steady": {"dc", "ripple", "rms", "VA"},
    "start": {"capacitor peak", "inrush"},
    "discharge": {"discharge"},
}
"""What each kind of case must have compared."""
MISSES: dict[tuple[str, str], str] = {
    (
        "choke input, tube rectifier | choke without loss",
        "dc",
    ): "1.7 mV of the 1.65 V that a winding's own resistance leaves on it",
}
"""Case and kind of error beyond its bar, and why."""


class Case(NamedTuple):
    """One circuit in one state: ``job`` is what is compared there."""

    reference: str
    state: str
    job: str
    circuit: Circuit

    @property
    def name(self) -> str:
        return f"{self.reference} | {self.state}"


class Row(NamedTuple):
    """What the table says of a case."""

    name: str
    compared: int
    worst: dict[str, Error]
    note: str


def cases() -> Iterator[Case]:
    """All of them, in the order of the table."""
    for reference, make in references.REFERENCES.items():
        for level, volts in references.LEVELS.items():
            yield Case(reference, f"warm, mains {level}", "steady", make(volts, 0.0))
        nominal = make(references.LEVELS["nominal"], 0.0)
        for fault in references.FAULTS:
            if fault.reference == reference:
                yield Case(reference, fault.name, "steady", fault.change(nominal))
        for level, volts in references.LEVELS.items():
            for at, phase in (("zero", 0.0), ("crest", math.pi / 2.0)):
                state = f"switched on at {at}, mains {level}"
                yield Case(reference, state, "start", make(volts, phase))
        cut = references.CUTS[reference]
        yield Case(reference, "off", "discharge", nominal)
        yield Case(reference, f"off, {cut} open", "discharge", references.without(nominal, cut))


def compare(case: Case) -> Row:
    """Solve a case here and by ngspice."""
    note = ""
    match case.job:
        case "steady":
            state = periodic_state(case.circuit)
            begin = agreement.stored(case.circuit, state, agreement.OFF)
            settled = agreement.settle(agreement.sensing(case.circuit), begin)
            errors = list(agreement.steady(case.circuit, state, settled))
            note = f"{settled.seconds:.1f} s"
            if settled.to_come > agreement.STANDS:
                note += f", {100.0 * settled.to_come:.2g} % to come"
        case "start":
            errors = list(agreement.first_moments(case.circuit))
        case _:
            full = references.REFERENCES[case.reference](references.LEVELS["nominal"], 0.0)
            state = periodic_state(full)
            begin = {
                e.name: float(state.across(e.name).mean())
                for e in case.circuit.elements
                if isinstance(e, Capacitor)
            }
            errors = list(agreement.emptying(case.circuit, begin))
    return Row(case.name, len(errors), agreement.worst(errors), note)


def table(rows: list[Row]) -> list[str]:
    """The rows as Markdown: the largest error of each kind in per cent."""
    heads = ["circuit", "state", "compared", *KINDS, "ngspice ran"]
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * 2 + " ---: |" * (len(heads) - 2)]
    for row in rows:
        cells = [f"{100.0 * row.worst[k].relative:.3f}" if k in row.worst else "" for k in KINDS]
        lines.append("| " + " | ".join([row.name, str(row.compared), *cells, row.note]) + " |")
    bars = [f"{100.0 * bar:.1f}" for bar in agreement.BARS.values()]
    lines.append("| " + " | ".join(["bar", "", "", *bars, ""]) + " |")
    return lines


def read(text: str) -> dict[str, dict[str, float]]:
    """Case to kind to per cent, from the table in a document."""
    part = text.partition(BEGIN)[2].partition(END)[0]
    lines = [line.strip("| ").split("|") for line in part.splitlines() if line.startswith("| ")]
    found: dict[str, dict[str, float]] = {}
    for cells in lines[2:]:
        first, second, _, *figures = (cell.strip() for cell in cells)
        errors = zip(KINDS, figures, strict=False)
        found[f"{first} | {second}"] = {kind: float(said) for kind, said in errors if said}
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    parser.add_argument("words", nargs="*", help="take the cases whose name holds all of these")
    asked = parser.parse_args()
    chosen = [case for case in cases() if all(word in case.name for word in asked.words)]
    if asked.write and asked.words:
        parser.error("only the whole table is written")
    rows, failed = [], 0
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        jobs = [pool.submit(compare, case) for case in chosen]
        for case, job in zip(chosen, jobs, strict=True):
            try:
                row = job.result()
            except (NotSolved, spice.SpiceFailed) as problem:
                failed += 1
                print(f"{case.name}: {type(problem).__name__}: {problem}", flush=True)
                continue
            rows.append(row)
            print(f"{row.name} | {row.compared} compared | {row.note}", flush=True)
            for kind, error in row.worst.items():
                known = MISSES.get((row.name, kind))
                failed += not error.passes and known is None
                verdict = "" if error.passes else f"  BEYOND THE BAR: {known or 'not known'}"
                print(
                    f"    {kind:15}{100.0 * error.relative:9.4f} %  {error.of}: "
                    f"{error.ours:.6g}, ngspice {error.theirs:.6g}{verdict}",
                    flush=True,
                )
    lines = table(rows)
    print("\n".join(lines))
    if asked.write and not failed:
        text = DOCUMENT.read_text(encoding="utf-8")
        before, _, rest = text.partition(BEGIN)
        after = rest.partition(END)[2]
        made = "\n".join([BEGIN, *lines, END])
        DOCUMENT.write_text(before + made + after, encoding="utf-8")
    print(f"{failed} beyond the bars" if failed else "all within the bars")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
