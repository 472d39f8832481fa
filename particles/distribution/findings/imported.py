"""Fractions that were typed or imported instead of computed here."""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.record import Finding, Severity

SUM_FROM_TO_PCT = (98.0, 102.0)


def imported_fractions_findings(parts_pct: Sequence[float]) -> list[Finding]:
    """
    imported_sum, imported_out_of_range: whether parts can be those of one soil.

    Parameters
    ----------
    parts_pct : (n,) such as sand, silt and clay, as given. [%]

    Returns
    -------
    Stop findings, empty when the parts are plausible; nothing is scaled to 100.
    """
    found: list[Finding] = []
    total = round(sum(parts_pct), 6)
    low, high = SUM_FROM_TO_PCT
    if not low <= total <= high:
        sentence = f"The fractions add up to {total:g} %, {total - 100.0:+g} from 100."
        step = (
            "Look at the rows around it before blaming one value; ask for the figures again, never rescale."
        )
        found.append(Finding("imported_sum", Severity.STOP, sentence, step, total, "%"))
    for part in parts_pct:
        if not 0.0 <= part <= 100.0:
            sentence = f"A fraction of {part:g} % is given; 0 to 100 % is possible."
            step = "Ask for the figure again."
            found.append(Finding("imported_out_of_range", Severity.STOP, sentence, step, part, "%"))
    return found
