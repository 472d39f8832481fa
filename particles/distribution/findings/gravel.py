"""Findings on gravel: stated gravel and gravel sieves that do not agree, or have no basis."""

from __future__ import annotations

from particles.distribution.answer import Finding
from particles.distribution.findings.catalogue import finding
from particles.distribution.method.limits import QualityLimits
from particles.distribution.record import RunRecord
from particles.distribution.sieves.gravel import gravel_by_sieves_pct, least_sample_g


def gravel_findings(record: RunRecord, limits: QualityLimits) -> list[Finding]:
    """gravel_apart, gravel_basis_missing, sample_small_for_grain."""
    if record.gravel_sieves and record.whole_sample_dry_mass_g is None:
        return [finding("gravel_basis_missing")]
    return _sample_small(record) + _gravel_apart(record, limits)


def _sample_small(record: RunRecord) -> list[Finding]:
    """The whole sample against what its largest grain asks for."""
    asked, whole_g = least_sample_g(record), record.whole_sample_dry_mass_g
    if asked is None or whole_g is None or whole_g >= asked[1]:
        return []
    largest_um, least_g = asked
    return [
        finding("sample_small_for_grain", number=whole_g, largest_mm=largest_um / 1000.0, least_g=least_g)
    ]


def _gravel_apart(record: RunRecord, limits: QualityLimits) -> list[Finding]:
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
