"""
Invented batches of twelve samples with one bench fault each, and what an officer would sign who answers "ok".

    python -m tests.support.planted_batches --batches N --seed S [--json] [--hand-noted SHARE] [--sieved SHARE]

Each batch holds twelve samples, a duplicate of one or two of them, a reference soil and a blank. Half of the batches
are clean, the other half carry one fault. The officer of this trial writes a note wherever a note suffices and never
looks; what needs a decision is not signed as it stands. A figure is *grossly wrong* when its class is another than the
true one or a fraction is off by more than 5 points, and a fraction lies outside its own interval. True figures are
those of the invented soil. Everything here is invented.

The hand that prepares a sample judges sand to 6 and clay to 4 points and names the class; three notes in a thousand
name any class. Portions are weighed to the mass asked for within 0.5 g.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from particles.distribution import (
    DistributionError,
    MethodEdition,
    SandSiltClay,
    Severity,
    SizeDistribution,
    compute_distribution,
    usda_class,
)
from particles.distribution.causes.cause import Cause, Needs
from particles.distribution.causes.evidence import (
    Assigned,
    BatchEvidence,
    ByHand,
    ControlOutcome,
    RunEvidence,
)
from particles.distribution.causes.find import find_causes
from particles.distribution.causes.remedies import exchanged
from particles.distribution.inputs.noise import blank_line
from tests.support.planted_reading_faults import flocculation
from tests.support.simulator import (
    Bench,
    Simulated,
    Soil,
    advised_mass_g,
    blank_true_g_l,
    clean_run,
    points_of,
    random_bench,
    random_soil,
    read_off,
    sieving_of,
    true_reading,
    with_points,
)

Random = np.random.Generator
SAMPLES = 12
LAYERS = 3
DRAWS = 2000
REFERENCE_SOIL = Soil(((0.35, 220.0, 0.6), (0.40, 18.0, 0.8), (0.25, 0.5, 0.9)))
LOT_SD_G_L = 0.25
"""Spread of the blank's level between batches of one lot, sound ones; the blank's own reading apart. [g/L]"""


@dataclass(frozen=True)
class PlantedRun:
    """One cylinder: what was written down and what is true of it."""

    run: Simulated
    hand: ByHand | None
    asked_g: float
    duplicate_of: int | None = None
    reference: bool = False
    profile: str = ""


@dataclass(frozen=True)
class PlantedBatch:
    """Cylinders in tray order on one bench."""

    runs: tuple[PlantedRun, ...]
    bench: Bench
    lot_level_g_l: float
    """Level that the lot's blanks have had, by its chart. [g/L]"""


# --- clean batches -----------------------------------------------------------------------------------------------


def hand_note(soil: Soil, random: Random) -> ByHand:
    """As a practised hand names it and takes its sand and clay, to 5 %."""
    if random.random() < 0.003:
        soil = random_soil(random)
    sand = min(max(100.0 * soil.sand + float(random.normal(0.0, 6.0)), 0.0), 100.0)
    clay = min(max(100.0 * soil.clay + float(random.normal(0.0, 4.0)), 0.0), 100.0 - sand)
    named = usda_class(sand, 100.0 - sand - clay, clay).name
    return ByHand(named, 5.0 * round(sand / 5.0), 5.0 * round(clay / 5.0))


def made_batch(random: Random, method: MethodEdition, hand_noted: float, sieved: float) -> PlantedBatch:
    bench = replace(random_bench(random, method), method=method)
    blanks = _blanks(bench, random)
    runs = [
        replace(_made(random, soil, bench, blanks, f"cylinder {k + 1}", hand_noted, sieved), profile=profile)
        for k, (soil, profile) in enumerate(_soils(random))
    ]
    doubled = [int(k) for k in random.choice(SAMPLES, 2, replace=False)]
    for place, k in enumerate(doubled):
        again = _made(random, runs[k].run.soil, bench, blanks, f"cylinder {SAMPLES + 1 + place}", 0.0, sieved)
        runs.append(replace(again, hand=runs[k].hand, duplicate_of=k))
    reference = _made(random, REFERENCE_SOIL, bench, blanks, "reference soil", 0.0, 1.0)
    place = int(random.integers(0, len(runs) + 1))
    moved = [
        r if r.duplicate_of is None or r.duplicate_of < place else replace(r, duplicate_of=r.duplicate_of + 1)
        for r in runs
    ]
    moved.insert(place, replace(reference, reference=True))
    lot = blank_true_g_l(bench, 20.0) + float(random.normal(0.0, LOT_SD_G_L))
    return PlantedBatch(tuple(moved), bench, lot)


def _soils(random: Random) -> list[tuple[Soil, str]]:
    """Soils from anywhere, or, in half of the batches, four profiles of three layers each, with their names."""
    if random.random() < 0.5:
        return [(random_soil(random), "") for _ in range(SAMPLES)]
    found = []
    for place in range(SAMPLES // LAYERS):
        top = random_soil(random)
        for _ in range(LAYERS):
            parts = [(share * float(np.exp(random.normal(0.0, 0.3))), *rest) for share, *rest in top.parts]
            found.append((Soil(tuple((a, b, c) for a, b, c in parts)), f"profile {place + 1}"))
    return found


def _divided(soil: Soil, random: Random) -> Soil:
    """Another portion of the same bag."""
    parts = []
    for share, middle, width in soil.parts:
        parts.append((max(share * (1.0 + float(random.normal(0.0, 0.015))), 1e-4), middle, width))
    return Soil(tuple(parts))


def _blanks(bench: Bench, random: Random) -> list[tuple[float, float]]:
    """(temperature, reading) of the one blank beside all cylinders, at each slot."""
    found = []
    for nominal in bench.method.schedule_s:
        warm_c = bench.room.at_c(nominal)
        found.append(
            (
                round(warm_c + float(random.normal(0.0, 0.05)), 1),
                read_off(blank_true_g_l(bench, warm_c), bench.noise_g_l, random),
            )
        )
    return found


def _made(
    random: Random,
    soil: Soil,
    bench: Bench,
    blanks: Sequence[tuple[float, float]],
    label: str,
    hand_noted: float,
    sieved: float,
) -> PlantedRun:
    asked_g = advised_mass_g(soil)
    # The portion is not the bag: division and dispersion leave the difference between two runs.
    portion = _divided(soil, random)
    run = replace(clean_run(random, soil=portion, bench=bench, label=label, portion_g=asked_g), soil=soil)
    sieving = sieving_of(portion, run.true_mass_g, random) if random.random() < sieved else None
    hand = hand_note(soil, random) if random.random() < hand_noted else None
    points = [
        replace(p, blank_reading=blank, blank_temperature_c=warm_c, blank_number=k)
        for k, (p, (warm_c, blank)) in enumerate(zip(run.record.readings, blanks, strict=True))
    ]
    clayey = None if hand is None or hand.named is None else "clay" in hand.named
    record = replace(run.record, readings=tuple(points), sieving=sieving, field_clayey=clayey)
    return PlantedRun(replace(run, record=record), hand, asked_g)


# --- faults ------------------------------------------------------------------------------------------------------


def _two(batch: PlantedBatch, random: Random, *, near: bool) -> tuple[int, int]:
    count = len(batch.runs)
    if near:
        first = int(random.integers(0, count - 1))
        return first, first + 1
    one, other = (int(k) for k in random.choice(count, 2, replace=False))
    return one, other


def _changed(batch: PlantedBatch, **runs: Simulated) -> PlantedBatch:
    changed = list(batch.runs)
    for key, run in runs.items():
        place = int(key[1:])
        changed[place] = replace(changed[place], run=run)
    return replace(batch, runs=tuple(changed))


def _swap(batch: PlantedBatch, random: Random, *, with_sieves: bool) -> PlantedBatch:
    one, other = _two(batch, random, near=random.random() < 0.6)
    a, b = batch.runs[one].run, batch.runs[other].run
    first, second = exchanged(a.record, b.record, range(len(a.record.readings)), with_sieves=with_sieves)
    return _changed(batch, **{f"k{one}": replace(a, record=first), f"k{other}": replace(b, record=second)})


def swapped_cylinders(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """Two beakers emptied into each other's cylinder: readings and washed sand are the other's."""
    return _swap(batch, random, with_sieves=True)


def swapped_columns(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """All readings of two cylinders in each other's row."""
    return _swap(batch, random, with_sieves=False)


def slipped_rows(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """Readings of two neighbours in each other's row from a slot on."""
    one, other = _two(batch, random, near=True)
    a, b = batch.runs[one].run, batch.runs[other].run
    count = len(a.record.readings)
    first, second = exchanged(a.record, b.record, range(int(random.integers(1, count)), count))
    return _changed(batch, **{f"k{one}": replace(a, record=first), f"k{other}": replace(b, record=second)})


def mistyped_mass(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """The mass of one portion off by 5 to 25 %."""
    k = int(random.integers(0, len(batch.runs)))
    run = batch.runs[k].run
    off = 1.0 + float(random.uniform(0.05, 0.25)) * (1.0 if random.random() < 0.5 else -1.0)
    record = replace(run.record, air_dry_mass_g=round((run.record.air_dry_mass_g or 0.0) * off, 2))
    return _changed(batch, **{f"k{k}": replace(run, record=record)})


def wrong_lot(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """The blank was made with another lot than the samples: 1 to 5 g/L of dispersant off."""
    off = float(random.uniform(1.0, 5.0)) * (1.0 if random.random() < 0.5 else -1.0)
    dispersant = max(batch.bench.dispersant_g_l + off, 0.0)
    at_c = [batch.bench.room.at_c(s) for s in batch.bench.method.schedule_s]
    level = [blank_true_g_l(batch.bench, warm_c, dispersant) for warm_c in at_c]
    own = [blank_true_g_l(batch.bench, warm_c) for warm_c in at_c]
    return _with_blanks(batch, [a - b for a, b in zip(level, own, strict=True)])


def drifting_blank(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """The blank higher or lower by 1 to 4 g/L from a slot on: contamination, evaporation, a dirty stem."""
    count = len(batch.bench.method.schedule_s)
    start = int(random.integers(1, count))
    step = float(random.uniform(1.0, 4.0)) * (1.0 if random.random() < 0.7 else -1.0)
    return _with_blanks(batch, [step if k >= start else 0.0 for k in range(count)])


def _with_blanks(batch: PlantedBatch, off: Sequence[float]) -> PlantedBatch:
    changed = []
    for planted in batch.runs:
        points = [
            replace(p, blank_reading=round(2.0 * ((p.blank_reading or 0.0) + by)) / 2.0)
            for p, by in zip(planted.run.record.readings, off, strict=True)
        ]
        changed.append(replace(planted, run=with_points(planted.run, points)))
    return replace(batch, runs=tuple(changed))


def flocculated(batch: PlantedBatch, random: Random, *, from_s: float) -> PlantedBatch:
    """Clay and fine silt fall together as flocs, from a moment on."""
    clayey = [k for k, each in enumerate(batch.runs) if each.run.soil.clay >= 0.1 and not each.reference]
    if not clayey:
        return batch
    k = int(random.choice(clayey))
    run = batch.runs[k].run
    made = flocculation(run, random)
    assert made is not None
    points = []
    for before, after in zip(run.record.readings, made.record.readings, strict=True):
        took = after if before.elapsed_s >= from_s else before
        points.append(replace(before, reading=took.reading, elapsed_s=before.elapsed_s))
    return _changed(batch, **{f"k{k}": with_points(run, points)})


def fahrenheit(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """One cylinder's temperatures in °F."""
    k = int(random.integers(0, len(batch.runs)))
    run = batch.runs[k].run
    points = [replace(p, temperature_c=round(p.at_c * 1.8 + 32.0, 1)) for p in points_of(run)]
    return _changed(batch, **{f"k{k}": with_points(run, points)})


def copied_readings(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """The readings of one cylinder copied from its neighbour, all or from a slot on."""
    one, other = _two(batch, random, near=True)
    run, source = batch.runs[other].run, batch.runs[one].run
    start = 0 if random.random() < 0.5 else int(random.integers(1, len(points_of(run)) - 2))
    points = [
        replace(p, reading=q.reading) if k >= start else p
        for k, (p, q) in enumerate(zip(points_of(run), points_of(source), strict=True))
    ]
    return _changed(batch, **{f"k{other}": with_points(run, points)})


def wrong_cylinder_once(batch: PlantedBatch, random: Random) -> PlantedBatch:
    """One reading of one cylinder taken in another."""
    one, other = _two(batch, random, near=random.random() < 0.7)
    run, source = batch.runs[one].run, batch.runs[other].run
    slot = int(random.integers(0, len(points_of(run))))
    p = points_of(run)[slot]
    value = true_reading(source.soil, batch.bench, source.true_mass_g, 2.65, p.elapsed_s)
    points = points_of(run)
    points[slot] = replace(p, reading=read_off(value, batch.bench.noise_g_l, random))
    return _changed(batch, **{f"k{one}": with_points(run, points)})


FAULTS: dict[str, Callable[[PlantedBatch, Random], PlantedBatch]] = {
    "cylinders swapped": swapped_cylinders,
    "columns swapped": swapped_columns,
    "rows slipped": slipped_rows,
    "mass mistyped": mistyped_mass,
    "blank of another lot": wrong_lot,
    "blank drifting": drifting_blank,
    "flocculated before 3 min": partial(flocculated, from_s=45.0),
    "flocculated after 3 min": partial(flocculated, from_s=300.0),
    "temperature in °F": fahrenheit,
    "readings copied": copied_readings,
    "wrong cylinder once": wrong_cylinder_once,
}


# --- what is signed ----------------------------------------------------------------------------------------------


def evidence_of(batch: PlantedBatch) -> BatchEvidence:
    labels = [each.run.record.label for each in batch.runs]
    runs = [
        RunEvidence(
            each.run.record,
            _computed(each.run),
            by_hand=each.hand,
            asked_mass_g=each.asked_g,
            duplicate_of=None if each.duplicate_of is None else labels[each.duplicate_of],
            reference=_assigned() if each.reference else None,
            profile=each.profile,
            depth_cm=float(place),
        )
        for place, each in enumerate(batch.runs)
    ]
    return BatchEvidence(tuple(runs), controls=tuple(_controls(batch, runs)))


def _assigned() -> Assigned:
    clay, sand = 100.0 * REFERENCE_SOIL.clay, 100.0 * REFERENCE_SOIL.sand
    return Assigned(SandSiltClay(sand, 100.0 - sand - clay, clay), sand_sd_pct=1.3, clay_sd_pct=1.3)


def _controls(batch: PlantedBatch, runs: Sequence[RunEvidence]) -> list[ControlOutcome]:
    """Reference soil beyond three standard deviations, and blank beyond its lot's: what a laboratory's limits say."""
    found = []
    for run in runs:
        fractions = None if run.distribution is None else run.distribution.fractions
        if run.reference is None or fractions is None:
            continue
        sand, _, clay = fractions.percents
        z = max(abs(sand - run.reference.percents.sand) / run.reference.sand_sd_pct,
                abs(clay - run.reference.percents.clay) / run.reference.clay_sd_pct)  # fmt: skip
        if z > 3.0:
            found.append(ControlOutcome("reference_soil", Severity.STOP, f"Reference soil {z:.1f} s off.", z))
    line = blank_line(batch.runs[0].run.record)
    if line is not None:
        off = line.level_g_l - batch.lot_level_g_l
        spread = (LOT_SD_G_L**2 + 0.3**2 / len(line.difference_g_l) * 1.57 + 0.15**2) ** 0.5
        if abs(off) > 3.0 * spread:
            found.append(
                ControlOutcome("blank_lot", Severity.STOP, f"Blank {off:+.1f} g/L off its lot.", off)
            )
    return found


def _computed(run: Simulated) -> SizeDistribution | None:
    try:
        return compute_distribution(run.record, run.method, draws=DRAWS)
    except DistributionError:
        return None


def grossly_wrong(planted: PlantedRun, distribution: SizeDistribution) -> bool:
    """Class changed or a fraction off by more than 5 points, and a fraction outside its own interval."""
    fractions, soil = distribution.fractions, planted.run.soil
    if fractions is None:
        return False
    clay, sand = 100.0 * soil.clay, 100.0 * soil.sand
    truth = SandSiltClay(sand, 100.0 - sand - clay, clay)
    off = max(abs(a - b) for a, b in zip(fractions.percents, truth, strict=True))
    outside = any(
        estimate.low_pct is not None
        and estimate.high_pct is not None
        and not estimate.low_pct <= true <= estimate.high_pct
        for estimate, true in zip(fractions.estimates, truth, strict=True)
    )
    texture = distribution.texture
    return outside and (off > 5.0 or (texture is not None and texture.name != usda_class(*truth).name))


@dataclass
class Tally:
    """Counts over batches of one kind."""

    batches: int = 0
    wrong: int = 0
    signed: int = 0
    samples: int = 0
    bothered: int = 0
    causes: int = 0
    by_chance: int = 0
    """Grossly wrong figures of runs that no fault touched: those of the 5 % outside a 95 % interval near a line."""
    misses: list[str] = field(default_factory=list)
    touched: int = 0
    """Batches in which a cause that needs a note or a decision concerns a run that the fault touched."""


def _miss(planted: PlantedRun, run: RunEvidence) -> str:
    assert run.distribution is not None
    assert run.distribution.fractions is not None
    soil, felt = planted.run.soil, planted.hand
    sand, _, clay = run.distribution.fractions.percents
    hand = "-" if felt is None else f"{felt.named} {felt.sand_pct:.0f}/{felt.clay_pct:.0f}"
    sieved = "sieved" if run.record.sieving else "no sieve"
    return f"sand {100 * soil.sand:.0f}->{sand:.0f} clay {100 * soil.clay:.0f}->{clay:.0f}, {hand}, {sieved}"


def judged(batch: PlantedBatch, touched: set[str], tally: Tally) -> list[Cause]:
    """Count one batch: what is grossly wrong, and what an officer signs who only writes notes."""
    evidence = evidence_of(batch)
    causes = [c for c in find_causes(evidence, batch.bench.method) if c.needs is not Needs.LOOK]
    decided = {label for c in causes if c.needs is Needs.DECISION for label in c.labels}
    asked = {label for c in causes for label in c.labels}
    tally.batches += 1
    tally.causes += len(causes)
    tally.touched += bool(touched & asked)
    for planted, run in zip(batch.runs, evidence.runs, strict=True):
        if planted.reference or planted.duplicate_of is not None:
            continue
        tally.samples += 1
        tally.bothered += run.label in asked
        if run.distribution is None or not run.distribution.certifiable:
            continue
        if not grossly_wrong(planted, run.distribution):
            continue
        if run.label not in touched:
            tally.by_chance += 1
            continue
        tally.wrong += 1
        if run.label not in decided:
            tally.signed += 1
            tally.misses.append(_miss(planted, run))
    return causes


def _one(
    seed: int, kind: str, method: MethodEdition, hand_noted: float, sieved: float
) -> tuple[str, Tally, dict[str, int]]:
    random, tally, codes = np.random.default_rng([seed, *kind.encode()]), Tally(), dict[str, int]()
    batch = made_batch(random, method, hand_noted, sieved)
    touched: set[str] = set()
    if kind != "clean":
        changed = FAULTS[kind](batch, random)
        touched = {
            a.run.record.label
            for a, b in zip(batch.runs, changed.runs, strict=True)
            if a.run.record != b.run.record
        }
        batch = changed
    for cause in judged(batch, touched, tally):
        key = f"{cause.kind} {cause.needs}"
        codes[key] = codes.get(key, 0) + 1
    return kind, tally, codes


def _job(args: tuple[int, str, MethodEdition, float, float]) -> tuple[str, Tally, dict[str, int]]:
    return _one(*args)


def trial(
    batches: int,
    seed: int,
    method: MethodEdition,
    hand_noted: float = 1.0,
    sieved: float = 0.4,
    processes: int = 2,
) -> dict[str, object]:
    """Run the trial; the shares, and a row for each kind of fault."""
    kinds = ["clean" if k % 2 == 0 else list(FAULTS)[k // 2 % len(FAULTS)] for k in range(batches)]
    jobs = [(seed * 1_000_003 + k, kind, method, hand_noted, sieved) for k, kind in enumerate(kinds)]
    with ProcessPoolExecutor(processes) as pool:
        done = list(pool.map(_job, jobs, chunksize=8))
    sums: dict[str, Tally] = {kind: Tally() for kind in ("clean", *FAULTS)}
    codes: dict[str, dict[str, int]] = {kind: {} for kind in sums}
    for kind, tally, found in done:
        for name in vars(tally):
            setattr(sums[kind], name, getattr(sums[kind], name) + getattr(tally, name))
        for code, count in found.items():
            codes[kind][code] = codes[kind].get(code, 0) + count
    clean, wrong = sums["clean"], sum(each.wrong for each in sums.values())
    return {
        "batches": batches,
        "seed": seed,
        "method": method.code,
        "hand_noted": hand_noted,
        "sieved": sieved,
        "wrong": wrong,
        "wrong_signed_share": sum(each.signed for each in sums.values()) / max(wrong, 1),
        "clean_bothered_share": clean.bothered / max(clean.samples, 1),
        "causes_per_clean_batch": clean.causes / max(clean.batches, 1),
        "by_fault": {kind: vars(each) | {"codes": codes[kind]} for kind, each in sums.items()},
    }


def main(argv: Sequence[str] | None = None) -> None:
    from particles.distribution import DEFAULT_METHOD_CODE, method_edition

    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--batches", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--method", default=DEFAULT_METHOD_CODE)
    parser.add_argument("--hand-noted", type=float, default=1.0)
    parser.add_argument("--sieved", type=float, default=0.5)
    asked = parser.parse_args(argv)
    result = trial(asked.batches, asked.seed, method_edition(asked.method), asked.hand_noted, asked.sieved)
    if asked.json:
        print(json.dumps(result, indent=1))
        return
    by_fault = result["by_fault"]
    assert isinstance(by_fault, dict)
    for name in (
        "batches",
        "method",
        "wrong",
        "wrong_signed_share",
        "clean_bothered_share",
        "causes_per_clean_batch",
    ):
        print(f"{name:24} {result[name]}")
    print(f"\n{'fault':26} {'batches':>7} {'asked %':>8} {'gross':>6} {'signed':>6} {'signed %':>8}")
    for kind, row in by_fault.items():
        share = 100.0 * row["signed"] / row["wrong"] if row["wrong"] else 0.0
        seen = 100.0 * row["touched"] / max(row["batches"], 1)
        print(f"{kind:26} {row['batches']:7} {seen:8.1f} {row['wrong']:6} {row['signed']:6} {share:8.1f}")


if __name__ == "__main__":
    main()
