"""A linear network at dc and at each harmonic of the mains."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network

Complex = NDArray[np.complex128]


class Tuned(NamedTuple):
    """A linear network at each harmonic: x_k = source_k - Z_k @ (diode currents)_k.

    Z_0 is ``still``, the others are ``given`` - ``stored`` @ ``inner_k``: they differ in as many
    dimensions only as there are reactive elements.
    """

    source: Complex
    """(samples / 2 + 1, n), scaled as numpy's rfft of the samples."""
    still: Array
    """(n, p), in ohms where the unknown is a voltage, as all of Z."""
    given: Array
    """(n, p)"""
    stored: Array
    """(n, r)"""
    inner: Complex
    """(samples / 2, r, p)"""

    def seen(self, rows: Array) -> Complex:
        """rows @ Z_k, (samples / 2 + 1, rows, p)."""
        moving = rows @ self.given - (rows @ self.stored) @ self.inner
        return np.concatenate([(rows @ self.still)[None].astype(complex), moving])


def tune(
    network: Network, matrix: Array, source: Array, samples: int, rows: Array | None = None
) -> Tuned:
    """Response at dc and at each harmonic, ``matrix`` and ``source`` standing for the tubes.

    ``rows`` (p, n): the ports of D whose currents are left open.

    With M = G + sigma C solved once, each harmonic needs only a system of the size of the
    reactive elements (Sherman-Morrison-Woodbury); sigma, real, keeps M well conditioned.
    """
    storage, incidence = network.storage, network.incidence
    entry = np.zeros((network.size, 0)) if rows is None else rows.T
    ports = entry.shape[1]
    harmonics = np.arange(1, samples // 2 + 1)
    shift = 4.0 * network.omega
    columns = np.column_stack([entry, network.sine, network.cosine, incidence])
    whole = network.ac + matrix + (incidence * (shift * storage)) @ incidence.T
    still = network.solved(network.dc + matrix, np.column_stack([entry, network.steady + source]))
    moving = network.solved(whole, columns)
    given, mains, stored = np.split(moving, [ports, ports + 2], axis=1)
    within = np.eye(storage.size) + _each(network, harmonics, shift, stored)
    inner = np.asarray(
        np.linalg.solve(within, _each(network, harmonics, shift, given)), dtype=np.complex128
    )
    free = np.zeros((harmonics.size + 1, network.size), dtype=complex)
    free[0] = samples * still[:, ports]
    first = np.linalg.solve(within[0], _each(network, harmonics, shift, mains)[0])
    sine, cosine = (mains - stored @ first).T
    free[1] = 0.5 * samples * (cosine - 1j * sine)
    return Tuned(free, still[:, :ports], given, stored, inner)


def _each(network: Network, harmonics: NDArray[np.int_], shift: float, columns: Array) -> Complex:
    """At each harmonic what the reactive elements draw beyond sigma C, of voltages (n, c)."""
    drawn = network.storage[:, None] * (network.incidence.T @ columns)
    return np.asarray((rates_of(network.omega, harmonics) - shift)[:, None, None] * drawn)


def waveforms(tuned: Tuned, amperes: Array) -> Complex:
    """The unknowns at each harmonic, (samples / 2 + 1, n), with currents (p, samples) flowing."""
    spectrum = np.fft.rfft(amperes, axis=1).T
    moving = spectrum[1:]
    held = (tuned.inner @ moving[:, :, None])[:, :, 0]
    found = tuned.source.copy()
    found[0] -= tuned.still @ spectrum[0]
    found[1:] -= moving @ tuned.given.T - held @ tuned.stored.T
    return found


def sampled(spectrum: Complex, samples: int) -> Array:
    """The cycle (n, samples) that harmonics (samples / 2 + 1, n) stand for."""
    return np.fft.irfft(spectrum, samples, axis=0).T


def rates_of(omega: float, harmonics: NDArray[np.int_]) -> Complex:
    """Time derivative of each harmonic, per second.

    A wave that changes sign with every sample has no phase, and what is imaginary of its response
    is lost to samples: a coil would pass it freely.  The last harmonic is given the real rate of
    the same size, at which a coil holds it back and a capacitor lets it pass.
    """
    rates = 1j * omega * harmonics
    rates[-1] = omega * harmonics[-1]
    return np.asarray(rates)
