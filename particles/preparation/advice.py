"""
Advice on pretreatment from what was measured and seen. A person decides.

Thresholds are common practice: organic matter above 2 %, conductivity of
the 1:5 extract above 0.5 dS/m (customary, 0.5 to 1), carbonates only when asked for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

ORGANIC_MATTER_PCT = Decimal(2)
CONDUCTIVITY_DS_M = Decimal("0.5")
CARBONATES = "carbonates"


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice on a pretreatment."""

    subject: str
    """organic matter, carbonates or soluble salts"""
    remove: bool | None
    """None: nothing measured, or the client decides."""
    sentence: str


def advise(
    organic_matter_pct: Decimal | None,
    conductivity_ds_m: Decimal | None,
    fizz: str,
    wish: str = "",
    *,
    flocculated: bool = False,
) -> tuple[Advice, Advice, Advice]:
    """
    One piece of advice each for organic matter, carbonates and soluble salts.

    Parameters
    ----------
    organic_matter_pct : of the soil finer than 2 mm, None if not measured. [%]
    conductivity_ds_m : of the 1:5 extract, None if not measured. [dS/m]
    fizz : "none", "weak", "strong" or "not tried".
    wish : the client's words on pretreatment.
    flocculated : whether an earlier portion of the sample flocculated in its cylinder.
    """
    return (
        _on_organic_matter(organic_matter_pct),
        _on_carbonates(fizz, wish_on_carbonates(wish)),
        _on_salts(conductivity_ds_m, flocculated=flocculated),
    )


def _on_organic_matter(measured_pct: Decimal | None) -> Advice:
    subject = "organic matter"
    if measured_pct is None:
        return Advice(
            subject, None, "Not measured. Dark froth or a floating film while soaking speaks for removal."
        )
    if measured_pct > ORGANIC_MATTER_PCT:
        return Advice(subject, True, f"{measured_pct} % is above {ORGANIC_MATTER_PCT} %: consider removal.")
    return Advice(subject, False, f"{measured_pct} % is not above {ORGANIC_MATTER_PCT} %: leave.")


def _on_salts(measured_ds_m: Decimal | None, *, flocculated: bool) -> Advice:
    subject = "soluble salts"
    if flocculated:
        said = "" if measured_ds_m is None else f" Measured: {measured_ds_m} dS/m."
        return Advice(
            subject,
            True,
            f"An earlier portion flocculated: wash the salts out before dispersing this one.{said}",
        )
    if measured_ds_m is None:
        return Advice(subject, None, "Not measured. Crystals, or flocs in the cylinder, speak for washing.")
    if measured_ds_m > CONDUCTIVITY_DS_M:
        return Advice(
            subject,
            True,
            f"{measured_ds_m} dS/m is above {CONDUCTIVITY_DS_M} dS/m: wash, and watch for flocs.",
        )
    return Advice(subject, False, f"{measured_ds_m} dS/m is not above {CONDUCTIVITY_DS_M} dS/m: leave.")


def _on_carbonates(fizz: str, wanted: Literal["remove", "leave"] | None) -> Advice:
    seen = {
        "none": "No fizz: no carbonates to be seen.",
        "weak": "Weak fizz: some carbonates are present.",
        "strong": "Strong fizz: carbonates are present.",
    }.get(fizz, "Fizz not tried.")
    if wanted == "leave":
        return Advice(CARBONATES, False, f"{seen} The client wants them kept: leave.")
    if fizz == "none":
        return Advice(CARBONATES, False, f"{seen} Leave.")
    if wanted == "remove":
        return Advice(CARBONATES, True, f"{seen} The client asks for removal.")
    return Advice(
        CARBONATES, None if fizz == "not tried" else False, f"{seen} Remove only if the client asks."
    )


_SUBJECT = r"(carbonates?|lime|caco3|calcite)"
_KEEP = (
    r"(keep|kept|leave|left|retain\w*|preserve\w*"
    r"|(do not|don't|not|no|without)( be)?( to)? (remov\w*|dissolv\w*))"
)
_REMOVE = r"(remov\w*|dissolv\w*|free|destroy\w*)"


def wish_on_carbonates(wish: str) -> Literal["remove", "leave"] | None:
    """The client's wish on carbonates as its words say it; None if they say nothing of it, or both."""
    answers: set[Literal["remove", "leave"]] = set()
    for clause in re.split(r"[,;.]|\bbut\b|\band\b", wish.lower()):
        if not re.search(_SUBJECT, clause):
            continue
        if re.search(_KEEP, clause):
            answers.add("leave")
        elif re.search(_REMOVE, clause):
            answers.add("remove")
    return answers.pop() if len(answers) == 1 else None
