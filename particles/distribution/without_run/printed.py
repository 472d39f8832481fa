"""A figure as somebody printed it: its digits tell how far it was rounded."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation


@dataclass(frozen=True, slots=True)
class Printed:
    """A decimal and the step of its last digit."""

    text: str
    value: Decimal
    step: Decimal
    """1 of '24', 0.1 of '24.0'."""

    @classmethod
    def of(cls, text: str) -> Printed:
        """
        The figure of a text with a decimal point or comma.

        Raises
        ------
        ValueError when it is no plain decimal.

        >>> Printed.of("24,0").step, Printed.of("24").half_step
        (Decimal('0.1'), Decimal('0.5'))
        """
        try:
            value = Decimal(text.strip().replace(",", "."))
        except InvalidOperation:
            raise ValueError(f"{text!r} is no number") from None
        exponent = value.as_tuple().exponent
        if not isinstance(exponent, int) or "e" in text.lower():
            raise ValueError(f"{text!r} is no plain number")
        return cls(text, value, Decimal(1).scaleb(min(exponent, 0)))

    @property
    def half_step(self) -> Decimal:
        """How far rounding can have moved it."""
        return self.step / 2

    def agrees_with(self, computed: float) -> bool:
        """Whether it can be a figure that was rounded so; exactly half a step counts as rounded."""
        return abs(Decimal(repr(computed)) - self.value) <= self.half_step
