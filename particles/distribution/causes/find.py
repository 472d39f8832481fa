"""The causes behind a batch's findings, ranked by what they do to the figures."""

from __future__ import annotations

from particles.distribution.causes.cause import Cause
from particles.distribution.causes.evidence import BatchEvidence
from particles.distribution.method.edition import MethodEdition


def find_causes(batch: BatchEvidence, method: MethodEdition) -> tuple[Cause, ...]:
    """
    The causes behind everything that is found in a batch, the largest effect on the figures first.

    Parameters
    ----------
    batch : runs in the order of their cylinders, of one edition, readings in the slots of its schedule.

    Returns
    -------
    Decisions first, then notes, then what is only looked at. Every finding of every run is told by one of them.
    """
    raise NotImplementedError
