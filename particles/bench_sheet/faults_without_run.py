"""Checks that the schema cannot make of a stack of sieves, a pipette test, or results of somebody else."""

from __future__ import annotations

from collections.abc import Iterator

from particles.bench_sheet.faults import Fault, order_faults, portion_faults
from particles.bench_sheet.forms_without_run import Pipette, Results, Sieves
from particles.distribution import TEXTURE_SYSTEMS
from particles.distribution.possible import (
    DISPERSANT_POSSIBLE_G_L,
    MASS_POSSIBLE_G,
    PIPETTE_VOLUME_POSSIBLE_ML,
)


def sieve_faults(sheet: Sieves) -> Iterator[Fault]:
    """Faults of a sheet of sieves that its schema cannot find."""
    name, stack = ("passing", sheet.passing) if sheet.passing else ("sieves", sheet.sieves)
    openings_um = [sieve.opening_um for sieve in stack]
    yield from order_faults(name, openings_um)
    yield from order_faults("hydrometer_points", [point.diameter_um for point in sheet.hydrometer_points])
    split_um = sheet.fines_split_um
    if split_um is not None and split_um not in openings_um:
        yield Fault("fines_split_um", f"no sieve has an opening of {split_um:g} µm")
    if sheet.sieves and not sum(sieve.retained_g for sieve in sheet.sieves) + (sheet.pan_g or 0.0) > 0.0:
        yield Fault("sieves", "all masses are zero")


def pipette_faults(sheet: Pipette) -> Iterator[Fault]:
    """Faults of a pipette test's sheet that its schema cannot find."""
    portion = sheet.portion
    has_moisture = portion.moisture_pct is not None or portion.moisture_dishes
    if portion.oven_dry_mass_g is None and (portion.air_dry_mass_g is None or not has_moisture):
        yield Fault("portion", "needs oven_dry_mass_g, or air_dry_mass_g with a moisture")
    for name, given, possible in (
        ("portion/oven_dry_mass_g", portion.oven_dry_mass_g, MASS_POSSIBLE_G),
        ("portion/air_dry_mass_g", portion.air_dry_mass_g, MASS_POSSIBLE_G),
        ("volume_ml", sheet.volume_ml, PIPETTE_VOLUME_POSSIBLE_ML),
        ("dispersant_g_l", sheet.dispersant_g_l, DISPERSANT_POSSIBLE_G_L),
    ):
        if given is not None and given not in possible:
            yield Fault(name, f"{given:g} {possible.unit} lies outside {possible}. Check the entry")
    yield from portion_faults(portion)
    for index, aliquot in enumerate(sheet.aliquots):
        if aliquot.dish_and_residue_g < aliquot.dish_g:
            yield Fault(f"aliquots/{index}/dish_and_residue_g", "is lighter than its empty dish")
        if aliquot.volume_ml > sheet.volume_ml:
            yield Fault(f"aliquots/{index}/volume_ml", "is more than the cylinder holds")


def results_faults(sheet: Results) -> Iterator[Fault]:
    """Faults of a list of results: classes of no system, or of one with other size limits."""
    code, limits = sheet.texture_system, sheet.size_limits_um
    if limits and limits.clay >= limits.sand:
        yield Fault("size_limits_um", f"clay limit {limits.clay:g} µm is not below sand {limits.sand:g} µm")
    if code is None:
        for index, row in enumerate(sheet.rows):
            if row.texture_class:
                what = f"{row.texture_class!r} is a class of no system; name it in texture_system"
                yield Fault(f"rows/{index}/texture_class", what)
        return
    if code not in TEXTURE_SYSTEMS:
        yield Fault("texture_system", f"no system {code!r}; known: {', '.join(TEXTURE_SYSTEMS)}")
        return
    system = TEXTURE_SYSTEMS[code]
    own = f"{system.clay_limit_um:g} and {system.sand_limit_um:g} µm"
    if limits is None:
        yield Fault(
            "size_limits_um", f"say what the list calls clay and silt; classes of {code} are of {own}"
        )
    elif (limits.clay, limits.sand) != (system.clay_limit_um, system.sand_limit_um):
        what = (
            f"{limits.clay:g} and {limits.sand:g} µm are not those of {code}, {own}: its classes do not hold"
        )
        yield Fault("size_limits_um", what)
