"""What a batch is judged by: each run's record and figures beside what is known of its soil from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from batches.balance.advice import good_masses_g, weighing_advice
from batches.balance.models import Purpose
from batches.corrections.models import density_in_force
from batches.planning.models import Run
from batches.review.examination import ExaminedRun
from particles.distribution.causes.evidence import BatchEvidence, ByHand, ControlOutcome, RunEvidence
from particles.models import Sample
from particles.preparation.field_texture import usda_class_by_feel

ON_PURPOSE = 0.02
"""A mass so near to another good one of the table was weighed on purpose. [share]"""
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


def evidence_of(
    runs: Sequence[ExaminedRun], controls: Sequence[ControlOutcome], *, at: datetime
) -> BatchEvidence:
    """The evidence of a batch, its runs in the order of their cylinders."""
    titles = {each.run.portion_id: each.run.title for each in runs}
    places = _places([each.run.sample for each in runs])
    return BatchEvidence(
        tuple(_of_run(each, titles, places, at) for each in runs), controls=tuple(controls), scanned=False
    )


def _of_run(
    each: ExaminedRun, titles: dict[int | None, str], places: dict[int, str], at: datetime
) -> RunEvidence:
    portion = each.run.portion
    assert portion is not None, "the blank is not judged as a soil"
    return RunEvidence(
        record=each.record,
        distribution=each.distribution,
        by_hand=_by_hand(portion.decision.field_texture),
        asked_mass_g=_asked_mass_g(each.run, at),
        duplicate_of=titles.get(portion.duplicate_of_id) if portion.duplicate_of_id else None,
        profile=places.get(portion.sample_id, ""),
        depth_cm=middle_depth_cm(portion.sample.depth_text),
    )


def _by_hand(field_texture: str) -> ByHand | None:
    """The class that was felt; None where none of the twelve was noted."""
    named = usda_class_by_feel(field_texture)
    return None if named is None else ByHand(named=named)


def _asked_mass_g(run: Run, at: datetime) -> float | None:
    """Mass of the page of the weighing, or the good one that was weighed instead; None when nothing was predicted."""
    portion, batch = run.portion, run.batch
    assert portion is not None
    weighed = [w for w in portion.weighings.all() if w.purpose == Purpose.PORTION]
    if not weighed:
        return None
    density = float(density_in_force(portion).particle_density_g_cm3)
    advice = weighing_advice(portion.decision.field_texture, batch.method, run, density, at).predicted
    if advice is None:
        return None
    weighed_g = float(max(weighed, key=lambda w: w.attempt).mass_g)
    near = (good for good in good_masses_g(advice) if abs(weighed_g / good - 1) <= ON_PURPOSE)
    return float(next(near, advice.recommended.mass_g))


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
