"""An invented certificate: laboratory, client, soils and figures exist nowhere."""

from __future__ import annotations

from dataclasses import replace

from reports.content.context import CertificateContext, CurveRow, FractionRow, QualifierRow, SampleSection

LIMITS = {
    "sand": "coarser than 50 µm, finer than 2 mm",
    "silt": "coarser than 2 µm, finer than 50 µm",
    "clay": "finer than 2 µm",
}
PLACES = (
    (2000.0, 100.0, "sieve"),
    (1000.0, 98.71, "sieve"),
    (500.0, 94.18, "sieve"),
    (250.0, 85.07, "sieve"),
    (106.0, 72.33, "sieve"),
    (53.0, 62.94, "sieve"),
    (37.24, 58.36, "hydrometer"),
    (24.12, 52.21, "hydrometer"),
    (12.83, 43.95, "hydrometer"),
    (7.41, 38.12, "hydrometer"),
    (3.82, 32.04, "hydrometer"),
    (1.53, 24.36, "hydrometer"),
)
SHORT_SOAK = QualifierRow(
    "soak short",
    "warn",
    "Soaked 13.5 h in dispersant, the method asks for 16 h.",
    "Clay may come out too low.",
)
TRUE_TIME = QualifierRow(
    "late reading",
    "note",
    "The 2 h reading was taken at 2 h 11 min; its size comes from the true time.",
    "It moves no figure.",
)
CLUMPED = QualifierRow(
    "flocculated",
    "stop",
    "The suspension cleared within 40 min with a sharp front (reading 3.5 g/L above the blank at 30 min); "
    "sizes by settling do not hold. Send fresh sample for a run with salts washed out.",
    "Because of it no figures are reported.",
)


SANDY_FINER_PCT = (100.0, 93.62, 76.4, 55.13, 37.21, 28.97, 26.1, 22.36, 17.94, 15.2, 12.48, 9.51)
"""Lines up with the diameters of PLACES."""


def _row(diameter_um: float, percent_finer: float, source: str) -> CurveRow:
    return CurveRow(diameter_um, percent_finer, source, f"{diameter_um:.4g}", f"{percent_finer:.1f}")


def _fraction(
    name: str, value_pct: str, interval_pct: str, limit_pct: str = "4", *, below: bool = False
) -> FractionRow:
    printed_pct = f"< {limit_pct}" if below else value_pct
    return FractionRow(name, LIMITS[name], printed_pct, interval_pct, value_pct, below, limit_pct)


SAMPLE = SampleSection(
    lab_number="T26-0417-01",
    client_label="North terrace, pit 3",
    depth="0 to 25 cm",
    condition="moist, bag intact",
    sampled_on="2026-03-02",
    received_on="2026-03-05",
    tested_from="2026-03-09",
    tested_to="2026-03-12",
    pretreatment="none (organic carbon 1.1 %, no carbonate reaction)",
    attempt=1,
    oven_dry_mass_g="40.12",
    particle_density="2.65 g/cm³ (assumed)",
    dispersant="sodium hexametaphosphate, 5.0 g/L in the cylinder",
    temperature_range="20.4 to 21.1 °C",
    gravel_pct="3.2",
    reported=True,
    fractions=(
        _fraction("sand", "37.9", "35.6 to 40.2"),
        _fraction("silt", "35.6", "33.4 to 37.8"),
        _fraction("clay", "26.5", "24.4 to 28.6"),
    ),
    below_detection_note="",
    texture_class="loam",
    texture_system="USDA",
    class_chances="loam 71 %, clay loam 29 %",
    qualifiers=(SHORT_SOAK, TRUE_TIME),
    curve=tuple(_row(*place) for place in PLACES),
    sand_pct=37.91,
    silt_pct=35.62,
    clay_pct=26.47,
    inputs_digest="9c1f52e07ab4d6638e1f0c55d2a97b30bb64d1e2f8170c3a495e6bd0718fa2c4",
    engine_version="1.0.0",
    seed=20260312,
)
SANDY = replace(
    SAMPLE,
    lab_number="T26-0417-02",
    client_label="River flat, auger 7",
    depth="25 to 60 cm",
    gravel_pct="0.4",
    fractions=(
        _fraction("sand", "71.4", "69.6 to 73.2"),
        _fraction("silt", "18.3", "16.4 to 20.2"),
        _fraction("clay", "10.3", "8.5 to 12.1"),
    ),
    texture_class="sandy loam",
    class_chances="sandy loam 100 %",
    curve=tuple(_row(um, pct, of) for (um, _, of), pct in zip(PLACES, SANDY_FINER_PCT, strict=True)),
    qualifiers=(),
    sand_pct=71.38,
    silt_pct=18.34,
    clay_pct=10.28,
    inputs_digest="41d0a6e9c7f8b25513ce90647d8a1fb2e60395c4d7718a2b9e30f5c6d4821b7e",
)
UNREPORTED = replace(
    SAMPLE,
    lab_number="T26-0417-03",
    client_label="=Salt pan edge",
    depth="",
    reported=False,
    fractions=(),
    texture_class="",
    class_chances="",
    qualifiers=(CLUMPED,),
    curve=(),
    sand_pct=None,
    silt_pct=None,
    clay_pct=None,
    gravel_pct="0.0",
    inputs_digest="f02b8c61d94e7a35508cb1e7639fd02ca4471e9b6d8305f2c71ae4903bd65f18",
)
PURE_SAND = replace(
    SANDY,
    lab_number="T26-0417-04",
    client_label="Sand pit, washed",
    fractions=(
        _fraction("sand", "96", "93 to 99", "7"),
        _fraction("silt", "3", "−2 to 8", "9", below=True),
        _fraction("clay", "1", "−3 to 4", "6", below=True),
    ),
    below_detection_note="“<” stands before the detection limit of this run. Computed were 3 % silt and 1 % clay.",
    texture_class="sand",
    class_chances="sand 100 %",
    sand_pct=96.02,
    silt_pct=2.79,
    clay_pct=1.19,
)
CONTEXT = CertificateContext(
    number="TL-2026-0193",
    revision=1,
    part=None,
    replaces="TL-2026-0188",
    what_changed="Depth of sample T26-0417-01 corrected from 0-20 cm to 0 to 25 cm at the client's request.",
    laboratory_name="Tarnwick Soil Laboratory",
    laboratory_address="4 Kiln Lane, Tarnwick",
    laboratory_contact="results@tarnwick.example, +00 0000 000000",
    where_done="At the laboratory's own address.",
    invented=True,
    client_name="Γεωργικός Συνεταιρισμός Ελαιοπαραγωγών & Товарищество «Чернозёмные поля» – Łąki Żółte",
    client_address="12 Field Road, Nether Marle",
    client_contact="A. Fenwright",
    client_reference="PO #77 *urgent*",
    job_number="T26-0417",
    issued_on="2026-03-16",
    issued_at="2026-03-16T09:30:00Z",
    authorised_by="Ines Halloway",
    authorised_role="laboratory manager",
    approved_by="Tomas Brekke",
    approved_on="2026-03-13",
    method_title="Particle-size distribution by hydrometer and sieve",
    method_code="TSL-PSD-H edition 3",
    method_statements=(
        "Size limits: sand from 2 mm down to 50 µm, silt from 50 µm down to 2 µm, clay finer than 2 µm.",
        "Basis: percent of the oven-dry mineral soil finer than 2 mm; gravel apart, of the whole sample.",
        "Readings at 40 s, 1, 2, 5, 15, 30 min, 1, 2 and 8 h, each with a blank; sizes from true times.",
        "The clay limit is interpolated between readings on a logarithmic axis of diameter.",
        "A point on a class line goes to the finer class; the class is taken before rounding.",
    ),
    deviations=("Sample T26-0417-01 was soaked for 13.5 h instead of 16 h.",),
    uncertainty_statement="Intervals hold 95 % of 10 000 simulated repeats of the measurement (readings, "
    "blank, mass, density, temperature). They do not cover sampling in the field.",
    statements=(
        "Results apply to the samples as received and to nothing else.",
        "Client labels, depths and sampling dates were supplied by the client.",
        "Not to be reproduced except in full without written approval of the laboratory.",
    ),
    samples=(SAMPLE, SANDY, UNREPORTED),
    check_url="https://tarnwick.example/check/TL-2026-0193",
    check_code="7QF4-M2KD",
)
"""Three samples, one of them without figures."""

ONE_SAMPLE = replace(CONTEXT, samples=(SAMPLE,), revision=0, replaces="", what_changed="")
