"""
One invented batch from the client's list to the issued certificate.

Each step is the function the screens call, by the person whose step it is. Only the readings
are invented (see `soils`), and the clock of the past days is told to the functions.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from random import Random
from uuid import uuid4

from batches.causes.kept import causes_in_force
from batches.causes.rules import answer_cause, cannot_stand, evidence_that_speaks_to
from batches.entries.door import receive
from batches.limits.keys import ChartKey
from batches.limits.points import REFERENCE as REFERENCE_FIGURES
from batches.limits.rules import enter_limits
from batches.models import (
    Balance,
    Batch,
    CauseAnswer,
    ComputationRequest,
    Cylinder,
    DispersantLot,
    HydrometerRecord,
    RequestState,
    Thermometer,
)
from batches.models import Run as BenchRun
from batches.planning.rules import (
    add_duplicate,
    more_portions_due_by,
    plan_batch,
    start_soak,
    unweighed_chosen,
)
from batches.review import rules as approval
from batches.review.examination import examine
from labsite.demonstration.laboratory import METHOD, SECRET, person
from labsite.demonstration.soils import BULK, SOILS, Soil, blank_reading_g_l, reading_g_l
from labsite.people.roles import Role
from particles.distribution.causes.cause import Needs
from particles.models import Client, Job, MethodEditionRecord, Portion, ReferenceSoil, Sample
from reports.certificates.models import Certificate
from reports.certificates.rules import issue_certificate

REFERENCE = "HE-spring"
SIEVED = "Drift field B"
ASSIGNED_SD_PCT = Decimal("1.3")
"""Invented, about what the laboratory's duplicates give. [percentage points]"""
SIEVES_UM = (1000, 500, 250, 100, 53)
NOTHING_REMOVED = {
    "organic_matter_pct": "1.4",
    "conductivity_ds_m": "0.12",
    "fizz": "none",
    "remove_organic_matter": "leave",
    "remove_carbonates": "leave",
    "remove_soluble_salts": "leave",
    "reason": "Organic matter below 2 %, no salts, no fizz.",
}
Tell = Callable[[str], None]


class StoryError(RuntimeError):
    """A step of the demonstration was refused, which it should not be."""


class Story:
    """One batch of invented soils, from the client's list to the issued certificate, through the real doors."""

    def __init__(self, *, now: datetime, tell: Tell, seed: int = 7) -> None:
        self.now = now
        self.tell = tell
        self.random = Random(seed)
        self.draw = Random(seed)
        self.soils = {soil.label: soil for soil in (*SOILS, BULK)}
        self.clerk, self.technician = person(Role.RECEIVING_CLERK), person(Role.TECHNICIAN)
        self.qa_officer, self.manager = person(Role.QA_OFFICER), person(Role.MANAGER)

    def tell_all(self, wait_for_worker: Callable[[Batch], None]) -> Certificate:
        """The whole life of the batch; returns the certificate."""
        job = self.receive()
        portions = [self.prepare(sample) for sample in job.samples.order_by("line")]
        self.keep_reference_soil()
        batch = self.fill(portions)
        self.read(batch)
        self.sieve(batch)
        self.tell("waiting for the worker to compute the distributions")
        wait_for_worker(batch)
        self.review(batch)
        self.tell("issuing the certificate")
        return issue_certificate(job, by=self.manager, at=self.now, secret=SECRET)

    def ago(self, *, days: float) -> datetime:
        return self.now - timedelta(days=days)

    def receive(self) -> Job:
        self.tell(f"logging a job of {len(SOILS)} samples, and accepting them")
        at = self.ago(days=6)
        job = Job.log(
            client=Client.objects.get(name="Hollin Estate"),
            client_reference=REFERENCE,
            method=MethodEditionRecord.objects.get(code=METHOD),
            lines=[
                {
                    "client_label": soil.label,
                    "depth_text": "0-25 cm",
                    "origin_country": "Examplia",
                    "sampled_on": self.ago(days=9).date(),
                }
                for soil in SOILS
            ],
            by=self.clerk,
            at=at,
        )
        for sample in job.samples.all():
            sample.accept(by=self.clerk, at=at)
        return job

    def keep_reference_soil(self) -> None:
        """Enter the laboratory's own bulk soil, once, with values from an invented document."""
        if ReferenceSoil.objects.exists():
            return
        self.tell("entering the laboratory's own reference soil, with its assigned values")
        at = self.ago(days=5)
        own, _ = Client.objects.get_or_create(
            name="Brackwater Lane itself", defaults={"address": "7 Brackwater Lane", "contact": "QA"}
        )
        method = MethodEditionRecord.objects.get(code=METHOD)
        line = {"client_label": BULK.label, "origin_country": "Examplia"}
        bag = Job.log(client=own, method=method, lines=[line], by=self.clerk, at=at).samples.get()
        bag.accept(by=self.clerk, at=at)
        self.dry_and_decide(bag, fine_earth_g="18000")
        kept = {"name": "Sandbank", "kind": "sandy", "container": "Bin 1, 18 kg (invented)"}
        self.assign(ReferenceSoil.enter(bag, **kept, by=self.qa_officer, at=at), method, at)

    def assign(self, soil: ReferenceSoil, method: MethodEditionRecord, at: datetime) -> None:
        """Give the reference soil its sand and clay, each as the first version of the limits of a chart."""
        root = MethodEditionRecord.roots()[method.pk]
        truth_pct = {"sand": 100 - BULK.finer_than_pct(50), "clay": BULK.finer_than_pct(2)}
        for quantity in REFERENCE_FIGURES:
            enter_limits(
                ChartKey(quantity, soil.pk, root),
                centre=Decimal(f"{truth_pct[quantity.fraction]:.2f}"),
                sd=ASSIGNED_SD_PCT,
                in_force_from=at,
                document="Twenty runs of the last two years (invented)",
                reason="The assigned value with which the demonstration begins.",
                seen=0,
                by=self.manager,
                at=at,
            )

    def dry_and_decide(self, sample: Sample, *, fine_earth_g: str) -> None:
        soil, at = self.soils[sample.client_label], self.ago(days=5)
        masses_g = {"fine_earth_g": fine_earth_g, "gravel_g": "4.5"}
        drying = {"drying_temperature_c": "38", "drying_hours": "40", "crushing": "by hand"}
        self.send("preparation", at, sample=sample.pk, **drying, **masses_g)
        felt = {"field_texture": soil.field_texture, **soil.by_hand}
        self.send("pretreatment", at, sample=sample.pk, **felt, **NOTHING_REMOVED)

    def prepare(self, sample: Sample) -> Portion:
        self.tell(f"{sample.lab_number} {sample.client_label}: drying, pretreatment decision, weighing")
        at = self.ago(days=5)
        self.dry_and_decide(sample, fine_earth_g="640")
        self.send("portion", at, sample=sample.pk, density="assumed")
        portion = Portion.objects.select_related("sample__job").get(sample=sample)
        self.weigh(portion, at)
        return portion

    def weigh(self, portion: Portion, at: datetime) -> None:
        soil = self.soils[portion.sample.client_label]
        air_dry_g = 10.0
        oven_dry_g = air_dry_g / (1 + soil.moisture_pct / 100)
        self.send(
            "weighing",
            at,
            portion=portion.pk,
            balance=Balance.objects.get(serial="BA-1").pk,
            aimed_g=f"{soil.portion_g:.0f}",
            portion_g=f"{soil.portion_g:.2f}",
            tin_g="21.37",
            tin_air_dry_g=f"{21.37 + air_dry_g:.2f}",
            tin_oven_dry_g=f"{21.37 + oven_dry_g:.2f}",
        )

    def fill(self, portions: list[Portion]) -> Batch:
        at, method = self.ago(days=4), portions[0].sample.job.method
        needed = len(portions) + 1 + more_portions_due_by(method)(len(portions))
        batch = plan_batch(
            portions=portions,
            cylinders=list(Cylinder.objects.free()[:needed]),
            method=method,
            lot=DispersantLot.objects.filter(made_on__lte=at.date(), expires_on__gte=self.now.date())[0],
            hydrometer=HydrometerRecord.objects.get(serial="HY-07"),
            thermometer=Thermometer.objects.get(serial="TH-3"),
            by=self.technician,
            at=at,
            draw=self.draw,
        )
        free = Cylinder.objects.free().first()
        assert free is not None
        why = "A new mixer cup is in use (invented)."
        add_duplicate(batch, cylinder=free, reason=why, by=self.technician, at=at, draw=self.draw)
        chosen = unweighed_chosen(batch)
        for duplicate in chosen:
            self.weigh(duplicate, at)
        self.tell(
            f"{batch}: {len(portions)} portions, {len(chosen)} chosen by the program and a blank, soaked overnight, "
            "mixed, filled"
        )
        start_soak(batch, by=self.technician, at=at)
        filled_at = at + timedelta(hours=16)
        self.send("filling", filled_at, batch=batch.pk, mixing_minutes="5", to_the_line="on")
        batch.refresh_from_db()
        return batch

    def read(self, batch: Batch) -> None:
        schedule = batch.method.edition.schedule_s
        self.tell(f"{batch}: reading {batch.runs.count()} cylinders at {len(schedule)} times")
        first = self.ago(days=3)
        for run in batch.runs.order_by("position"):
            started_at = first + timedelta(minutes=4 * run.position)
            self.send("start", self.now, run=run.pk, started_at=started_at.isoformat(), source="paper")
            for slot_s in schedule:
                self.read_slot(run, int(slot_s))

    def read_slot(self, run: BenchRun, slot_s: int) -> None:
        late = self.random.uniform(0, 0.015) if slot_s > 60 else 0.0
        elapsed_s = round(slot_s * (1 + late), 1)
        temperature_c = round(20.5 + 0.4 * self.random.random() + (0.5 if slot_s > 40000 else 0.0), 1)
        typed = {
            "run": run.pk,
            "slot_s": slot_s,
            "elapsed_s": elapsed_s,
            "temperature_c": temperature_c,
            "source": "paper",
        }
        soil = None if run.portion is None else self.soils[run.portion.sample.client_label]
        if soil is not None and soil.label == "Low meadow" and slot_s == 60:
            self.send("reading", self.now, **typed, state="missed", reason="Called to the door at 60 s.")
            return
        value = self.value(run, soil, elapsed_s, temperature_c)
        if value > float(run.batch.hydrometer.scale_maximum):
            self.send("reading", self.now, **typed, state="above scale")
            return
        self.send("reading", self.now, **typed, state="read", reading=value)

    def value(self, run: BenchRun, soil: Soil | None, elapsed_s: float, temperature_c: float) -> float:
        true_c = temperature_c + float(run.batch.thermometer.correction_c)
        if soil is None:
            return blank_reading_g_l(true_c, self.random)
        dispersant_g_l = run.batch.lot.in_cylinder_g_l(float(run.cylinder.volume_ml))
        return reading_g_l(
            soil, run.batch.hydrometer.as_measured(), elapsed_s, true_c, dispersant_g_l, self.random
        )

    def sieve(self, batch: Batch) -> None:
        for run in batch.sample_runs.filter(portion__sample__client_label=SIEVED):
            self.sieve_one(run)

    def sieve_one(self, run: BenchRun) -> None:
        soil = self.soils[SIEVED]
        self.tell(f"{run.title}: washing out and sieving the sand")
        oven_dry_g = soil.portion_g / (1 + soil.moisture_pct / 100)
        edges = (2000, *SIEVES_UM)
        retained = {
            f"sieve_{fine}_g": oven_dry_g * (soil.finer_than_pct(coarse) - soil.finer_than_pct(fine)) / 100
            for coarse, fine in pairwise(edges)
        }
        pan_g = 0.12
        self.send(
            "sieve",
            self.ago(days=1.5),
            portion=run.portion_id,
            balance=Balance.objects.get(serial="BA-1").pk,
            washed_sand_g=f"{sum(retained.values()) + pan_g + 0.05:.2f}",
            pan_g=f"{pan_g:.2f}",
            **{name: f"{mass:.2f}" for name, mass in retained.items()},
        )

    def review(self, batch: Batch) -> None:
        self.tell(f"{batch}: submitted, flags reviewed and approved by somebody who did not work in it")
        batch.refresh_from_db()
        approval.submit(batch, by=self.technician, at=self.ago(days=1))
        batch.refresh_from_db()
        self.answer_everything(batch)
        approval.approve(batch, by=self.qa_officer, at=self.now, secret=SECRET)

    def answer_everything(self, batch: Batch) -> None:
        """Quality control, then every cause; what has a stop is reported without figures."""
        note = "Looked at the readings, the curve and the sheet; the sentence stands and is printed."
        approval.look_at_quality(batch, note=note, by=self.qa_officer, at=self.now)
        runs = {each.run.title: each for each in examine(batch)}
        found = causes_in_force(batch, list(runs.values()), at=self.now)
        for cause in (each.cause for each in found.causes if each.is_open):
            choice, evidence, labels = CauseAnswer.Choice.NOTED, "", []
            if cause.needs is Needs.DECISION:
                labels = cannot_stand(cause, runs)
                choice = CauseAnswer.Choice.WITHOUT_FIGURES if labels else CauseAnswer.Choice.STAND
                speaks, usual = evidence_that_speaks_to(cause), CauseAnswer.Evidence.COMPARED
                evidence = "" if labels else usual if usual in speaks else speaks[0]
            answer_cause(
                batch, cause.key, choice=choice, note=note, evidence=evidence, labels=labels,
                by=self.qa_officer, at=self.now,
            )  # fmt: skip

    def send(self, kind: str, at: datetime, **typed: object) -> None:
        """Send one entry as a page or a tablet does; a refusal ends the story with a StoryError."""
        content = {name: str(value) for name, value in typed.items()}
        answer = receive(uuid4(), kind, content, by=self.technician, at=at, device="demonstration")
        if not answer.stored:
            raise StoryError(f"A {kind} entry was refused: {answer.sentence}")


def open_requests(batch: Batch) -> dict[str, int]:
    """How many computations of a batch are in each state."""
    states = ComputationRequest.objects.filter(run__batch=batch).values_list("state", flat=True)
    return {state: list(states).count(state) for state in RequestState.values}
