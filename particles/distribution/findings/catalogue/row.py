"""A row of the catalogue of findings: what one code means, and every word that goes with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from string import Formatter
from typing import Any

from particles.distribution.answer import Severity
from particles.distribution.spoken import spoken_share, spoken_time

NUMBER = "number"
"""Field of a template that stands for the number of the finding itself."""
TIME = "time"
"""Format of a field in seconds that is said as a time."""
ONE_IN = "one_in"
"""Format of a field in percent that is said as one in so many."""
COMMON = "*common practice*"
NOISE = "*common practice*; beyond reading noise only (decision 0004)"
LATE_RISE = (
    "salts, gel, crystals at the stem or the instrument. The run is void; wash the soil and analyse it again with a "
    "smaller portion."
)
"""What a late rise means and what is done then; *common practice*."""
OWN_NOISE = "reading noise (decision 0004)"
RECORDED = "as recorded, no threshold"


class CatalogueError(LookupError):
    """A finding that the catalogue does not know, or does not know like this: a mistake in the program."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Sentence and next step of a finding as templates of `said` with named fields."""

    sentence: str
    next_step: str
    unit: str | None = None
    """Of the number with this wording; None: that of the row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Everything that is known of one code before any run is looked at."""

    code: str
    title: str
    """What it is, for the people of the laboratory: a phrase in plain words without a full stop."""
    client: str | None
    """The phrase that stands for it on a certificate; None: it is never printed there."""
    severities: tuple[Severity, ...]
    """Every severity it may have, the lightest first."""
    wordings: Mapping[str, Wording]
    """Variant -> wording; '' is the variant of a code with one only."""
    number: str
    """What its number is; '' for a finding without a number."""
    unit: str
    """Unit of that number; '' for none, or for one in scale units."""
    limits: tuple[str, ...]
    """Limits it reads, as `limits.FIELD` of a `QualityLimits`, `edition.FIELD` of a `MethodEdition`, or
    `module:CONSTANT`, the module below `particles.distribution` unless it begins with the name of an app."""
    source: str
    """Where limit and rule come from."""

    def wording(self, variant: str) -> Wording:
        """
        The wording of a variant.

        Raises
        ------
        CatalogueError when the row has no such variant.
        """
        if variant not in self.wordings:
            raise CatalogueError(f"{self.code} has no wording {variant!r}, only {sorted(self.wordings)}")
        return self.wordings[variant]


def one(sentence: str, next_step: str) -> dict[str, Wording]:
    """The wordings of a code that always says the same sentence."""
    return several(next_step, **{"": sentence})


def several(next_step: str, **sentences: str) -> dict[str, Wording]:
    """The wordings of a code with several sentences (variant -> template) and one next step."""
    return {variant: Wording(sentence=text, next_step=next_step) for variant, text in sentences.items()}


class _Words(Formatter):
    """`str.format` with two formats more: `{elapsed_s:time}` says seconds, `{number:one_in}` percent as people do."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """The words of one field."""
        if format_spec == ONE_IN:
            return spoken_share(value)
        return spoken_time(value) if format_spec == TIME else str(super().format_field(value, format_spec))


def said(template: str, values: Mapping[str, object]) -> str:
    """
    A template with its fields filled in.

    >>> said("{number:.1f} g/L at {elapsed_s:time}", {"number": 2.04, "elapsed_s": 5400.0})
    '2.0 g/L at 90 min'
    """
    return _Words().vformat(template, (), values)


@cache
def fields_of(template: str) -> frozenset[str]:
    """
    Names of the fields in a template.

    >>> sorted(fields_of("{number:.1f} g at {elapsed_s:time}"))
    ['elapsed_s', 'number']
    """
    return frozenset(name for _, name, _, _ in Formatter().parse(template) if name is not None)
