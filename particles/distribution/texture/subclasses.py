"""
Subclasses of sand, loamy sand and sandy loam, from the five sand separates.

Source: Soil Survey Manual, USDA Handbook 18, chapter 3. The rules for the sands and loamy sands were read in
part in a glossary that quotes them; those for the sandy loams are from memory, and agree with two public
copies. Confirm them against the manual before a certificate rests on them.
"""

from __future__ import annotations

from collections.abc import Sequence

from particles.distribution.answer import SandFraction

FROM_MEMORY = ("sandy loam",)
"""Classes whose subclass rules are from memory."""
_GRADED = ("sand", "loamy sand", "sandy loam")


def texture_subclass(texture: str, separates: Sequence[SandFraction]) -> str:
    """
    Subclass such as 'loamy fine sand'; '' for a class without subclasses or without the five separates.

    Parameters
    ----------
    texture : USDA class.
    separates : (5,) from very coarse to very fine. [% of the fine earth]
    """
    if texture not in _GRADED or len(separates) != 5:
        return ""
    # Rounded so that a portion of exactly 25 % is not pushed below by its last binary digit.
    parts = [round(separate.percent, 9) for separate in separates]
    if texture == "sandy loam":
        return f"{_sandy_loam(*parts)} sandy loam".lstrip()
    grade = _sands(*parts)
    return f"{'loamy ' if texture == 'loamy sand' else ''}{grade} sand".replace("  ", " ").lstrip()


def _sands(very_coarse: float, coarse: float, medium: float, fine: float, very_fine: float) -> str:
    """Grade of a sand or loamy sand: 'coarse', '', 'fine' or 'very fine'."""
    coarser = very_coarse + coarse
    if very_fine >= 50.0:
        return "very fine"
    if fine >= 50.0:
        return "fine"
    if coarser >= 25.0:
        return "" if medium >= 50.0 else "coarse"
    return "" if coarser + medium >= 25.0 else "fine"


def _sandy_loam(very_coarse: float, coarse: float, medium: float, fine: float, very_fine: float) -> str:
    """Grade of a sandy loam by the manual's rules, from memory."""
    coarser, finer = very_coarse + coarse, fine + very_fine
    upper = coarser + medium
    if very_fine >= 50.0 and (coarser >= 25.0 or upper >= 30.0):
        return "very fine"
    if coarser >= 25.0:
        return "fine" if fine >= 50.0 else "" if medium >= 50.0 else "coarse"
    if upper >= 30.0:
        return "coarse" if very_fine >= 30.0 else "fine" if fine >= 30.0 else ""
    if upper <= 15.0 and fine < 30.0 and very_fine < 30.0 and finer <= 40.0:
        return ""
    return "very fine" if upper < 15.0 and very_fine > fine else "fine"
