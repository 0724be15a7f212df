"""The load a tube's plate works into, for direct current and at a frequency.

The tube's plate current is taken away, everything else stays: the supply as a dc source, other
tubes linearised at their operating point, the cathode's own network and any feedback.
"""

from __future__ import annotations

import math

import numpy as np

from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.stability import steady_slopes


def plate_load(state: PeriodicState, tube: str, hertz: float = 0.0) -> complex:
    """Volts from plate to cathode for each ampere the plate draws less, in ohms.

    ``hertz`` 0 gives the dc load.  Raises KeyError when ``tube`` is not a tube of the circuit.
    """
    network = state.network
    still, slopes = steady_slopes(state)
    plate = network.tubes.plate_port[tube]
    slopes[plate] = 0.0
    matrix = network.ac if hertz else network.dc
    matrix = state.averaged().into(matrix + still.ports.T @ slopes @ still.ports)
    turning = 2.0 * math.pi * hertz * network.storage
    moving = matrix + 1j * (network.incidence * turning) @ network.incidence.T
    entry = network.tube_ports[plate]
    return complex(entry @ np.linalg.solve(moving, entry.astype(complex)))
