"""Rows of the catalogue on the portion, the sieves and the mass that was advised."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, RECORDED, Row, Wording, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_LOST = "{lost_g:.2f} g ({number:.1f} %) of the mass put on the stack was lost in sieving."
_NOT_ADVISED = (
    "The portion weighs {number:.2f} g, {difference_pct:.0f} % {side} than the {nearest_g:g} g "
    "advised for a {texture}"
)
_FALLS_SHORT = f"{_NOT_ADVISED}; expected with it: {{shortfall}}."
_ADVISED = "advice.portion_apart:APART_PCT"

ROWS: tuple[Row, ...] = (
    Row(
        code="no_oven_dry_mass",
        title="no oven-dry mass",
        client="no oven-dry mass",
        severities=(STOP,),
        wordings=several(
            "Dry and weigh the moisture dish, or enter the oven-dry mass.",
            no_mass="There is no oven-dry mass: percentages need it.",
            air_dry="There is no oven-dry mass: figures stand on {number:.2f} g air-dry.",
        ),
        number="air-dry mass the figures stand on",
        unit="g",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="mass_unusual",
        title="an unusual mass of the portion",
        client="unusual mass of the portion",
        severities=(WARN,),
        wordings=one(
            "The portion weighs {number:.2f} g, not the usual {low:g} to {high:g} g.",
            "Check the weighing; repeat with a usual portion if readings are off scale or faint.",
        ),
        number="mass of the portion",
        unit="g",
        limits=("limits.mass_usual_g",),
        source=COMMON,
    ),
    Row(
        code="moisture_unusual",
        title="an unusual moisture of air-dry soil",
        client="unusual moisture",
        severities=(WARN, STOP),
        wordings=several(
            "Check the three dish weighings.",
            **{"": "Air-dry moisture is {number:.2f} %; above 0 and up to {usual_pct:g} % is usual."},
        )
        | {
            "not_air_dry": Wording(
                sentence="A moisture of {number:.1f} % is more than the {most_pct:g} % that air-dry soil can hold.",
                next_step="Check the three dish weighings; dry the soil in air and weigh anew, or enter the mass after "
                "drying in the oven.",
            )
        },
        number="moisture on oven-dry basis",
        unit="%",
        limits=("limits.moisture_usual_pct", "limits.moisture_most_pct"),
        source=COMMON,
    ),
    Row(
        code="volume_unusual",
        title="an unusual volume of the cylinder",
        client="unusual volume of the cylinder",
        severities=(WARN,),
        wordings=one(
            "The cylinder is filled to {number:g} mL; {low:g} to {high:g} mL is usual.",
            "Check the cylinder's mark; every percentage goes with the volume.",
        ),
        number="volume",
        unit="mL",
        limits=("findings.portion:VOLUME_USUAL_ML",),
        source=COMMON,
    ),
    Row(
        code="oven_dry_above_air_dry",
        title="heavier oven-dry than air-dry",
        client="heavier oven-dry than air-dry",
        severities=(WARN, STOP),
        wordings=one(
            "The portion weighs {number:.2f} g more oven-dry than air-dry, which no soil does.",
            "Check both weighings and their tares.",
        ),
        number="oven-dry less air-dry mass",
        unit="g",
        limits=("limits.noise_stop_sd",),
        source=COMMON,
    ),
    Row(
        code="masses_disagree",
        title="air-dry mass, moisture and oven-dry mass disagree",
        client="masses of the portion disagree",
        severities=(STOP,),
        wordings=one(
            "{air_dry_g:.2f} g air-dry with a moisture of {moisture_pct:.2f} % leave {expected_g:.2f} g, but "
            "{oven_dry_g:.2f} g are given oven-dry, {number:+.2f} g off; the figures stand on the oven-dry mass.",
            "Find out which of the three is wrong; leave out what was not measured on this portion.",
        ),
        number="oven-dry mass less what the other two leave",
        unit="g",
        limits=("limits.noise_stop_sd",),
        source=COMMON,
    ),
    Row(
        code="density_unusual",
        title="an unusual particle density",
        client="unusual particle density",
        severities=(WARN,),
        wordings=one(
            "Particle density is {number:.3f} g/cm³; {low:g} to {high:g} is usual for soil.",
            "Confirm the pycnometer result; it moves every size and percentage.",
        ),
        number="particle density",
        unit="g/cm³",
        limits=("limits.density_usual_g_cm3",),
        source=COMMON,
    ),
    Row(
        code="density_assumed",
        title="particle density assumed",
        client="particle density not measured",
        severities=(NOTE,),
        wordings=one(
            "Particle density {number:.2f} g/cm³ is assumed, not measured.",
            "Print it with the result; measure it for organic, volcanic or iron-rich soil.",
        ),
        number="particle density",
        unit="g/cm³",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="density_without_record",
        title="a density that no soil has, without the record of its measurement",
        client="particle density without a record",
        severities=(STOP,),
        wordings={
            "measured": Wording(
                sentence="A particle density of {number:.3f} g/cm³ lies outside {low} to {high}, and nothing says how "
                "it was measured.",
                next_step="Enter the pycnometer's weighings, or the document it comes from.",
            ),
            "assumed": Wording(
                sentence="A particle density of {number:.3f} g/cm³ is assumed; outside {low} to {high} it must be "
                "measured.",
                next_step="Measure it, and enter the pycnometer's weighings or the document it comes from.",
            ),
        },
        number="particle density",
        unit="g/cm³",
        limits=("possible:PARTICLE_DENSITY_OF_SOIL_G_CM3",),
        source="from memory",
    ),
    Row(
        code="density_apart",
        title="the particle density is not that of its weighings",
        client="density contradicts its weighings",
        severities=(STOP,),
        wordings=one(
            "The pycnometer's weighings give a particle density of {by_weighings:.3f} g/cm³; the one entered lies "
            "{number:+.3f} g/cm³ off.",
            "Check the weighings, the temperature of the water and the density.",
        ),
        number="density entered less that of its weighings",
        unit="g/cm³",
        limits=("findings.portion:DENSITY_APART_G_CM3",),
        source=COMMON,
    ),
    Row(
        code="dispersant_high",
        title="more dispersant than the formulas are known to",
        client="more dispersant than usual",
        severities=(WARN,),
        wordings=one(
            "{number:g} g/L of dispersant; the liquid's formulas are known to {known_to_g_l:g} g/L.",
            "Check that it is the concentration in the filled cylinder.",
        ),
        number="dispersant in the cylinder",
        unit="g/L",
        limits=("limits.dispersant_known_to_g_l",),
        source=COMMON,
    ),
    Row(
        code="washed_above_portion",
        title="the washed sand weighs more than its portion",
        client="sand heavier than its portion",
        severities=(STOP,),
        wordings=one(
            "The washed sand weighs {washed_g:.2f} g, more than its portion of {portion_g:.2f} g.",
            "Check tare, dryness and that both masses belong to this portion.",
        ),
        number="washed sand less portion",
        unit="g",
        limits=("limits.sieve_balance_g", "limits.noise_warn_sd"),
        source=COMMON,
    ),
    Row(
        code="gravel_on_sand_sieves",
        title="gravel among the sand of the portion",
        client="gravel in the portion",
        severities=(WARN, STOP),
        wordings=one(
            "{gravel_g:.2f} g ({number:.1f} %) of the portion stayed on sieves of 2 mm and more: it is no fine earth, "
            "yet counts as sand here.",
            "Sieve the fine earth again and repeat the run, or take it off the portion's mass with a reason.",
        ),
        number="gravel in the portion",
        unit="%",
        limits=("limits.gravel_in_portion_pct", "limits.noise_warn_sd"),
        source=COMMON,
    ),
    Row(
        code="sieve_gain",
        title="the sieves hold more than was put on them",
        client="mass gained in sieving",
        severities=(STOP,),
        wordings=one(
            "The sieves and pan hold {number:.2f} g more than the {washed_g:.2f} g put on the stack.",
            "Look for a tare, wet sand or another sample; weigh again.",
        ),
        number="mass gained",
        unit="g",
        limits=("limits.sieve_balance_g", "limits.sieve_balance_pct", "limits.noise_warn_sd"),
        source=COMMON,
    ),
    Row(
        code="sieve_loss",
        title="too much was lost in sieving",
        client="too much lost in sieving",
        severities=(STOP,),
        wordings=one(_LOST, "Sieve again; the loss is not shared out.")
        | {
            "perhaps_washed": Wording(
                sentence=_LOST,
                next_step="If the portion was washed first, enter the dry mass after washing; else sieve again. The "
                "loss is not shared out.",
            )
        },
        number="mass lost",
        unit="%",
        limits=("limits.sieve_loss_pct", "limits.noise_warn_sd"),
        source=COMMON,
    ),
    Row(
        code="sieve_loss_small",
        title="a little was lost in sieving",
        client="small loss in sieving",
        severities=(NOTE,),
        wordings=one(_LOST, "Nothing to do; the loss is not shared out."),
        number="mass lost",
        unit="%",
        limits=("limits.sieve_loss_pct", "limits.noise_warn_sd"),
        source=COMMON,
    ),
    Row(
        code="gravel_basis_missing",
        title="gravel sieved without the mass of the whole sample",
        client="mass of the whole sample missing",
        severities=(WARN,),
        wordings=one(
            "Gravel was sieved, but the dry mass of the whole sample is missing.",
            "Enter it; the gravel sieves are not used without it.",
        ),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="sample_small_for_grain",
        title="too small a sample for its largest grains",
        client="sample small for its largest grains",
        severities=(WARN,),
        wordings=one(
            "The whole sample weighs {number:g} g; grains of {largest_mm:g} mm ask for at least {least_g:g} g.",
            "Ask for more soil, or print the deviation: a few large grains decide the gravel of so small a sample.",
        ),
        number="mass of the whole sample",
        unit="g",
        limits=("sieves.gravel:LEAST_SAMPLE_G", "sieves.gravel:MUCH_COARSER_PCT"),
        source="EN ISO 17892-4:2016, read at second hand",
    ),
    Row(
        code="gravel_apart",
        title="stated gravel and gravel sieves do not agree",
        client="figures for gravel do not agree",
        severities=(WARN,),
        wordings=several(
            "Check both masses and that they are of one sample.",
            used="Gravel is stated as {stated_pct:.1f} %; its sieves, which were used, hold {sieved_pct:.1f} %.",
            unused="Gravel is stated as {stated_pct:.1f} %; its sieves alone hold {sieved_pct:.1f} %.",
        ),
        number="stated less sieved gravel",
        unit="%",
        limits=("limits.gravel_apart_pct",),
        source=COMMON,
    ),
    Row(
        code="portion_too_light",
        title="the portion is too light for its texture",
        client=None,
        severities=(WARN,),
        wordings=several(
            "Weigh a portion near {nearest_g:g} g, or go on: faint readings make the result more doubtful.",
            falls_short=_FALLS_SHORT,
        ),
        number="mass of the portion",
        unit="g",
        limits=(_ADVISED, "advice.portion:FIRST_G_L", "advice.portion:LAST_LEAST_G_L"),
        source=COMMON,
    ),
    Row(
        code="portion_too_heavy",
        title="the portion is too heavy for its texture",
        client=None,
        severities=(WARN,),
        wordings=several(
            "Weigh a portion near {nearest_g:g} g: a reading above the stem gives no point.",
            falls_short=_FALLS_SHORT,
        ),
        number="mass of the portion",
        unit="g",
        limits=(_ADVISED, "advice.portion:FIRST_G_L"),
        source=COMMON,
    ),
    Row(
        code="portion_off_advice",
        title="the portion is not the one advised",
        client=None,
        severities=(WARN,),
        wordings=several(
            "Read the balance again; if the mass is right, go on.",
            falls_short=_FALLS_SHORT,
            within_targets=f"{_NOT_ADVISED}.",
        ),
        number="mass of the portion",
        unit="g",
        limits=(_ADVISED,),
        source=COMMON,
    ),
)
