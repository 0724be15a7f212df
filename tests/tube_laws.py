"""Published rows of tubes beside what the library's laws make of them.

Used by the tests, by ``print_tube_laws.py`` and by ``fit_tube_laws.py``.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics import devices
from coldcheck.lint.physics.circuit import (
    Circuit,
    Element,
    Pentode,
    PentodeLaw,
    Resistor,
    Source,
    Triode,
    TriodeLaw,
)
from coldcheck.lint.physics.dc import operating_point

ROWS = Path(__file__).parent / "schemas" / "data" / "tube_rows.csv"
STAGES = Path(__file__).parent / "physics" / "data" / "stages.csv"
BARS = {"plate_current": 0.10, "screen_current": 0.25}
"""How far a law may miss a row, fitted or held out."""
TRIODE_BARS = {**BARS, "transconductance": 0.10}
STAGE_BARS = {**BARS, "cathode_current": 0.10, "gain": 0.10}
"""The same of a resistance-coupled stage."""

FORM: Mapping[str, type[TriodeLaw] | type[PentodeLaw]] = {
    "koren": TriodeLaw,
    "reefman": PentodeLaw,
}
FAMILY = {"EF804S": "EF86"}
"""Types of which only stages are published, and the type of the library whose law they share."""

PRINTED = {
    "plate_current": "Ia_mA",
    "screen_current": "Ig2_mA",
    "transconductance": "gm_umho",
    "plate_resistance": "rp_ohm",
}
UNIT = {"Ia_mA": 1e-3, "Ig2_mA": 1e-3, "gm_umho": 1e-6, "rp_ohm": 1.0}


class Row(NamedTuple):
    """One published row, in volts, amperes, siemens and ohms, as far as it is printed."""

    type: str
    connection: str
    plate: float
    screen: float
    grid: float
    printed: Mapping[str, float]
    """By quantity, as in :data:`PRINTED`."""
    load: tuple[str, float, float, float] | None
    """``single`` or ``pair``, the load, and the mean plate and screen current at full drive."""
    level: str
    use: str
    source: str

    @property
    def label(self) -> str:
        screen = "" if self.connection.startswith("triode") else f"/{self.screen:g}"
        return f"{self.type} {self.plate:g}{screen} V {self.grid:g} V"


class Stage(NamedTuple):
    """A published resistance-coupled stage, in volts, ohms and amperes."""

    type: str
    supply: float
    plate_ohms: float
    following_ohms: float | None
    screen_ohms: float | None
    cathode_ohms: float
    printed: Mapping[str, float]
    """plate_current, cathode_current, screen_current and gain, as far as they are printed."""
    level: str
    use: str
    source: str

    @property
    def label(self) -> str:
        following = "" if self.following_ohms is None else f"/{self.following_ohms / 1e3:g}"
        return f"{self.type} {self.supply:g} V {self.plate_ohms / 1e3:g}{following} kohm"


def _table(file: Path) -> list[dict[str, str]]:
    lines = file.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def rows() -> list[Row]:
    return [_row(raw) for raw in _table(ROWS)]


def stages() -> list[Stage]:
    columns = {"plate_mA": "plate_current", "cathode_mA": "cathode_current"}
    columns |= {"screen_mA": "screen_current", "gain": "gain"}
    return [
        Stage(
            raw["type"],
            float(raw["supply_V"]),
            float(raw["plate_ohm"]),
            float(raw["following_ohm"]) if raw["following_ohm"] else None,
            float(raw["screen_ohm"]) if raw["screen_ohm"] else None,
            float(raw["cathode_ohm"]),
            {
                name: float(raw[column]) * (1.0 if column == "gain" else 1e-3)
                for column, name in columns.items()
                if raw[column]
            },
            raw["level"],
            raw["use"],
            raw["source"],
        )
        for raw in _table(STAGES)
    ]


def _row(raw: dict[str, str]) -> Row:
    plate = float(raw["Va_V"])
    load = None
    if raw["load"]:
        numbers = (float(raw[k]) for k in ("load_ohm", "Ia_max_mA", "Ig2_max_mA"))
        ohms, most, screen_most = numbers
        load = raw["load"], ohms, most * 1e-3, screen_most * 1e-3
    return Row(
        raw["type"],
        raw["connection"],
        plate,
        float(raw["Vg2_V"] or plate),
        float(raw["Vg1_V"]),
        {q: float(raw[c]) * UNIT[c] for q, c in PRINTED.items() if raw[c]},
        load,
        raw["level"],
        raw["use"],
        raw["source"],
    )


def currents(
    law: TriodeLaw | PentodeLaw, plate: np.ndarray, screen: float, grid: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Plate and screen current, (n,) each, by the product's own laws."""
    if isinstance(law, TriodeLaw):
        return devices.triode_current(law, plate, grid), np.zeros_like(plate)
    return devices.pentode_currents(law, plate, screen, grid)


def computed(law: TriodeLaw | PentodeLaw, row: Row) -> dict[str, float]:
    """What the law makes of every quantity of :data:`PRINTED`."""
    plate = row.plate + np.array([0.0, 0.0, 0.0, 0.1, -0.1])
    grid = row.grid + np.array([0.0, 0.01, -0.01, 0.0, 0.0])
    screen = plate if row.connection == "triode connected" else np.full(5, row.screen)
    at_plate, at_screen = currents(law, plate, screen, grid)
    both = row.connection in ("triode connected", "cathode")
    through = at_plate + at_screen if both else at_plate
    return {
        "plate_current": float(through[0]),
        "screen_current": float(at_screen[0]),
        "transconductance": float(through[1] - through[2]) / 0.02,
        "plate_resistance": 0.2 / float(through[3] - through[4]),
    }


def residuals(law: TriodeLaw | PentodeLaw, row: Row) -> dict[str, float]:
    """Relative error of every quantity the row prints; plus is too much."""
    found = computed(law, row)
    return {name: found[name] / value - 1.0 for name, value in row.printed.items()}


def worked(law: TriodeLaw | PentodeLaw, stage: Stage) -> dict[str, float]:
    """Currents of a stage at rest, and its gain at mid-band: gm (rp || plate || following).

    Cathode and screen are bypassed; no grid current flows at rest.
    """
    tube: Element = (
        Triode("V", "plate", "grid", "cathode", law)
        if isinstance(law, TriodeLaw)
        else Pentode("V", "plate", "screen", "grid", "cathode", law)
    )
    parts = [
        Source("B", "supply", "0", dc=stage.supply),
        Resistor("Rp", "supply", "plate", stage.plate_ohms),
        Resistor("Rk", "cathode", "0", stage.cathode_ohms),
        Resistor("Rg", "grid", "0", 1e6),
        tube,
    ]
    if stage.screen_ohms is not None:
        parts.append(Resistor("Rs", "supply", "screen", stage.screen_ohms))
    point = operating_point(Circuit(tuple(parts), "0"))
    cathode = point.volts["cathode"]
    screen = point.volts.get("screen", cathode) - cathode
    plate = point.volts["plate"] - cathode + np.array([0.0, 0.0, 0.1, -0.1])
    grid = point.volts["grid"] - cathode + np.array([1e-3, -1e-3, 0.0, 0.0])
    through = currents(law, plate, screen, grid)[0]
    siemens = float(through[2] - through[3]) / 0.2 + 1.0 / stage.plate_ohms
    if stage.following_ohms is not None:
        siemens += 1.0 / stage.following_ohms
    return {
        "plate_current": point.amperes["Rp"],
        "cathode_current": point.amperes["Rk"],
        "screen_current": point.amperes.get("Rs", 0.0),
        "gain": float(through[0] - through[1]) / 2e-3 / siemens,
    }


def missed(law: TriodeLaw | PentodeLaw, stage: Stage) -> dict[str, float]:
    """Relative error of every quantity the stage prints; plus is too much."""
    found = worked(law, stage)
    return {name: found[name] / value - 1.0 for name, value in stage.printed.items()}


def at_full_drive(law: PentodeLaw, row: Row) -> tuple[float, float]:
    """Mean plate and screen current with the grid driven to 0 V into the row's load.

    A sine at the grid, plate voltages found by damped substitution at 24 phases.
    """
    assert row.load is not None
    kind, ohms = row.load[:2]
    swing = -row.grid * np.sin((np.arange(24) + 0.5) * 2.0 * np.pi / 24)
    plate = np.full(24, row.plate)
    for _ in range(60):
        own = currents(law, plate, row.screen, row.grid + swing)[0]
        if kind == "single":
            wanted = row.plate + ohms * (np.mean(own) - own)
        else:
            other = currents(law, 2 * row.plate - plate, row.screen, row.grid - swing)[0]
            wanted = row.plate - ohms / 4 * (own - other)
        plate = plate + 0.3 * (np.maximum(wanted, 0.0) - plate)
    at_plate, at_screen = currents(law, plate, row.screen, row.grid + swing)
    return float(np.mean(at_plate)), float(np.mean(at_screen))


def laws() -> Iterator[tuple[str, TriodeLaw | PentodeLaw]]:
    """Types of the library with a law in the form of a triode or pentode, aliases left out."""
    from coldcheck.schemas.rated import chapter

    for name in chapter("tubes").tables["tubes"]:
        for number in (1, 2):
            if (law := law_of(f"{name}.{number}")) is not None:
                yield f"{name}.{number}", law


def law_of(name: str) -> TriodeLaw | PentodeLaw | None:
    """The law of a type, or None; of unlike sections ``6BM8.2`` is that of the second."""
    from coldcheck.schemas.reference import tube

    kind_name, _, number = name.partition(".")
    kind = tube(kind_name)
    assert kind is not None, name
    law = kind.law.get(int(number or 1))
    if law is None or law.form not in FORM:
        return None
    return FORM[law.form](**law.parameters)
