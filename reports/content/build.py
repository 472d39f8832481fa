"""Builds the frozen content of a certificate from stored results and records. No figure is computed again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime

from django.utils import timezone

from batches.causes.models import CauseAnswer
from batches.review.signed import SignedBatch, SignedFinding, SignedSample, signed_samples
from particles.distribution import (
    CurvePoint,
    Estimate,
    Fractions,
    MethodEdition,
    Severity,
    client_words,
    detection_of,
    round_to_total,
)
from particles.distribution.explained.notes import UNCONFIRMED
from particles.distribution.spoken import spoken_time
from particles.distribution.triple import SandSiltClay
from particles.models import Job, Laboratory, Sample, SampleState
from particles.records.person import Person
from particles.records.refusals import NotPossible
from reports.content.context import (
    NOT_DETERMINED,
    ON_A_LINE,
    CertificateContext,
    CurveRow,
    FractionRow,
    PartOfJob,
    QualifierRow,
    SampleSection,
)
from reports.content.effects import NAMED_BELOW, OWN_WORDS, effect_of, remark_of
from reports.content.reasons import why_no_figures

DAY = "%-d %B %Y"
LEAST_CHANCE = 0.01
NOT_RECORDED = "not recorded"
WITHOUT_FIGURES = "no figures reported"
WITH_A_NOTE = {"run_void", "seen"}
"""Codes of findings whose sentence ends in somebody's own words, in brackets."""
NOTE_IN_SENTENCE = re.compile(r" \(.*\)(?=\.$)", re.DOTALL)
QUALIFIED = "qualified by the laboratory"

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
    "was taken. A fraction not above 1.645 of its standard uncertainties is printed as less than 3.29 of them, "
    "with a chance of 5 % for either error (decision limit and detection limit)."
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
    of_part: Sequence[Sample] | None = None,
    part: PartOfJob | None = None,
    part_statement: str = "",
) -> CertificateContext:
    """
    Content of a certificate of a job, what changed left open. Figures come from stored results only.

    Parameters
    ----------
    of_part : the samples of one part of the job; None for all of them.
    part : which part that is and what is not in it.
    part_statement : the sentence that says which part it is and what is still to come.
    """
    laboratory = Laboratory.objects.first()
    if laboratory is None:
        raise NotPossible("Nothing is known of the laboratory yet. Enter its name and address first.")
    samples = list(of_part) if of_part is not None else reportable_samples(job, amending=bool(replaces))
    signed = signed_samples(samples)
    batches = {each.batch.number: each.batch for each in signed}
    edition = job.method.edition
    shared = _shared_notes(signed)
    return CertificateContext(
        number=number,
        revision=revision,
        part=part,
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
        approved_by=", ".join(sorted({b.approved_by for b in batches.values()})),
        approved_on=", ".join(sorted({day_in_words(b.approved_at) for b in batches.values()})),
        method_title=edition.title,
        method_code=edition.code,
        method_statements=method_statements(edition, shared),
        deviations=_deviations(batches),
        uncertainty_statement=_UNCERTAINTY,
        statements=(part_statement, *_STATEMENTS) if part_statement else _STATEMENTS,
        samples=tuple(_section(s, r, _own_notes(r, shared)) for s, r in zip(samples, signed, strict=True)),
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
    times = ", ".join(spoken_time(s) for s in edition.schedule_s)
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


def _shared_notes(signed: Sequence[SignedSample]) -> list[str]:
    """
    Notes that every run with printed figures has, in order, less those that are printed with each sample.

    Runs without figures say less of how theirs came about, and would otherwise push all of it onto every sample.
    """
    computed = [each for each in signed if each.distribution is not None]
    printed = [each for each in computed if each.is_reported]
    notes_of_runs = [each.distribution.notes for each in printed or computed if each.distribution is not None]
    if not notes_of_runs:
        return []
    everywhere = set(notes_of_runs[0]).intersection(*notes_of_runs[1:])
    return [note for note in notes_of_runs[0] if note in everywhere and may_be_printed(note)]


def _own_notes(signed: SignedSample, shared: Sequence[str]) -> list[str]:
    """Notes that only this run has, and no other place of the certificate prints."""
    if signed.distribution is None or not signed.is_reported:
        return []
    return [note for note in signed.distribution.notes if note not in shared and may_be_printed(note)]


def may_be_printed(note: str) -> bool:
    """Whether a note stands nowhere else on the certificate and rests on rules that were read at their source."""
    return not note.startswith(_NOT_PRINTED_HERE) and UNCONFIRMED not in note


def _deviations(batches: Mapping[str, SignedBatch]) -> tuple[str, ...]:
    return tuple(
        f"Soak of {batch.soaked_h:.1f} h instead of {batch.edition.soak_minimum_h:g} h in {batch.title}: "
        f"{batch.soak_note}."
        for _, batch in sorted(batches.items())
        if batch.soaked_h is not None and batch.soaked_h < batch.edition.soak_minimum_h
    )


def _section(sample: Sample, signed: SignedSample, remarks: Sequence[str]) -> SampleSection:
    result, distribution = signed.result, signed.distribution
    shown = distribution if signed.is_reported else None
    fractions = shown.fractions if shown else None
    texture = shown.texture if shown else None
    preparation = sample.preparation
    prepared = sample.preparations.order_by("pk").first()
    first_at = min(prepared.at, signed.portion_taken_at) if prepared else signed.portion_taken_at
    how = "measured" if signed.particle_density_measured else "assumed"
    rows = fraction_rows(fractions, signed.batch.edition)
    return SampleSection(
        lab_number=sample.lab_number,
        client_label=sample.client_label,
        depth=sample.depth_text,
        condition=sample.condition or "no remark",
        sampled_on=sample.sampled_on.strftime(DAY) if sample.sampled_on else "not stated by the client",
        received_on=day_in_words(sample.job.received_at),
        tested_from=day_in_words(first_at),
        tested_to=NOT_RECORDED if signed.last_measured_at is None else day_in_words(signed.last_measured_at),
        pretreatment=signed.pretreatment,
        attempt=signed.attempt,
        oven_dry_mass_g=_number(distribution.oven_dry_mass_g if distribution else None, 2),
        particle_density=f"{signed.particle_density_g_cm3:.2f} g/cm³ ({how})",
        dispersant=f"sodium hexametaphosphate, {signed.dispersant_g_l:.2f} g/L, "
        f"lot {signed.lot_code}, mixed {signed.batch.mixing_minutes:g} min",
        temperature_range=_temperatures(signed),
        gravel_pct=_number(preparation.gravel_pct if preparation else None, 1),
        reported=fractions is not None,
        fractions=rows,
        below_detection_note=below_detection_note(rows),
        texture_class=texture.name + (ON_A_LINE if texture.on_the_line else "") if texture else "",
        texture_system=texture.system if texture else "",
        class_chances=", ".join(f"{name} {100 * p:.0f} %" for name, p in texture.chances if p >= LEAST_CHANCE)
        if texture
        else "",
        qualifiers=_qualifiers(signed) + tuple(_remark(note) for note in remarks),
        curve=tuple(_curve_row(p) for p in shown.curve) if shown and fractions else (),
        sand_pct=fractions.sand.value_pct if fractions else None,
        silt_pct=fractions.silt.value_pct if fractions else None,
        clay_pct=fractions.clay.value_pct if fractions else None,
        inputs_digest=result.inputs_digest,
        engine_version=result.engine_version,
        seed=int(result.seed) if result.seed.isdigit() else None,
    )


def fraction_rows(fractions: Fractions | None, edition: MethodEdition) -> tuple[FractionRow, ...]:
    """Whole percent that total 100, and “< x” for what the run does not tell from nothing; classed before rounding."""
    if fractions is None:
        return ()
    rounded = round_to_total(list(fractions.percents), decimals=0)
    limits = size_limits_in_words(edition)
    limits["sand"] += f", by {fractions.sand_by}"
    return tuple(
        _fraction_row(name, limits[name], estimate, _whole(value))
        for name, estimate, value in zip(SandSiltClay._fields, fractions.estimates, rounded, strict=True)
    )


def _fraction_row(name: str, limits: str, estimate: Estimate, value_pct: str) -> FractionRow:
    found = detection_of(estimate)
    below = found is not None and found.below_detection
    limit_pct = NOT_DETERMINED if found is None else f"{found.whole_limit_pct}"
    return FractionRow(
        name=name,
        limits=limits,
        printed_pct=f"< {limit_pct}" if below else value_pct,
        interval_pct=interval_in_words(estimate),
        value_pct=value_pct,
        below_detection=below,
        detection_limit_pct=limit_pct,
    )


def below_detection_note(rows: Sequence[FractionRow]) -> str:
    """
    What “<” means on this sample, and how the three figures total 100 with it; '' when every figure is printed.

    What is left of 100 is told as it was computed, since the limits behind “<” are no amounts and total nothing.
    """
    below = [row for row in rows if row.below_detection]
    if not below:
        return ""
    computed = " and ".join(f"{row.value_pct} % {row.name}" for row in below)
    return (
        "“<” stands before the detection limit of this run: a soil that held so much would have been told from one "
        f"that holds none in 95 of 100 such runs. Computed were {computed}, with which the three figures total 100 %; "
        "the texture class is taken from the computed figures, unrounded."
    )


def interval_in_words(estimate: Estimate) -> str:
    """Ends of the 95 % interval in whole percent. A negative end is printed as it is."""
    if estimate.low_pct is None or estimate.high_pct is None:
        return NOT_DETERMINED
    return f"{_whole(estimate.low_pct)} to {_whole(estimate.high_pct)}"


def _whole(value_pct: float) -> str:
    """A figure in whole percent, with a true minus sign; one that rounds to nothing has no sign."""
    return f"{round(value_pct) + 0}".replace("-", "−")


def _qualifiers(signed: SignedSample) -> tuple[QualifierRow, ...]:
    """Name each finding that stands in the client's words of the catalogue; one without such words is not printed."""
    named = [(client_words(finding.code), finding) for finding in signed.findings]
    rows = [
        QualifierRow(
            words, f.severity, _for_client(f), effect_of(f.code, f.severity, reported=signed.is_reported)
        )
        for words, f in named
        if words is not None
    ]
    if signed.without_figures:
        why = why_no_figures(_kinds_behind(signed))
        rows.insert(0, QualifierRow(WITHOUT_FIGURES, "stop", why, NAMED_BELOW))
    if signed.qualifier:
        rows.insert(0, QualifierRow(QUALIFIED, "warn", signed.qualifier, OWN_WORDS))
    return tuple(rows)


def _remark(note: str) -> QualifierRow:
    """What a run says of how its figures came about, named for what it is about."""
    title, effect = remark_of(note)
    return QualifierRow(title, "note", note, effect)


def _for_client(finding: SignedFinding) -> str:
    """The sentence of a finding, less what somebody at the bench noted for the laboratory."""
    return NOTE_IN_SENTENCE.sub("", finding.sentence) if finding.code in WITH_A_NOTE else finding.sentence


def _kinds_behind(signed: SignedSample) -> list[str]:
    """Kinds of the causes for which a reviewer reports a sample without figures, then codes of its stops."""
    run = signed.result.run
    newest = {answer.key: answer for answer in run.batch.cause_answers.order_by("pk")}
    causes = [
        answer.kind
        for answer in newest.values()
        if answer.choice == CauseAnswer.Choice.WITHOUT_FIGURES and run.title in answer.labels
    ]
    return [*causes, *(finding.code for finding in signed.findings if finding.severity == Severity.STOP)]


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


def _temperatures(signed: SignedSample) -> str:
    if signed.temperatures_c is None:
        return NOT_RECORDED
    lowest_c, highest_c = signed.temperatures_c
    return f"{lowest_c:.1f} to {highest_c:.1f} °C"
