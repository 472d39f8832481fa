"""Builds the frozen content of a certificate from stored results and records. No figure is computed again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from batches.bench.rules import current_readings
from batches.corrections.models import density_in_force, filling_in_force
from batches.models import Flag, Result, Run
from batches.quality.pairs import DUPLICATE_OUTSIDE_LIMIT, review_in_force
from batches.review.models import RunDecision
from batches.review.rules import decision_of, signed_results
from particles.distribution import CurvePoint, Estimate, MethodEdition, client_words, round_to_total
from particles.distribution.explained.notes import UNCONFIRMED
from particles.models import Job, Laboratory, Portion, Sample, SampleState
from particles.records.person import Person
from particles.records.refusals import NotPossible
from reports.content.context import (
    ON_A_LINE,
    CertificateContext,
    CurveRow,
    FractionRow,
    QualifierRow,
    SampleSection,
)

DAY = "%-d %B %Y"
LEAST_CHANCE = 0.01
NOT_RECORDED = "not recorded"
ON_THE_COMPUTATION = "note on these figures"
"""Stands for what a run says of how its figures came about."""
WITHOUT_FIGURES = "no figures reported"

_STATEMENTS = (
    "The results relate only to the samples tested, as received. The laboratory did not take the samples.",
    "Labels, depths, sampling dates and origins are the client's information.",
    "This certificate shall not be reproduced except in full without written approval of the laboratory.",
)
_NOT_PRINTED_HERE = ("Portion mass", "Particle density", "Gravel", "The curve of the whole sample")
"""Beginnings of notes that stand with each sample, or speak of a curve the certificate does not carry."""
_UNCERTAINTY = (
    "Intervals are 95 % coverage intervals by Monte Carlo propagation (GUM Supplement 1). They cover reading, blank, "
    "mass, moisture, sieve masses and openings, particle density, volume, temperature, depth, time and reading off "
    "between points, and the stated between-run part for dispersion and subsampling. They do not cover how the sample "
    "was taken."
)


def reportable_samples(job: Job, *, amending: bool = False) -> list[Sample]:
    """
    The job's samples in the client's order, all of them approved; refuses while one is not.

    An amended certificate also carries those that were reported and not analysed again.
    """
    left_out = (SampleState.REFUSED, SampleState.CANCELLED)
    ready = {SampleState.APPROVED, SampleState.REPORTED} if amending else {SampleState.APPROVED}
    samples = list(job.samples.exclude(state__in=left_out).order_by("line"))
    waiting = [f"{s.lab_number} is “{s.state}”" for s in samples if s.state not in ready]
    if waiting:
        raise NotPossible(f"Not every sample of {job} is approved: {'; '.join(waiting)}.")
    if not samples:
        raise NotPossible(f"{job} has no sample to report.")
    return samples


def results_of(samples: Sequence[Sample]) -> list[Result]:
    """
    The results a reviewer signed for the samples' latest portions, in the order of the samples; a duplicate is compared
    and never reported.

    A batch takes no entries once it is approved, so the request in force is the one that was signed, whatever
    engine this program has by now.
    """
    of = (
        Portion.objects.filter(sample__in=samples, duplicate_of__isnull=True)
        .select_related("run__batch")
        .order_by("attempt")
    )
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


def build_context(
    job: Job,
    *,
    number: str,
    by: Person,
    at: datetime,
    check_url: str,
    check_code: str,
    revision: int = 0,
    replaces: str = "",
) -> CertificateContext:
    """Content of a certificate of a job, what changed left open. Figures come from stored results only."""
    laboratory = Laboratory.objects.first()
    if laboratory is None:
        raise NotPossible("Nothing is known of the laboratory yet. Enter its name and address first.")
    samples = reportable_samples(job, amending=bool(replaces))
    results = results_of(samples)
    approvals = {r.run.batch for r in results}
    edition = job.method.edition
    shared = _shared_notes(results)
    return CertificateContext(
        number=number,
        revision=revision,
        replaces=replaces,
        what_changed="",
        laboratory_name=laboratory.name,
        laboratory_address=laboratory.address,
        laboratory_contact=laboratory.contact,
        where_done=f"At the laboratory, {laboratory.address}",
        invented=laboratory.invented,
        client_name=job.client.name,
        client_address=job.client.address,
        client_contact=job.client.contact,
        client_reference=job.client_reference,
        job_number=job.number,
        issued_on=day_in_words(at),
        issued_at=at.isoformat(timespec="seconds"),
        authorised_by=str(by),
        authorised_role=", ".join(by.roles),
        approved_by=", ".join(sorted({str(b.approved_by) for b in approvals})),
        approved_on=", ".join(sorted({day_in_words(b.approved_at) for b in approvals if b.approved_at})),
        method_title=edition.title,
        method_code=edition.code,
        method_statements=method_statements(edition, shared),
        deviations=_deviations(results),
        uncertainty_statement=_UNCERTAINTY,
        statements=_STATEMENTS,
        samples=tuple(_section(s, r, _own_notes(r, shared)) for s, r in zip(samples, results, strict=True)),
        check_url=check_url,
        check_code=check_code,
    )


def day_in_words(moment: datetime) -> str:
    """Day of a moment in the laboratory's time zone."""
    return timezone.localtime(moment).strftime(DAY)


def size_limits_in_words(edition: MethodEdition) -> dict[str, str]:
    """Size limits of sand, silt and clay in words, by fraction."""
    clay, sand = f"{edition.clay_limit_um:g} µm", f"{edition.sand_limit_um:g} µm"
    return {"sand": f"{sand} to 2 mm", "silt": f"{clay} to {sand}", "clay": f"finer than {clay}"}


def method_statements(edition: MethodEdition, shared: Sequence[str]) -> tuple[str, ...]:
    """Sentences of the certificate on how the method edition measures and where it comes from."""
    limits = "; ".join(f"{name} {words}" for name, words in size_limits_in_words(edition).items())
    times = ", ".join(_time_in_words(s) for s in edition.schedule_s)
    return (
        f"Size limits: {limits} (equivalent diameter).",
        f"Readings at {times} after stirring, at the upper edge of the meniscus, beside a blank read each time.",
        f"Effective depth: {edition.depth_rule}.",
        *shared,
        *(f"Source: {source}." for source in printed_sources(edition)),
    )


def printed_sources(edition: MethodEdition) -> tuple[str, ...]:
    """
    Sources a client can be told: none that was only remembered, and of a formula that was checked, the check.

    The schedule itself is printed among the statements, from memory or not.
    """
    return tuple(
        source.replace("from memory, checked against", "checked against")
        for source in edition.sources
        if not source.endswith("from memory")
    )


def _shared_notes(results: Sequence[Result]) -> list[str]:
    """
    Notes that every run with printed figures has, in order, less those that are printed with each sample.

    Runs without figures say less of how theirs came about, and would otherwise push all of it onto every sample.
    """
    computed = [r for r in results if r.distribution is not None]
    printed = [r for r in computed if decision_of(r) == RunDecision.Choice.REPORT]
    notes_of_runs = [r.distribution.notes for r in printed or computed if r.distribution is not None]
    if not notes_of_runs:
        return []
    everywhere = set(notes_of_runs[0]).intersection(*notes_of_runs[1:])
    return [note for note in notes_of_runs[0] if note in everywhere and may_be_printed(note)]


def _own_notes(result: Result, shared: Sequence[str]) -> list[str]:
    """Notes that only this run has, and no other place of the certificate prints."""
    distribution = result.distribution
    if distribution is None or decision_of(result) != RunDecision.Choice.REPORT:
        return []
    return [note for note in distribution.notes if note not in shared and may_be_printed(note)]


def may_be_printed(note: str) -> bool:
    """Whether a note stands nowhere else on the certificate and rests on rules that were read at their source."""
    return not note.startswith(_NOT_PRINTED_HERE) and UNCONFIRMED not in note


def _time_in_words(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:g} s"
    return f"{seconds / 60:g} min" if seconds < 4 * 3600 else f"{seconds / 3600:.3g} h"


def _deviations(results: Sequence[Result]) -> tuple[str, ...]:
    batches = {r.run.batch for r in results}
    return tuple(
        f"Soak of {b.soaked_h:.1f} h instead of {b.method.edition.soak_minimum_h:g} h in {b}: "
        f"{filling_in_force(b).soak_note}."
        for b in sorted(batches, key=lambda b: b.number)
        if b.soaked_h is not None and b.soaked_h < b.method.edition.soak_minimum_h
    )


def _section(sample: Sample, result: Result, remarks: Sequence[str]) -> SampleSection:
    run = result.run
    portion, batch = run.portion, run.batch
    assert portion is not None
    reported = decision_of(result) == RunDecision.Choice.REPORT
    distribution = result.distribution
    shown = distribution if reported else None
    fractions = shown.fractions if shown else None
    texture = shown.texture if shown else None
    preparation = sample.preparation
    prepared = sample.preparations.order_by("pk").first()
    density = density_in_force(portion)
    how = "measured" if density.particle_density_measured else "assumed"
    return SampleSection(
        lab_number=sample.lab_number,
        client_label=sample.client_label,
        depth=sample.depth_text,
        condition=sample.condition or "no remark",
        sampled_on=sample.sampled_on.strftime(DAY) if sample.sampled_on else "not stated by the client",
        received_on=day_in_words(sample.job.received_at),
        tested_from=day_in_words(min(prepared.at, portion.at) if prepared else portion.at),
        tested_to=_last_day(run),
        pretreatment=portion.decision.in_words,
        attempt=portion.attempt,
        oven_dry_mass_g=_number(distribution.oven_dry_mass_g if distribution else None, 2),
        particle_density=f"{density.particle_density_g_cm3:.2f} g/cm³ ({how})",
        dispersant=f"sodium hexametaphosphate, {batch.lot.in_cylinder_g_l(float(run.cylinder.volume_ml)):.2f} g/L, "
        f"lot {batch.lot.code}, mixed {filling_in_force(batch).mixing_minutes:g} min",
        temperature_range=_temperatures(run),
        gravel_pct=_number(preparation.gravel_pct if preparation else None, 1),
        reported=fractions is not None,
        fractions=_fraction_rows(fractions, batch.method.edition),
        texture_class=texture.name + (ON_A_LINE if texture.on_the_line else "") if texture else "",
        texture_system=texture.system if texture else "",
        class_chances=", ".join(f"{name} {100 * p:.0f} %" for name, p in texture.chances if p >= LEAST_CHANCE)
        if texture
        else "",
        qualifiers=_qualifiers(result)
        + tuple(QualifierRow(ON_THE_COMPUTATION, "note", note) for note in remarks),
        curve=tuple(_curve_row(p) for p in shown.curve) if shown and fractions else (),
        sand_pct=fractions.sand.value_pct if fractions else None,
        silt_pct=fractions.silt.value_pct if fractions else None,
        clay_pct=fractions.clay.value_pct if fractions else None,
        inputs_digest=result.inputs_digest,
        engine_version=result.engine_version,
        seed=int(result.seed) if result.seed.isdigit() else None,
    )


def _fraction_rows(fractions: Any, edition: MethodEdition) -> tuple[FractionRow, ...]:
    """Whole percent that total 100; the class was taken before rounding."""
    if fractions is None:
        return ()
    named: dict[str, Estimate] = {"sand": fractions.sand, "silt": fractions.silt, "clay": fractions.clay}
    rounded = round_to_total([e.value_pct for e in named.values()], decimals=0)
    limits = size_limits_in_words(edition)
    limits["sand"] += f", by {fractions.sand_by}"
    return tuple(
        FractionRow(name, limits[name], _whole(value), interval_in_words(estimate))
        for (name, estimate), value in zip(named.items(), rounded, strict=True)
    )


def interval_in_words(estimate: Estimate) -> str:
    """Ends of the 95 % interval in whole percent. A negative end is printed as it is."""
    if estimate.low_pct is None or estimate.high_pct is None:
        return "not determined"
    return f"{_whole(estimate.low_pct)} to {_whole(estimate.high_pct)}"


def _whole(value_pct: float) -> str:
    """A figure in whole percent, with a true minus sign; one that rounds to nothing has no sign."""
    return f"{round(value_pct) + 0}".replace("-", "−")


def _qualifiers(result: Result) -> tuple[QualifierRow, ...]:
    """
    Every flag that prints: all stops, and warnings and notes not taken off by a reviewer's note.

    Each is named in the client's words of the catalogue; one without such words is never printed.
    """
    named = [
        (client_words(flag.code), flag)
        for flag in result.flags.select_related("review")
        if not hasattr(flag, "review") or flag.review.printed or flag.severity == Flag.Severity.STOP
    ]
    rows = [QualifierRow(words, flag.severity, flag.sentence) for words, flag in named if words is not None]
    pair = review_in_force(result)
    words = client_words(DUPLICATE_OUTSIDE_LIMIT)
    if pair is not None and words is not None:
        rows.append(QualifierRow(words, pair.severity, pair.sentence))
    decision = result.decisions.order_by("-pk").first()
    if decision is not None and decision.choice == RunDecision.Choice.WITHOUT_FIGURES:
        rows.insert(0, QualifierRow(WITHOUT_FIGURES, "stop", f"No figures are reported: {decision.note}"))
    return tuple(rows)


def _curve_row(point: CurvePoint) -> CurveRow:
    return CurveRow(
        point.diameter_um,
        point.percent_finer,
        point.source,
        f"{point.diameter_um:.3g}" if point.diameter_um < 1000 else f"{point.diameter_um:.0f}",
        _whole(point.percent_finer),
    )


def _number(value: float | None, decimals: int) -> str:
    return NOT_RECORDED if value is None else f"{value:.{decimals}f}"


def _temperatures(run: Run) -> str:
    values = [r.temperature_c for r in current_readings(run) if r.temperature_c is not None]
    if not values:
        return NOT_RECORDED
    correction = run.batch.thermometer.correction_c
    return f"{min(values) + correction:.1f} to {max(values) + correction:.1f} °C"


def _last_day(run: Run) -> str:
    assert run.portion is not None
    moments = [r.taken_at for r in current_readings(run) if r.taken_at is not None]
    for rows in (run.portion.weighings, run.portion.sieve_masses):
        moments += rows.values_list("at", flat=True)
    return day_in_words(max(moments)) if moments else NOT_RECORDED
