"""What a batch is judged by: each run's record and figures beside what is known of its soil from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from batches.balance.advice import weighing_advice
from batches.balance.models import Weighing
from batches.corrections.models import density_in_force
from batches.limits.judging import version_at
from batches.limits.keys import ChartKey
from batches.limits.models import LimitsVersion
from batches.limits.points import REFERENCE
from batches.planning.models import Run
from batches.review.examination import ExaminedRun
from particles.distribution import SizeDistribution
from particles.distribution.causes.asked import asked_masses_g
from particles.distribution.causes.evidence import (
    Assigned,
    BatchEvidence,
    ByHand,
    RunEvidence,
)
from particles.distribution.findings.needed import with_left_out
from particles.distribution.triple import with_silt_between
from particles.models import MethodEditionRecord, PretreatmentDecision, Sample
from particles.preparation.field_texture import usda_class_by_feel

CM_PER_UNIT = {
    "cm": 1.0,
    "mm": 0.1,
    "dm": 10.0,
    "m": 100.0,
    "in": 2.54,
    "inch": 2.54,
    "inches": 2.54,
    "ft": 30.48,
}
_DEPTHS = re.compile(
    r"(?P<top>\d+(?:[.,]\d+)?)\s*(?:-|–|to|/)\s*(?P<bottom>\d+(?:[.,]\d+)?)\s*(?P<unit>[a-z]+)?",
    re.IGNORECASE,
)


def evidence_of(runs: Sequence[ExaminedRun], *, at: datetime) -> BatchEvidence:
    """The evidence of a batch, its runs in the order of their cylinders."""
    titles = {each.run.portion_id: each.run.title for each in runs}
    places = _places([each.run.sample for each in runs])
    assigned = {each.run.pk: assigned_to(each.run, at=at) for each in runs if each.run.is_reference}
    return BatchEvidence(
        tuple(
            _of_run(each, titles, places, asked_g, assigned.get(each.run.pk))
            for each, asked_g in zip(runs, _asked_g(runs, at), strict=True)
        ),
        scanned=False,
    )


def _of_run(
    each: ExaminedRun,
    titles: dict[int | None, str],
    places: dict[int, str],
    asked_g: float | None,
    assigned: Assigned | None,
) -> RunEvidence:
    portion = each.run.portion
    assert portion is not None, "the blank is not judged as a soil"
    return RunEvidence(
        record=each.record,
        distribution=_said_right(each),
        waits=each.waits_for_worker,
        by_hand=_by_hand(portion.decision),
        asked_mass_g=asked_g,
        duplicate_of=titles.get(portion.duplicate_of_id) if portion.duplicate_of_id else None,
        reference=assigned,
        profile=places.get(portion.sample_id, ""),
        depth_cm=middle_depth_cm(portion.sample.depth_text),
    )


def _said_right(each: ExaminedRun) -> SizeDistribution | None:
    """The figures of a run; readings that were left out on purpose are not said to be unknown."""
    left_out = each.arrangement.slots_left_out(each.run) if each.arrangement.left_out else []
    if each.distribution is None or not left_out:
        return each.distribution
    edition = each.run.batch.method.edition
    said = with_left_out(each.distribution.findings, each.record, edition, left_out)
    return replace(each.distribution, findings=said)


def assigned_to(run: Run, *, at: datetime) -> Assigned | None:
    """What a reference soil is known to hold by the limits in force; None before a person has entered both."""
    assert run.portion is not None, "a reference soil is a portion"
    assert run.portion.reference_soil_id is not None, "and says which"
    root = MethodEditionRecord.roots()[run.batch.method_id]
    keys = [ChartKey(quantity, run.portion.reference_soil_id, root) for quantity in REFERENCE]
    found = [version_at([version.limits for version in LimitsVersion.of(key)], at) for key in keys]
    by_fraction = {key.quantity.fraction: limits for key, limits in zip(keys, found, strict=True)}
    sand, clay = by_fraction["sand"], by_fraction["clay"]
    if sand is None or clay is None:
        return None
    return Assigned(
        with_silt_between(sand.centre, clay.centre),
        sand_sd_pct=sand.spread.at(sand.centre),
        clay_sd_pct=clay.spread.at(clay.centre),
    )


def _by_hand(decision: PretreatmentDecision) -> ByHand | None:
    """The class that was felt and the percentages it was taken for; None where neither was noted."""
    named = usda_class_by_feel(decision.field_texture)
    sand, clay = decision.sand_by_hand_pct, decision.clay_by_hand_pct
    if named is None and sand is None and clay is None:
        return None
    return ByHand(named, None if sand is None else float(sand), None if clay is None else float(clay))


def _asked_g(runs: Sequence[ExaminedRun], at: datetime) -> list[float | None]:
    """Air-dry mass that was meant for each portion; None where nothing tells. [g]"""
    aims_g = Weighing.aims_g(each.run.portion for each in runs if each.run.portion is not None)
    aimed = [aims_g.get(each.run.portion_id or 0) for each in runs]
    # A reference soil is weighed by its own habit, whatever the batch holds.
    guessed = asked_masses_g(
        [None if each.run.is_reference else each.record.air_dry_mass_g for each in runs],
        [None if aim else _advised_g(each.run, at) for aim, each in zip(aimed, runs, strict=True)],
    )
    return [aim or guess for aim, guess in zip(aimed, guessed, strict=True)]


def _advised_g(run: Run, at: datetime) -> float | None:
    """Mass that the page of the weighing advised; None when nothing was predicted. [g]"""
    portion, batch = run.portion, run.batch
    assert portion is not None
    density = float(density_in_force(portion).particle_density_g_cm3)
    advice = weighing_advice(portion.decision.field_texture, batch.method, run, density, at).predicted
    return None if advice is None else float(advice.recommended.mass_g)


def middle_depth_cm(text: str) -> float | None:
    """
    Middle of a depth as a client writes it; None where no two depths with a known unit stand in it. [cm]

    >>> middle_depth_cm("0-30 cm"), middle_depth_cm("12 to 20 in"), middle_depth_cm("topsoil")
    (15.0, 40.64, None)
    """
    found = _DEPTHS.search(text)
    if found is None:
        return None
    factor = CM_PER_UNIT.get((found["unit"] or "").lower())
    if factor is None:
        return None
    top, bottom = (float(found[name].replace(",", ".")) for name in ("top", "bottom"))
    return round(factor * (top + bottom) / 2, 2)


def _places(samples: Sequence[Sample]) -> dict[int, str]:
    """
    Name of the place of each sample that shares it with another of its job, from the words of its label.

    Samples below each other carry one label but for the depth, or but for a last word, and differ in depth.
    """
    found: dict[int, str] = {}
    for words in (_without_depth, _without_last_word):
        groups: dict[str, list[Sample]] = {}
        for sample in {each.pk: each for each in samples}.values():
            if sample.pk not in found:
                groups.setdefault(f"{sample.job_id} {words(sample)}", []).append(sample)
        for place, members in groups.items():
            depths = [middle_depth_cm(each.depth_text) for each in members]
            if len(members) > 1 and None not in depths and len(set(depths)) == len(depths):
                found |= {each.pk: place for each in members}
    return found


def _without_depth(sample: Sample) -> str:
    return " ".join(_DEPTHS.sub(" ", sample.client_label).lower().split())


def _without_last_word(sample: Sample) -> str:
    """The label but for a last short word, as the letter of a horizon is; with no other word the label itself."""
    words = _without_depth(sample).replace("-", " ").replace("/", " ").split()
    return " ".join(words[:-1] if len(words) > 1 and len(words[-1]) <= 3 else words)
