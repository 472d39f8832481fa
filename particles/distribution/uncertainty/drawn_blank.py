"""The error of each reading of the blank, in many drawn runs at once."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from particles.distribution.answer import SizePoint
from particles.distribution.inputs.blank_filling import INTERPOLATED_SD_G_L
from particles.distribution.inputs.noise import temperature_shift_g_l
from particles.distribution.inputs.served_blank import (
    DAY_S,
    SHIFT_SD_G_L_PER_C,
    WANDERS_G_L_PER_DAY,
    after_move,
    served_blank,
)
from particles.distribution.method.edition import InputUncertainties, MethodEdition
from particles.distribution.record import Correction, RunRecord
from particles.distribution.settling.water import half_degree_inside_c
from particles.distribution.uncertainty.drawn_curve import Floats

ABSENT_THERMOMETER_C = 0.5
"""A blank whose temperature nobody wrote down is taken at that of the suspension, within this; common practice. [C]"""


@dataclass(frozen=True, slots=True, eq=False)
class ServedErrors:
    """Covariances of the blank behind a run's points when all its readings serve each of them, by cause."""

    own: Floats
    """(n, n) for a reading of the blank with a standard deviation of 1 g/L; with all of them shared. [-]"""
    by_temperature: Floats
    """(n, n) for thermometers with a standard deviation of 1 C. [(g/L)²/C²]"""
    of_the_liquid: Floats
    """(n, n) for what a degree does, for a level that wanders, and for one that moved. [(g/L)²]"""

    @classmethod
    def of(
        cls, record: RunRecord, method: MethodEdition, indices: Sequence[int], g_l_per_c: Floats
    ) -> ServedErrors | None:
        """
        Covariances for readings by index; None where each reading has a blank of its own.

        Parameters
        ----------
        g_l_per_c : (n,) fall of the blank's reading with its temperature, one for each index. [g/L per C]
        """
        served = served_blank(record, method)
        if served is None:
            return None
        shares = np.array([served.weights[index] for index in indices])
        own = shares @ shares.T
        slopes = np.outer(g_l_per_c, g_l_per_c)
        apart_c = np.array([record.readings[k].at_c - served.temperature_c(k) for k in indices])
        liquid = SHIFT_SD_G_L_PER_C**2 * np.outer(apart_c, apart_c)
        at_s = np.array([record.readings[index].elapsed_s for index in indices])
        liquid += _wandering(shares, at_s, np.array([each.at_s for each in served.series]))
        move = served.move
        if move is not None and move.start is not None and not move.alone:
            start = move.start
            later = np.array([after_move(served.series, start, float(each)) for each in at_s], dtype=float)
            # Whether the liquid or the instrument moved nobody knows: the truth lies between none and all of it.
            liquid += (0.5 * move.size) ** 2 * np.outer(later, later)
        return cls(own, slopes * (own + np.eye(len(indices))), liquid)

    def root(self, sizes: InputUncertainties) -> Floats:
        """(n, n) matrix that turns independent errors of one standard deviation into those of the blank. [g/L]"""
        read = bool(sizes.blank_reading_g_l or sizes.blank_g_l)
        covariance = sizes.blank_reading_g_l**2 * self.own + sizes.thermometer_c**2 * self.by_temperature
        if read:
            covariance = covariance + self.of_the_liquid
        values, vectors = np.linalg.eigh(covariance)
        root: Floats = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
        return root


def _wandering(shares: Floats, at_s: Floats, blanks_s: Floats) -> Floats:
    """(n, n) covariance of a level's wandering between the blanks (m,) and the readings (n,) they serve. [(g/L)²]"""
    to_blanks = np.abs(at_s[:, np.newaxis] - blanks_s)
    between_blanks = np.abs(blanks_s[:, np.newaxis] - blanks_s)
    across = shares @ to_blanks.T
    spread = across + across.T - shares @ between_blanks @ shares.T - np.abs(at_s[:, np.newaxis] - at_s)
    covariance: Floats = 0.5 * WANDERS_G_L_PER_DAY**2 / DAY_S * spread
    return covariance


@dataclass(frozen=True, slots=True, eq=False)
class BlankReadings:
    """The readings of the blank behind a run's points: which they share, and how a degree moves each."""

    rows: tuple[int, ...]
    """(n,) for each reading, in falling order of diameter, the first that has the same reading of the blank."""
    g_l_per_c: Floats
    """(n,) fall of the blank's reading with its temperature. [g/L per C]"""
    has_own_c: tuple[bool, ...]
    """(n,) whether the blank's temperature was read."""
    interpolated: NDArray[np.bool_]
    """(n,) whether the blank was not read but taken from those before and after."""
    served: ServedErrors | None = None
    """Errors of a blank that serves with all its readings; then nothing above but the slopes counts."""

    @classmethod
    def of(
        cls,
        record: RunRecord,
        method: MethodEdition,
        ordered: Sequence[SizePoint],
        interpolated: Collection[int],
    ) -> BlankReadings | None:
        """
        Readings of the blank behind these points; None for a run corrected by another rule.

        Parameters
        ----------
        ordered : (n,) points in falling order of diameter.
        interpolated : readings, by index, whose blank was not read.
        """
        if record.correction is not Correction.MEASURED_BLANK:
            return None
        taken = [record.readings[point.reading_index] for point in ordered]
        first: dict[int, int] = {}
        rows = tuple(
            k if p.blank_number is None else first.setdefault(p.blank_number, k) for k, p in enumerate(taken)
        )
        scale = record.hydrometer.scale
        middles = [half_degree_inside_c(p.at_c) for p in taken]
        slopes = [
            temperature_shift_g_l(scale, c - 0.5) - temperature_shift_g_l(scale, c + 0.5) for c in middles
        ]
        return cls(
            rows,
            np.array(slopes),
            tuple(p.blank_temperature_c is not None for p in taken),
            np.array([point.reading_index in interpolated for point in ordered]),
            ServedErrors.of(record, method, [point.reading_index for point in ordered], np.array(slopes)),
        )

    def add_errors(self, noise: Floats, errors: Floats, sizes: InputUncertainties, buffer: Floats) -> None:
        """
        Add to the noise of each reading what its blank was misread by, in place.

        Parameters
        ----------
        noise : (n, draws). [g/L at 2.65 g/cm³]
        errors : (n, draws) of the readings of the blank, in standard deviations.
        sizes : standard uncertainty of each input.
        buffer : (n, draws), overwritten.
        """
        if self.served is not None:
            noise += self.served.root(sizes) @ errors
            return
        own_c = sqrt(2.0) * sizes.thermometer_c
        absent_c = max(own_c, ABSENT_THERMOMETER_C) if sizes.thermometer_c else 0.0
        difference_sd_c = np.array([own_c if known else absent_c for known in self.has_own_c])
        # An edition that takes blanks as exact takes those between them as exact too.
        unread_g_l = INTERPOLATED_SD_G_L if sizes.blank_reading_g_l or sizes.blank_g_l else 0.0
        own_g_l = np.where(self.interpolated, unread_g_l, sizes.blank_reading_g_l)
        sd_g_l = np.hypot(own_g_l, difference_sd_c * self.g_l_per_c)
        if not sd_g_l.any():
            return
        shared = self.rows != tuple(range(len(self.rows)))
        np.multiply(errors[list(self.rows)] if shared else errors, sd_g_l[:, np.newaxis], out=buffer)
        noise += buffer
