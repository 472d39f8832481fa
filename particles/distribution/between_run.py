"""How far two whole runs of one sample lie apart: the edition's figure, or the laboratory's own duplicates."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from .errors import DuplicatesTooFewError
from .methods import MethodEdition
from .quantities import RunRecord

LEAST_PAIRS = 8
"""Fewer duplicates say too little: with 8 the standard deviation itself is known to about 25 %."""


def between_run_sd_pct(record: RunRecord, method: MethodEdition) -> float:
    """Between-run standard deviation of clay and of sand that this run is computed with. [%]"""
    own = record.between_run_sd_pct
    return method.dispersion_sd_pct if own is None else own


def between_run_sd_from_duplicates(pairs_pct: Sequence[tuple[float, float]]) -> tuple[float, int]:
    """
    Standard deviation of one run from differences within pairs, s = sqrt(sum of d² / 2n).

    Parameters
    ----------
    pairs_pct : (n,) the same fraction of two runs of one sample, n >= 8. [%]

    Returns
    -------
    (s, n). [%], [-]. It holds the reading and division errors too, which are drawn once more within the
    run, so the uncertainty comes out rather too wide than too narrow.

    Raises
    ------
    DuplicatesTooFewError below 8 pairs.

    >>> between_run_sd_from_duplicates([(20.0, 22.0)] * 8)
    (1.4142135623730951, 8)
    """
    n = len(pairs_pct)
    if n < LEAST_PAIRS:
        raise DuplicatesTooFewError(
            "Too few duplicates for a between-run standard deviation",
            f"{n} pairs",
            f"Keep the edition's figure until there are {LEAST_PAIRS}.",
        )
    return sqrt(sum((first - second) ** 2 for first, second in pairs_pct) / (2 * n)), n
