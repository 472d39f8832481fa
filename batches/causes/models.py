"""Causes as they were found in a batch, and the reviewer's answers to them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.planning.models import Batch
from particles.records.act import Act, Side
from particles.records.history import audited, never_changed
from particles.records.sentence import LEAST_OF_A_SENTENCE


@audited
class CauseList(models.Model):
    """The causes found in a batch as it was recorded at one moment; the newest list is the one in force."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="cause_lists")
    digest = models.CharField(max_length=64, help_text="Of everything the causes were found in.")
    causes = models.JSONField()
    asks = models.JSONField(help_text="Key of each cause that asks for something: what it asks for.")
    told = models.JSONField(
        default=dict, help_text="Key of each cause: what an answer to it answers, as `what_it_tells` has it."
    )
    odd = models.JSONField(
        default=list, help_text="Label and finding of each value that was kept though odd."
    )
    verdict = models.JSONField(
        null=True, blank=True, help_text="What quality control said; empty where it was not kept."
    )
    standing = models.CharField(
        max_length=64, blank=True, help_text="Digest of all the verdict stands on; it holds while that is so."
    )
    found_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"causes in {self.batch}"


@audited
class CauseAnswer(Act):
    """A reviewer's answer to one cause, for all its runs: a note, or a decision with what it rests on."""

    batch_path = "batch"
    side = Side.REVIEW

    class Choice(models.TextChoices):
        """The answers to a cause."""

        NOTED = "noted", "noted, the figures are reported"
        STAND = "figures stand", "the figures stand, because of evidence beyond this batch"
        REPEAT = "repeat", "analyse the marked samples again with a new portion"
        WITHOUT_FIGURES = "without figures", "report the marked samples without figures, saying why"

    class Evidence(models.TextChoices):
        """What figures may stand on when a cause speaks against them."""

        FELT = "felt again", "texture felt again"
        SECOND_READING = "second reading", "a second reading of the same cylinder"
        COMPARED = "compared", "bench sheet or photograph compared"
        RETAINED = "retained soil", "retained soil run again"
        SECOND_PORTION = "second portion", "a second portion of the sample, analysed and on record"
        WEIGHED = "weighed again", "weighed again, or the balance’s print compared"
        CONTROL = "control again", "the control was run again"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="cause_answers")
    key = models.CharField(max_length=16)
    kind = models.CharField(max_length=48)
    severity = models.CharField(max_length=4)
    needs = models.CharField(max_length=8, help_text="What the cause asked for when it was answered.")
    sentence = models.TextField(help_text="What the cause said when it was answered.")
    choice = models.CharField(max_length=16, choices=Choice.choices)
    evidence = models.CharField(max_length=16, choices=Evidence.choices, blank=True)
    note = models.CharField(max_length=500)
    told = models.JSONField(
        null=True, blank=True, help_text="What was answered; empty for an answer from before that was kept."
    )
    labels = models.JSONField(default=list, help_text="Runs whose figures do not leave by this answer.")
    rest_evidence = models.CharField(
        max_length=16,
        choices=Evidence.choices,
        blank=True,
        help_text="What the figures of runs left out of the decision stand on.",
    )
    rest_note = models.CharField(max_length=500, blank=True)
    printed = models.BooleanField(default=True, help_text="Its warnings are printed; stops always are.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(note=""), name="an_answer_has_words"),
            models.CheckConstraint(
                condition=~Q(needs="decision") | ~Q(choice="noted"), name="a_decision_is_no_mere_note"
            ),
            models.CheckConstraint(
                condition=~Q(needs="decision", choice="figures stand") | ~Q(evidence=""),
                name="figures_stand_on_evidence",
            ),
            models.CheckConstraint(
                condition=Q(rest_evidence="", rest_note="") | (~Q(rest_evidence="") & ~Q(rest_note="")),
                name="runs_left_out_stand_on_evidence_and_words",
            ),
            models.CheckConstraint(
                condition=~Q(needs="decision") | Q(note__regex=LEAST_OF_A_SENTENCE),
                name="a_decision_takes_a_sentence",
            ),
        ]
        triggers = [never_changed()]

    def __str__(self) -> str:
        return f"answer to “{self.kind}” in {self.batch}"
