"""A linear network at dc and at each harmonic of the mains."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network

Complex = NDArray[np.complex128]


class Tuned(NamedTuple):
    """A linear network at each harmonic: x_k = source_k - transfer_k @ (diode currents)_k."""

    source: Complex
    """(samples / 2 + 1, n), scaled as numpy's rfft of the samples."""
    transfer: Complex
    """(samples / 2 + 1, n, p), in ohms where the unknown is a voltage."""


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
    given, stored = moving[:, : ports + 2], moving[:, ports + 2 :]
    inner = storage[:, None] * (incidence.T @ stored)
    outer = storage[:, None] * (incidence.T @ given)
    rates = (rates_of(network.omega, harmonics) - shift)[:, None, None]
    eye = np.eye(storage.size)
    response = given - stored @ np.linalg.solve(eye + rates * inner, rates * outer)
    transfer = np.concatenate([still[None, :, :ports], response[:, :, :ports]])
    free = np.zeros((harmonics.size + 1, network.size), dtype=complex)
    free[0] = samples * still[:, ports]
    free[1] = 0.5 * samples * (response[0, :, ports + 1] - 1j * response[0, :, ports])
    return Tuned(free, transfer)


def waveforms(tuned: Tuned, amperes: Array) -> Complex:
    """The unknowns at each harmonic, (samples / 2 + 1, n), with currents (p, samples) flowing."""
    spectrum = np.fft.rfft(amperes, axis=1).T
    return np.asarray(tuned.source - (tuned.transfer @ spectrum[:, :, None])[:, :, 0])


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
