"""Rows of sand, silt and clay: limits reached or not, negative figures, other systems."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, NOISE, RECORDED, Row, Wording, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_BRACKET = "Take a reading that brackets the limit, or one within a factor {factor:g}."
_PRINT_IT = "Print it with the result; plan the reading closer to the limit next time."
_FACTOR = ("limits.extrapolation_factor",)


def _not_reached(part: str) -> dict[str, Wording]:
    start = f"No {part} figure: the limit is {{limit_um:g}} µm and"
    return several(
        _BRACKET,
        nearest=f"{start} the nearest point lies at {{number:.2f}} µm.",
        no_point=f"{start} there is no point.",
    )


def _beyond(part: str, line: str) -> str:
    return (
        f"The {part} limit of {{limit_um:g}} µm lies a factor {{number:.2f}} beyond the last point at "
        f"{{last_um:.2f}} µm; {line} was extended."
    )


def _negative(code: str, part: str) -> Row:
    start = f"The {part} fraction comes out at {{number:.2f}} %, below nothing"
    return Row(
        code=code,
        title=f"{part} below nothing",
        client=f"{part} comes out below zero",
        severities=(NOTE, WARN, STOP),
        wordings=several(
            "Check blank, mass and sieving; it is shown as it is, the class is that of the nearest real soil.",
            within_noise=f"{start}; reading noise can do as much.",
            beyond_noise=f"{start}.",
        ),
        number=f"{part} as computed",
        unit="%",
        limits=("limits.negative_fraction_pct", "limits.noise_warn_sd"),
        source=NOISE,
    )


ROWS: tuple[Row, ...] = (
    Row(
        code="clay_limit_not_reached",
        title="the clay limit was not reached",
        client="clay limit not reached",
        severities=(STOP,),
        wordings=_not_reached("clay"),
        number="nearest point",
        unit="µm",
        limits=("edition.clay_limit_um", "edition.clay_extrapolation", *_FACTOR),
        source=COMMON,
    ),
    Row(
        code="clay_limit_extrapolated",
        title="the curve was extended to the clay limit",
        client="extended to the clay limit",
        severities=(WARN,),
        wordings=several(
            _PRINT_IT,
            line=_beyond("clay", "the line"),
            day_line=_beyond("clay", "the line through the readings at 90 min and 24 h"),
        ),
        number="how far beyond the last point, as a ratio of diameters",
        unit="",
        limits=("edition.clay_limit_um", "edition.clay_extrapolation", *_FACTOR),
        source=COMMON,
    ),
    Row(
        code="no_sand_sieve",
        title="no sieve at the sand limit",
        client="no sieve at the sand limit",
        severities=(STOP,),
        wordings=one(
            "None of the sieves has an opening of {low:g} to {high:g} µm, the sand limit.",
            "Sieve the sand on the sieve of the limit; sand is shown from the hydrometer.",
        ),
        number="finest sieve there is",
        unit="µm",
        limits=("edition.sand_sieve_openings_um",),
        source=COMMON,
    ),
    Row(
        code="sand_limit_not_reached",
        title="the sand limit was not reached",
        client="sand limit not reached",
        severities=(STOP,),
        wordings=_not_reached("sand")
        | {
            "beside_sieve": Wording(
                sentence="No sand figure: no point lies on the other side of {limit_um:g} µm from the sieve.",
                next_step="Take an earlier reading, or a sieve on the other side of the limit.",
            )
        },
        number="nearest point, or opening of the sand sieve",
        unit="µm",
        limits=("edition.sand_limit_um", *_FACTOR),
        source=COMMON,
    ),
    Row(
        code="sand_limit_extrapolated",
        title="the curve was extended to the sand limit",
        client="extended to the sand limit",
        severities=(WARN,),
        wordings=one(_beyond("sand", "the line"), _PRINT_IT),
        number="how far beyond the last point, as a ratio of diameters",
        unit="",
        limits=("edition.sand_limit_um", *_FACTOR),
        source=COMMON,
    ),
    _negative("clay_negative", "clay"),
    _negative("silt_negative", "silt"),
    _negative("sand_negative", "sand"),
    Row(
        code="system_not_confirmed",
        title="a further texture system is not confirmed",
        client=None,
        severities=(NOTE,),
        wordings=one(
            "No class in {system}: its lines are from memory and not confirmed.",
            "Check them against the laboratory's own copy, then name it as confirmed in the edition.",
        ),
        number="",
        unit="",
        limits=("edition.also_systems", "edition.confirmed_systems"),
        source=RECORDED,
    ),
    Row(
        code="system_limit_not_reached",
        title="the sand limit of a further texture system was not reached",
        client="no class in a further system",
        severities=(NOTE,),
        wordings=one(
            "No class in {system}: the curve does not reach {number:g} µm.",
            "Take a reading or a sieve on the coarse side of that limit.",
        ),
        number="sand limit of that system",
        unit="µm",
        limits=("edition.also_systems",),
        source=RECORDED,
    ),
)
