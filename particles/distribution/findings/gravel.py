"""Findings on gravel: stated gravel and gravel sieves that do not agree, or have no basis."""

from __future__ import annotations

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import RunRecord
from particles.distribution.sieves.gravel import gravel_by_sieves_pct


def gravel_findings(record: RunRecord, limits: QualityLimits) -> list[Finding]:
    """gravel_apart, gravel_basis_missing."""
    if record.gravel_sieves and record.whole_sample_dry_mass_g is None:
        return [finding("gravel_basis_missing")]
    by_sieves, whole_g = gravel_by_sieves_pct(record), record.whole_sample_dry_mass_g
    if record.gravel_pct is None or whole_g is None or not record.gravel_sieves:
        return []
    sieved_pct = 100.0 * sum(sieve.retained_g for sieve in record.gravel_sieves) / whole_g
    difference_pct = record.gravel_pct - sieved_pct
    # Sieves that end above 2 mm leave some of the gravel unweighed, so only too little stated contradicts them.
    if (abs(difference_pct) if by_sieves is not None else -difference_pct) <= limits.gravel_apart_pct:
        return []
    return [
        finding(
            "gravel_apart",
            variant="unused" if by_sieves is None else "used",
            number=difference_pct,
            stated_pct=record.gravel_pct,
            sieved_pct=sieved_pct,
        )
    ]
