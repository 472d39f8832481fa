"""What is said of a certificate while the laboratory looks again at work behind it; no figure and no inner reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.nonconforming.models import SETTLED_IN
from reports.certificates.models import Certificate, CertificateResult
from reports.content.build import day_in_words


@dataclass(frozen=True)
class Doubt:
    """Samples of one certificate whose figures are in doubt, by laboratory number."""

    since: datetime
    looked_at: tuple[str, ...]
    """Samples whose batch is open again."""
    fallen: tuple[str, ...]
    """Samples whose batch is settled, and whose figures are not those of the certificate any more."""

    @property
    def sentence(self) -> str:
        """What a client reads."""
        since, found = day_in_words(self.since), []
        if self.looked_at:
            found.append(
                f"Since {since} the laboratory is looking again at the figures of {_named(self.looked_at)}. "
                "Do not rely on them until that is settled."
            )
        if self.fallen:
            found.append(
                f"The laboratory has looked again at the figures of {_named(self.fallen)}, in doubt since {since}. "
                "They do not stand as they are here."
            )
        return " ".join(found)

    @property
    def next_step(self) -> str:
        """What follows."""
        if self.looked_at:
            return "When it is settled this note goes, or another certificate takes the place of this one."
        return "Another certificate takes the place of this one."


@dataclass(frozen=True)
class Stood:
    """Samples of one certificate that were looked at again and came out as they were."""

    since: datetime
    settled: datetime
    lab_numbers: tuple[str, ...]
    of_all: bool
    """Whether these are all samples of the certificate."""

    @property
    def sentence(self) -> str:
        """What a client reads."""
        first, last = day_in_words(self.since), day_in_words(self.settled)
        days = f"on {first}" if first == last else f"from {first} to {last}"
        said = f"ooked at again {days}; the figures stand."
        return f"L{said}" if self.of_all else f"{_named(self.lab_numbers).capitalize()}: l{said}"


def stood_on(certificates: Sequence[Certificate]) -> dict[str, list[Stood]]:
    """What was looked at again and stood, by the number of its certificate, in order of the days."""
    numbers = [each.number for each in certificates]
    rows = CertificateResult.stood().filter(certificate__number__in=numbers).order_by("since", "pk")
    found: dict[str, dict[tuple[datetime, datetime], list[str]]] = {}
    for number, since, settled, sample in rows.values_list(
        "certificate__number", "since", "settled", "result__run__portion__sample__lab_number"
    ):
        found.setdefault(number, {}).setdefault((since, settled), []).append(sample)
    return {
        each.number: [
            Stood(*days, tuple(sorted(samples)), len(samples) == len(each.context["samples"]))
            for days, samples in found[each.number].items()
        ]
        for each in certificates
        if each.number in found
    }


def _named(lab_numbers: tuple[str, ...]) -> str:
    return f"sample{'s' if len(lab_numbers) > 1 else ''} {', '.join(lab_numbers)}"


def doubt_of(certificate: Certificate) -> Doubt | None:
    """The doubt about an issued certificate; None where there is none, or something has replaced or withdrawn it."""
    rows = CertificateResult.doubted().filter(certificate=certificate)
    by_sample: dict[str, tuple[datetime, str]] = {
        number: (since, state)
        for number, since, state in rows.order_by("since").values_list(
            "result__run__portion__sample__lab_number", "since", "result__run__batch__state"
        )
    }
    if not by_sample:
        return None
    settled = {number for number, (_, state) in by_sample.items() if state in SETTLED_IN}
    return Doubt(
        min(since for since, _ in by_sample.values()),
        tuple(sorted(by_sample.keys() - settled)),
        tuple(sorted(settled)),
    )
