"""
Scores of one result in a proficiency round: z, z', zeta and E_n, and what they ask for.

Formulas and limits: ISO 13528 as restated by the sources S21 to S25 of fixtures/reference/proficiency.json. Where
exactly 3 belongs they disagree: public reports call |z| >= 3 unsatisfactory, the reference pages only |z| > 3. Here 3
is unsatisfactory, the stricter of the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, sqrt

from batches.quality.robust import algorithm_a

QUESTIONABLE_FROM, UNSATISFACTORY_FROM = 2.0, 3.0
"""|z|, |z'| and |zeta| up to and with 2 are satisfactory, from 3 on unsatisfactory (S25). [-]"""
E_N_LIMIT = 1.0
"""|E_n| beyond it is unsatisfactory (S24). [-]"""
COVERAGE = 2.0
"""Expanded uncertainties of E_n are so many standard uncertainties: E_n is then half of zeta. [-]"""
SHARE_OF_SIGMA = 0.3
"""From a larger uncertainty of the assigned value on, z' takes the place of z. *From memory*, ISO 13528. [-]"""
ROBUST_MEAN_FACTOR = 1.25
"""u(X) of a robust mean is 1.25 s*/√p. *From memory*, ISO 13528. [-]"""
LEAST_PARTICIPANTS = 6
"""Fewer values give no robust spread worth its name. *Common practice*."""
DIGITS = 9
"""A score is judged as rounded so: 2.6/1.3 is 2, whatever binary fractions make of 27.4 - 24.8."""


class Verdict(StrEnum):
    """What a score says of a result."""

    SATISFACTORY = "satisfactory"
    QUESTIONABLE = "questionable"
    UNSATISFACTORY = "unsatisfactory"


GRAVITY = list(Verdict)


@dataclass(frozen=True, slots=True)
class Assigned:
    """The assigned value of a round's report, with what results are held against. [%]"""

    value_pct: float
    sigma_pt_pct: float
    """Standard deviation for proficiency assessment, above 0."""
    uncertainty_pct: float = 0.0
    """Standard uncertainty of the assigned value; 0 where the report gives none."""

    @property
    def is_uncertain(self) -> bool:
        """Whether the assigned value is too uncertain for z, so that z' judges."""
        return self.uncertainty_pct > SHARE_OF_SIGMA * self.sigma_pt_pct


@dataclass(frozen=True, slots=True)
class Scores:
    """The scores of one result; zeta and E_n need its own uncertainty."""

    z: float
    z_prime: float
    zeta: float | None
    e_n: float | None
    judged_by: str
    """'z', or "z'" where the assigned value is uncertain."""

    @property
    def is_by_z(self) -> bool:
        """Whether z judges, and not z'."""
        return self.judged_by == "z"

    @property
    def verdict(self) -> Verdict:
        """The verdict on the result against what the round expects of laboratories."""
        return verdict_of(self.z if self.is_by_z else self.z_prime)

    @property
    def verdict_on_uncertainty(self) -> Verdict | None:
        """The verdict on the result against its own stated uncertainty, by zeta; None without one."""
        return None if self.zeta is None else verdict_of(self.zeta)

    @property
    def verdict_by_e_n(self) -> Verdict | None:
        """The verdict by E_n, which knows no middle; None without an uncertainty."""
        return None if self.e_n is None else verdict_of_e_n(self.e_n)

    @property
    def worst(self) -> Verdict:
        """The gravest of the verdicts: it decides whether an answer in words is asked for."""
        found = [self.verdict, self.verdict_on_uncertainty, self.verdict_by_e_n]
        return max((each for each in found if each is not None), key=GRAVITY.index)

    @property
    def sentence(self) -> str:
        """What the scores mean together."""
        apart = self.verdict is not Verdict.SATISFACTORY
        unsure = self.verdict_by_e_n is Verdict.UNSATISFACTORY
        if apart and unsure:
            return "The result lies off the assigned value, by more than its own uncertainty explains."
        if apart:
            return "The result lies off the assigned value; its stated uncertainty covers that, so it may be too wide."
        if unsure:
            return (
                "The result is good enough for the round, yet its stated uncertainty does not reach to the assigned "
                "value: it may be too narrow."
            )
        return "The result agrees with the assigned value."


def scores(value_pct: float, uncertainty_pct: float | None, assigned: Assigned) -> Scores:
    """
    Score one result.

    Parameters
    ----------
    value_pct : the laboratory's result, as locked. [%]
    uncertainty_pct : its standard uncertainty; None where none was stated. [%]

    >>> found = scores(27.4, 0.9, Assigned(24.8, 1.3, 0.35))
    >>> round(found.z, 4), round(found.z_prime, 4), round(found.zeta, 4), round(found.e_n, 4), found.judged_by
    (2.0, 1.9312, 2.6925, 1.3462, 'z')
    """
    apart = value_pct - assigned.value_pct
    both = None if uncertainty_pct is None else hypot(uncertainty_pct, assigned.uncertainty_pct)
    return Scores(
        z=apart / assigned.sigma_pt_pct,
        z_prime=apart / hypot(assigned.sigma_pt_pct, assigned.uncertainty_pct),
        zeta=apart / both if both else None,
        e_n=apart / (COVERAGE * both) if both else None,
        judged_by="z'" if assigned.is_uncertain else "z",
    )


def verdict_of(score: float) -> Verdict:
    """
    The verdict by z, z' or zeta.

    >>> [verdict_of(score).value for score in (-2.0, 2.001, -2.999, 3.0)]
    ['satisfactory', 'questionable', 'questionable', 'unsatisfactory']
    """
    size = round(abs(score), DIGITS)
    if size <= QUESTIONABLE_FROM:
        return Verdict.SATISFACTORY
    return Verdict.QUESTIONABLE if size < UNSATISFACTORY_FROM else Verdict.UNSATISFACTORY


def verdict_of_e_n(score: float) -> Verdict:
    """
    The verdict by E_n.

    >>> verdict_of_e_n(1.0).value, verdict_of_e_n(-1.001).value
    ('satisfactory', 'unsatisfactory')
    """
    beyond = round(abs(score), DIGITS) > E_N_LIMIT
    return Verdict.UNSATISFACTORY if beyond else Verdict.SATISFACTORY


@dataclass(frozen=True, slots=True)
class Participants:
    """The participants' values of one figure in a round, summed up robustly. [%]"""

    count: int
    mean_pct: float
    sd_pct: float

    @property
    def uncertainty_pct(self) -> float:
        """Standard uncertainty of the robust mean. [%]"""
        return uncertainty_of_robust_mean(self.sd_pct, self.count)

    def disagrees_with(self, assigned: Assigned) -> bool:
        """Whether the participants' middle and the assigned value lie apart by more than both are unsure of."""
        unsure_pct = hypot(self.uncertainty_pct, assigned.uncertainty_pct)
        return abs(self.mean_pct - assigned.value_pct) > COVERAGE * unsure_pct


def uncertainty_of_robust_mean(sd: float, count: int) -> float:
    """
    Standard uncertainty of a robust mean of so many values.

    >>> round(uncertainty_of_robust_mean(1.4, 18), 4)
    0.4125
    """
    return ROBUST_MEAN_FACTOR * sd / sqrt(count)


def sum_up(values_pct: Sequence[float]) -> Participants | None:
    """
    Robust mean and spread of the participants' values, by algorithm A until nothing moves; None with too few.

    The standard's own printed example stops after the fourth iteration, with a spread 3 % smaller than here.
    """
    if len(values_pct) < LEAST_PARTICIPANTS:
        return None
    found = algorithm_a(values_pct)
    return Participants(len(values_pct), found.mean, found.sd)
