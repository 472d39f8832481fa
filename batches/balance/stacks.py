"""Every sieving of a portion with its sum, and what is lost beyond the limit of the edition."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from batches.balance.models import Purpose, SieveMass, Weighing
from particles.distribution import Finding, MethodEdition, Severity, Sieving, sieving_findings
from particles.distribution import SieveMass as SieveMassRecord
from particles.models import Portion


@dataclass(frozen=True)
class Stack:
    """One sieving: what went on, what stayed where. [g]"""

    attempt: int
    washed_g: Decimal
    pan_g: Decimal
    masses: list[SieveMass]
    is_newest: bool
    method: MethodEdition
    """The edition whose limits hold."""

    @property
    def sum_g(self) -> Decimal:
        """Mass found after sieving: all sieves and the pan. [g]"""
        return sum((mass.retained_g for mass in self.masses), self.pan_g)

    @property
    def loss_g(self) -> Decimal:
        """Mass lost in sieving, negative when more came off than went on. [g]"""
        return self.washed_g - self.sum_g

    @property
    def loss_pct(self) -> float | None:
        """Loss of the sieving in percent of what went on the stack; None when nothing did. [%]"""
        return float(100 * self.loss_g / self.washed_g) if self.washed_g else None

    @property
    def limit_pct(self) -> float:
        """Loss that the edition allows. [%]"""
        return self.method.limits.sieve_loss_pct

    @property
    def stop(self) -> Finding | None:
        """What keeps the figures of this sieving from being certified: too much lost or gained; None when nothing."""
        sieves = tuple(SieveMassRecord(float(m.opening_um), float(m.retained_g)) for m in self.masses)
        found = sieving_findings(
            Sieving(float(self.washed_g), sieves, float(self.pan_g)),
            None,
            self.method.limits,
            self.method.uncertainties.sieve_mass_g,
        )
        return next((each for each in found if each.severity is Severity.STOP), None)


def stacks_of(portion: Portion) -> list[Stack]:
    """Every sieving of a portion, the newest last; uses what was fetched for the portion."""
    masses = sorted(portion.sieve_masses.all(), key=lambda mass: (mass.attempt, -mass.opening_um))
    weighed: dict[tuple[int, str], Weighing] = {(w.entry_id, w.purpose): w for w in portion.weighings.all()}
    attempts = sorted({mass.attempt for mass in masses})
    method = portion.sample.job.method.edition
    found = []
    for attempt in attempts:
        of_attempt = [mass for mass in masses if mass.attempt == attempt]
        washed, pan = (
            weighed[(of_attempt[0].entry_id, p)].mass_g for p in (Purpose.WASHED_SAND, Purpose.PAN)
        )
        found.append(Stack(attempt, washed, pan, of_attempt, attempt == attempts[-1], method))
    return found
