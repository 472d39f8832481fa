"""What a batch has to say to a correction of what was recorded of its samples before the bench."""

from __future__ import annotations

from typing import Any

from batches.planning.models import CLOSED, Batch, Run
from batches.review.models import FlagReview
from particles.models import Sample
from particles.records.refusals import NotThisPerson


def run_under_way(sample: Sample) -> Run | None:
    """Where the sample's newest portion stands, unless that batch is closed."""
    portion = sample.portion
    if portion is None:
        return None
    return (
        Run.objects.filter(portion=portion).exclude(batch__state__in=CLOSED).select_related("batch").first()
    )


def require_open_batch(sample: Sample, *, by: Any) -> None:
    """
    Lock the batch the sample stands in until the transaction ends; refuse who reviewed flags in it.

    The batch is locked before the sample, as everywhere. Whether it may still be corrected is the sample's to say.
    """
    run = run_under_way(sample)
    if run is None:
        return
    require_no_reviewer(run.batch.lock(), by=by)


def require_no_reviewer(batch: Batch, *, by: Any) -> None:
    if FlagReview.objects.filter(flag__result__run__batch=batch, by=by).exists():
        raise NotThisPerson(f"{by} has reviewed flags of {batch} and corrects nothing in it any more.")
