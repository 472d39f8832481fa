"""
What a kept verdict and the causes beside it stand on: they are shown again only while all of this is as it was.

In the batch: its records, its instruments, who worked in it. Elsewhere: limits, answers to points, the blanks and
reference soils before it, the rule on duplicates. What is only added to is counted; what can change is written out.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import F, Func, IntegerField, QuerySet, Subquery
from django.db.models.functions import JSONObject
from django.utils import timezone

from batches.balance.models import Weighing
from batches.bench.models import Reading, Replunge
from batches.causes.models import CauseAnswer
from batches.computing.models import ComputationRequest, Result
from batches.equipment.models import Instrument
from batches.exchanging.models import Exchange, ExchangeUndone, LeftOut, LeftOutLifted
from batches.limits.models import LimitsVersion, PointAnswer
from batches.limits.points import blank_runs, moment_of, reference_runs
from batches.planning.freshness import DoneInBatch
from batches.planning.models import Batch, BatchMove, Run
from batches.quality.models import PairReview
from batches.quality.verdict import BLANKS_BEFORE
from batches.review.examination import ExaminedRun
from batches.review.models import Approval, FlagReview, QualityLook, RunDecision
from batches.voiding.models import RunVoid, VoidLifted
from particles.distribution import ENGINE_VERSION
from particles.models import (
    Laboratory,
    MethodEditionRecord,
    Portion,
    Preparation,
    ReferenceSoil,
    ReferenceSoilUsedUp,
)
from particles.records.act import Side, acts_in_batches

WORDING = 4
"""Goes up whenever a line of the verdict is worded or judged otherwise, so that none is shown as it was kept."""
ANSWERS_ALONE = {BatchMove, CauseAnswer, FlagReview, RunDecision, PairReview, QualityLook, Approval}
"""Kinds of act on which no line of the verdict rests: what a reviewer says to it, and the state of the batch."""
STATE = {"state", "approved_by_id", "approved_at", "approved_digest"}


def standing_of(batch: Batch, runs: Sequence[ExaminedRun], done: DoneInBatch) -> str:
    """
    Digest of all that the verdict on a batch stands on.

    Taken before the verdict is judged: what changes in between makes a kept verdict old, never a stale one current.
    """
    kinds = {kind for side in Side for kind in acts_in_batches(side)} - ANSWERS_ALONE
    used: list[Instrument] = [batch.hydrometer, batch.thermometer, *_cylinders(runs)]
    basis = {
        "rule": [WORDING, ENGINE_VERSION, batch.method.code],
        "batch": {
            f.attname: getattr(batch, f.attname)
            for f in batch._meta.concrete_fields
            if f.attname not in STATE
        },
        "done": {kind._meta.label: done.many_of(kind) for kind in kinds},
        "workers": {pk: str(done.people.get(pk)) for pk in done.workers},
        "runs": [known_of(each) for each in runs],
        "instruments": [[str(each), each.due_on, each.withdrawn_on] for each in used],
        "elsewhere": _elsewhere(batch),
    }
    return hashlib.sha256(json.dumps(basis, sort_keys=True, default=str).encode()).hexdigest()


def known_of(each: ExaminedRun) -> list[Any]:
    """What verdict and causes know of one run: its records, its result, what is said of its soil."""
    portion, sample = each.run.portion, each.run.sample
    assert portion is not None
    result = None if each.result is None else [each.result.pk, each.result.inputs_digest]
    return [
        each.run.title,
        each.inputs_digest,
        result,
        portion.decision.field_texture,
        portion.duplicate_of_id,
        sample.client_label,
        sample.depth_text,
    ]


def _cylinders(runs: Sequence[ExaminedRun]) -> list[Instrument]:
    return [run.cylinder for run in (*(each.blank for each in runs[:1]), *(each.run for each in runs))]


def _elsewhere(batch: Batch) -> dict[str, Any]:
    """What the verdict stands on beside the batch, in one query."""
    blanks, soils = blank_runs(until=moment_of(batch)), reference_runs()
    newest = blanks.values("pk")[:BLANKS_BEFORE]
    of_blanks = Batch.objects.filter(pk__in=blanks.values("batch")[:BLANKS_BEFORE]).values("pk")
    exchanges = Exchange.objects.filter(first__batch__in=of_blanks)
    left_out = LeftOut.objects.filter(run__batch__in=of_blanks)
    answered_by = get_user_model()._default_manager.filter(pk__in=PointAnswer.objects.values("by"))
    of_soils = Portion.objects.filter(reference_soil__isnull=False)
    counted: dict[str, QuerySet[Any]] = {
        "limits": LimitsVersion.objects.all(),
        "limits_in_force": LimitsVersion.objects.filter(in_force_from__lte=timezone.now()),
        "answers": PointAnswer.objects.all(),
        "editions": MethodEditionRecord.objects.all(),
        "readings": Reading.objects.filter(run__in=newest),
        "stirrings": Replunge.objects.filter(run__in=newest),
        "exchanges": exchanges,
        "exchanges_undone": ExchangeUndone.objects.filter(exchange__in=exchanges.values("pk")),
        "exchanged_readings": Reading.objects.filter(run__batch__in=exchanges.values("first__batch")),
        "left_out": left_out,
        "left_out_lifted": LeftOutLifted.objects.filter(left_out__in=left_out.values("pk")),
        "voids": RunVoid.objects.filter(run__in=newest),
        "lifted": VoidLifted.objects.filter(void__run__in=newest),
        "reference_runs": soils,
        "reference_requests": ComputationRequest.objects.filter(run__in=soils.values("pk")),
        "reference_results": Result.objects.filter(run__in=soils.values("pk")),
        "requests": ComputationRequest.objects.filter(run__batch=batch),
        "soils": ReferenceSoil.objects.all(),
        "soils_used_up": ReferenceSoilUsedUp.objects.all(),
        "soil_portions": of_soils,
        "soil_weighings": Weighing.objects.filter(portion__in=of_soils.values("pk")),
        "soil_preparations": Preparation.objects.filter(sample__reference_soil__isnull=False),
    }
    told = {
        **{name: _number_of(rows) for name, rows in counted.items()},
        "blanks": ArraySubquery(newest),
        "reference_sum": Subquery(_summed(soils), output_field=IntegerField()),
        "answered_by": ArraySubquery(
            answered_by.order_by("pk").values(name=JSONObject(a="first_name", b="last_name", c="username"))
        ),
        "duplicates": Subquery(Laboratory.objects.order_by("pk").values("samples_per_duplicate")[:1]),
    }
    return dict(
        Batch.objects.filter(pk=batch.pk).values(**{f"in_{name}": each for name, each in told.items()})[0]
    )


def _number_of(rows: QuerySet[Any]) -> Subquery:
    counted = rows.order_by().annotate(number=Func(F("pk"), function="COUNT")).values("number")
    return Subquery(counted, output_field=IntegerField())


def _summed(rows: QuerySet[Run]) -> QuerySet[Any, Any]:
    """Sum of primary keys, which tells two sets of one size apart."""
    return rows.order_by().annotate(sum=Func(F("pk"), function="SUM")).values("sum")
