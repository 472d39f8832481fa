"""Findings about odd values that were kept: shown where they were typed, and again to the reviewer."""

from __future__ import annotations

from dataclasses import replace

from batches.balance.advice import good_masses_g
from batches.balance.models import Purpose
from batches.computing.record import moisture_pct, preparation_in_force
from batches.corrections.models import density_in_force
from batches.equipment.models import HydrometerRecord
from batches.planning.models import Run
from particles.distribution import (
    DistributionError,
    Finding,
    MethodEdition,
    finding,
    mass_findings,
    moisture_findings,
    portion_advice,
    portion_apart_findings,
)
from particles.models import Portion
from particles.preparation.field_texture import usda_class_by_feel
from particles.preparation.odd import odd_preparation


def odd_masses(portion: Portion, method: MethodEdition, stem: HydrometerRecord | None) -> list[Finding]:
    """Findings about the masses that count for a portion now; `stem` is the one it is or would be read with."""
    ordered = sorted(portion.weighings.all(), key=lambda weighing: weighing.attempt)
    masses_g = {str(each.purpose): float(each.mass_g) for each in ordered}
    mass_g, moisture = masses_g.get(Purpose.PORTION), moisture_pct(masses_g)
    found = [] if mass_g is None else _portion(portion, mass_g, method, stem)
    if portion.decision.removes_anything:
        return found + _pretreated(masses_g)
    return found if moisture is None else found + moisture_findings(moisture, method.limits)


def _portion(
    portion: Portion, mass_g: float, method: MethodEdition, stem: HydrometerRecord | None
) -> list[Finding]:
    named = usda_class_by_feel(portion.decision.field_texture)
    unusual = mass_findings(mass_g, method.limits)
    if named is None or stem is None:
        return unusual
    measured, density = stem.as_measured(), float(density_in_force(portion).particle_density_g_cm3)
    try:
        advice = portion_advice(named, method, measured, particle_density_g_cm3=density)
        off_table = portion_apart_findings(mass_g, named, method, measured, particle_density_g_cm3=density)
    except DistributionError:
        return unusual  # the advice on the page of the weighing says why nothing is predicted
    good_g = good_masses_g(advice)
    if good_g[0] <= mass_g <= good_g[-1]:
        return unusual  # between two good masses of the table, however far from either
    return [_beside_the_table(each, good_g, advice.recommended.mass_g) for each in off_table] or unusual


def _beside_the_table(found: Finding, good_g: list[float], best_g: float) -> Finding:
    """The finding with the advised mass in its next step, for the nearest good mass is not always the advised one."""
    good = f"Good here is {best_g:g} g."
    if len(good_g) > 1:
        good = f"Good here are {good_g[0]:g} to {good_g[-1]:g} g, best {best_g:g} g."
    return replace(found, next_step=f"{found.next_step} {good}")


def _pretreated(masses_g: dict[str, float]) -> list[Finding]:
    before_g, after_g = masses_g.get(Purpose.PORTION), masses_g.get(Purpose.PRETREATED)
    if before_g is None or after_g is None or after_g <= before_g:
        return []
    return [finding("heavier_after_pretreatment", number=after_g, before_g=before_g)]


def odd_values(run: Run) -> list[Finding]:
    """Findings for the reviewer about odd values of the bag and the portion of one run."""
    portion, batch = run.portion, run.batch
    assert portion is not None, "the blank has no masses"
    preparation = preparation_in_force(portion, batch)
    found = [] if preparation is None else odd_preparation(preparation)
    return found + odd_masses(portion, batch.method.edition, batch.hydrometer)
