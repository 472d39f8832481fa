"""The signed content of each sample, as one frozen value: a certificate lays it out and asks nothing more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from batches.causes.printed import exchanges_considered
from batches.computing.models import Flag, Result
from batches.corrections.models import density_in_force, filling_in_force
from batches.exchanging.arrangement import arrangement_of
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT, review_in_force
from batches.quality.reference import reference_not_counted
from batches.repeating.decided import WITH_FIGURES, decision_of
from batches.review.models import RunDecision
from batches.review.signing import signed_results
from particles.distribution import Finding, MethodEdition, SizeDistribution
from particles.models import Portion, Sample
from particles.records.refusals import NotPossible


@dataclass(frozen=True)
class SignedFinding:
    """A finding that the reviewer let stand beside the figures: its code, how far it reaches, its sentence."""

    code: str
    severity: str
    sentence: str


@dataclass(frozen=True)
class SignedBatch:
    """The facts that all samples of one approved batch share."""

    number: str
    title: str
    approved_by: str
    approved_at: datetime
    edition: MethodEdition
    soaked_h: float | None
    soak_note: str
    mixing_minutes: Decimal


@dataclass(frozen=True)
class SignedSample:
    """One sample as it was signed: result, decision, findings to print, and what was done to its portion."""

    result: Result
    """The row itself, for what a certificate keeps of the results it rests on."""
    batch: SignedBatch
    distribution: SizeDistribution | None
    """Figures, or None for a run that cannot be computed."""
    is_reported: bool
    """Whether the figures are reported."""
    without_figures: str
    """Why the reviewer reports no figures; '' when they are, or when there are none."""
    qualifier: str
    """The reviewer's own words that qualify the figures; '' for none."""
    findings: tuple[SignedFinding, ...]
    """Those that stand, in the order they were stored; that of the pair of duplicates last."""
    portion_taken_at: datetime
    attempt: int
    pretreatment: str
    particle_density_g_cm3: Decimal
    particle_density_measured: bool
    dispersant_g_l: float
    """In the cylinder. [g/L]"""
    lot_code: str
    temperatures_c: tuple[Decimal, Decimal] | None
    """Lowest and highest of the readings that count, corrected; None without any. [°C]"""
    last_measured_at: datetime | None


def results_of(samples: Sequence[Sample]) -> list[Result]:
    """
    Find the results a reviewer signed for the samples' latest portions, in the order of the samples.

    A duplicate is compared and never reported. A batch takes no entries once it is approved, so the request in
    force is the one that was signed, whatever engine this program has by now.
    """
    of = Portion.objects.filter(sample__in=samples, duplicate_of__isnull=True).select_related("run__batch")
    latest = {portion.sample_id: portion for portion in of.order_by("attempt")}
    signed: dict[int, dict[int, Result]] = {}
    found = []
    for sample in samples:
        portion = latest.get(sample.pk)
        if portion is None or not hasattr(portion, "run"):
            raise NotPossible(f"{sample} has no approved result.")
        batch = portion.run.batch
        if batch.pk not in signed:
            signed[batch.pk] = signed_results(batch)
        found.append(signed[batch.pk][portion.run.pk])
    return found


def signed_samples(samples: Sequence[Sample]) -> list[SignedSample]:
    """Gather what was signed of each sample, in the order of the samples."""
    results = results_of(samples)
    of_batch = {
        batch.pk: (exchanges_considered(batch), reference_not_counted(batch))
        for batch in {result.run.batch for result in results}
    }
    return [_signed(result, *of_batch[result.run.batch_id]) for result in results]


def _signed(
    result: Result, exchanges: Mapping[str, Sequence[Finding]], reference: Sequence[Finding]
) -> SignedSample:
    run, portion = result.run, result.run.portion
    assert portion is not None, "a blank has no result"
    assert run.batch.approved_at is not None, "signed_results refuses a batch that is not approved"
    batch, density, filling = run.batch, density_in_force(portion), filling_in_force(run.batch)
    assert filling.mixing_minutes is not None, "an approved batch was filled"
    newest = result.decisions.order_by("-pk").first()
    withheld = newest is not None and newest.choice == RunDecision.Choice.WITHOUT_FIGURES
    readings = arrangement_of(run.batch).readings(run)
    temperatures = [r.temperature_c for r in readings if r.temperature_c is not None]
    correction_c = batch.thermometer.correction_c
    moments = [r.taken_at for r in readings if r.taken_at is not None]
    for rows in (portion.weighings, portion.sieve_masses):
        moments += rows.values_list("at", flat=True)
    return SignedSample(
        result=result,
        batch=SignedBatch(
            number=batch.number,
            title=str(batch),
            approved_by=str(batch.approved_by),
            approved_at=run.batch.approved_at,
            edition=batch.method.edition,
            soaked_h=batch.soaked_h,
            soak_note=filling.soak_note,
            mixing_minutes=filling.mixing_minutes,
        ),
        distribution=result.distribution,
        is_reported=decision_of(result) in WITH_FIGURES,
        without_figures=newest.note if newest is not None and withheld else "",
        qualifier=newest.note if newest is not None and newest.choice == RunDecision.Choice.QUALIFIED else "",
        findings=(*_findings(result), *_of_the_batch(result, exchanges, reference)),
        portion_taken_at=portion.at,
        attempt=portion.attempt,
        pretreatment=portion.decision.in_words,
        particle_density_g_cm3=density.particle_density_g_cm3,
        particle_density_measured=density.particle_density_measured,
        dispersant_g_l=batch.lot.in_cylinder_g_l(float(run.cylinder.volume_ml)),
        lot_code=batch.lot.code,
        temperatures_c=(min(temperatures) + correction_c, max(temperatures) + correction_c)
        if temperatures
        else None,
        last_measured_at=max(moments, default=None),
    )


def _findings(result: Result) -> tuple[SignedFinding, ...]:
    """All stops, and warnings and notes not taken off by a reviewer's note; then the pair of duplicates."""
    found = [
        SignedFinding(flag.code, flag.severity, flag.sentence)
        for flag in result.flags.select_related("review")
        if not hasattr(flag, "review") or flag.review.printed or flag.severity == Flag.Severity.STOP
    ]
    pair = review_in_force(result)
    if pair is not None:
        found.append(SignedFinding(DUPLICATE_OUTSIDE_LIMIT, pair.severity, pair.sentence))
    return tuple(found)


def _of_the_batch(
    result: Result, exchanges: Mapping[str, Sequence[Finding]], reference: Sequence[Finding]
) -> Iterator[SignedFinding]:
    """What stands beside the figures and no finding of the run says: an exchange considered, no reference soil."""
    if decision_of(result) not in WITH_FIGURES:
        return
    for found in (*exchanges.get(result.run.title, ()), *reference):
        yield SignedFinding(found.code, found.severity.value, found.sentence)
