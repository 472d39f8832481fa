"""
Effective depth from the measured shape of one hydrometer and the cylinder it floats in.

Source: L = L1 + (L2 - V_b / A) / 2, soil mechanics textbooks; L1 from the mark to the top of the bulb, L2 the
length of the bulb, V_b its volume, A the area of the cylinder. V_b / 2A is how far the liquid around the middle
of the bulb rose when the hydrometer went in.
"""

from __future__ import annotations

from particles.distribution.errors import HydrometerGeometryError
from particles.distribution.record import DepthLine, HydrometerScale


def insertion_displacement_cm(bulb_volume_cm3: float, cylinder_area_cm2: float) -> float:
    """V_b / (2 A): the part of the depth that belongs to insertion just before the reading. [cm]"""
    if bulb_volume_cm3 <= 0.0 or cylinder_area_cm2 <= 0.0:
        raise HydrometerGeometryError(
            "Bulb volume and cylinder area must be above zero",
            f"{bulb_volume_cm3:g} cm³, {cylinder_area_cm2:g} cm²",
            "Measure the volume by displacement and the area by filling.",
        )
    return bulb_volume_cm3 / (2.0 * cylinder_area_cm2)


def effective_depth_line(
    scale: HydrometerScale,
    *,
    bulb_volume_cm3: float,
    cylinder_area_cm2: float,
    bulb_length_cm: float,
    distances_to_bulb_top_cm: tuple[tuple[float, float], tuple[float, float]],
) -> DepthLine:
    """
    Depth line of one instrument in one cylinder.

    Parameters
    ----------
    scale : of the stem; 151H readings are relative densities such as 1.031.
    bulb_volume_cm3 : by displacement. [cm³]
    cylinder_area_cm2 : inner. [cm²]
    bulb_length_cm : L2, from its top to its tip. [cm]
    distances_to_bulb_top_cm : (mark in scale units, L1 from that mark to the top of the bulb [cm]), two marks.

    Returns
    -------
    Line in the reading at the true liquid level: the meniscus is added to the reading, never to the line.

    Raises
    ------
    HydrometerGeometryError when a length is not above zero, or L1 does not fall as the mark rises.
    """
    rise_cm = insertion_displacement_cm(bulb_volume_cm3, cylinder_area_cm2)
    (low, far_cm), (high, near_cm) = sorted(distances_to_bulb_top_cm)
    if high <= low or near_cm >= far_cm or min(near_cm, bulb_length_cm) <= 0.0:
        raise HydrometerGeometryError(
            "A higher mark must lie nearer to the bulb, and every length be above zero",
            f"{far_cm:g} cm at {low:g}, {near_cm:g} cm at {high:g}, bulb {bulb_length_cm:g} cm",
            "Measure both distances again, from mark to bulb top.",
        )
    slope = (far_cm - near_cm) / (high - low)
    base = 0.0 if scale is HydrometerScale.GRAMS_PER_LITRE else 1.0
    at_base_cm = far_cm + slope * (low - base)
    return DepthLine(at_base_cm + bulb_length_cm / 2.0 - rise_cm, slope)
