"""Rows of what only the laboratory's records show: the bag, the soak, the job, a run that cannot be computed."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, RECORDED, Row, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_WRONG_VALUE = "A wrong value is corrected with its reason."

ROWS: tuple[Row, ...] = (
    Row(
        code="more_than_received",
        title="more soil prepared than received",
        client=None,
        severities=(WARN,),
        wordings=one(
            "{together_g} g after drying is more than the {received_g} g received.",
            f"Kept as typed. Look for a forgotten tare or a swapped bag. {_WRONG_VALUE}",
        ),
        number="fine earth and gravel together",
        unit="g",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="less_than_received",
        title="much less soil prepared than received",
        client=None,
        severities=(WARN,),
        wordings=one(
            "{together_g} g after drying is less than half of the {received_g} g received.",
            f"Kept as typed. Look for lost soil, a second bag, or a mass typed in kg. {_WRONG_VALUE}",
        ),
        number="fine earth and gravel together",
        unit="g",
        limits=("particles.preparation.odd:LEAST_LEFT",),
        source="from memory, not from a source",
    ),
    Row(
        code="dried_hot",
        title="dried above the gentle temperature",
        client=None,
        severities=(WARN,),
        wordings=one(
            "Dried at {temperature_c} °C, above {gently_c} °C (common practice).",
            "Kept as typed. Clay may disperse less easily: watch for flocs, or dry a fresh part of the bag. "
            f"{_WRONG_VALUE}",
        ),
        number="drying temperature",
        unit="°C",
        limits=("particles.preparation.odd:DRY_GENTLY_BELOW_C",),
        source=COMMON,
    ),
    Row(
        code="heavier_after_pretreatment",
        title="heavier after pretreatment than before",
        client=None,
        severities=(WARN,),
        wordings=one(
            "The portion weighs {number:.2f} g oven-dry after pretreatment, more than {before_g:.2f} g before.",
            "Look for a forgotten tare, a swapped beaker or soil that was not dry.",
        ),
        number="oven-dry mass after pretreatment",
        unit="g",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="soak_short",
        title="a soak shorter than the method asks for",
        client="soak shorter than the method asks",
        severities=(WARN,),
        wordings=one(
            "The soak lasted {number:.1f} h; the method asks for {minimum_h:g} h.",
            "Compare with a soil soaked in full, or repeat.",
        ),
        number="duration of the soak",
        unit="h",
        limits=("edition.soak_minimum_h",),
        source=COMMON,
    ),
    Row(
        code="soak_long",
        title="a soak longer than the method allows",
        client="soak longer than the method allows",
        severities=(WARN,),
        wordings=one(
            "The soak lasted {number:.1f} h; the method allows {maximum_h:g} h.",
            "Look for flocs, mould and lost water in the notes, and compare with a soil soaked in time, or repeat.",
        ),
        number="duration of the soak",
        unit="h",
        limits=("edition.soak_maximum_h",),
        source=COMMON,
    ),
    Row(
        code="instrument_unfit",
        title="readings with an instrument that was overdue or withdrawn",
        client="instrument overdue or withdrawn",
        severities=(WARN,),
        wordings=one(
            "Readings of {of} taken although {why}: {number:.0f}, the first at {first_s:time}.",
            "They were kept, for that soil cannot be read again. Have the instrument checked: if it reads as it was "
            "recorded, say so beside this; if not, or if it is broken, analyse the sample again.",
        ),
        number="readings taken with it",
        unit="readings",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="exchange_considered",
        title="figures stand against an exchange that was considered",
        client="exchange with another one considered",
        severities=(WARN,),
        wordings=one(
            "These readings would also fit another cylinder of the batch; the figures stand on other evidence: "
            "{evidence}. Had they been exchanged, sand, silt or clay would be off by up to {number:.0f} points.",
            "Where much rests on it, have a second portion analysed.",
        ),
        number="largest move of a fraction by the exchange",
        unit="percentage points",
        limits=("causes.cause:DECISIVE_PCT",),
        source=RECORDED,
    ),
    Row(
        code="reference_soil_not_counted",
        title="no reference soil speaks for the batch",
        client="no reference soil speaks for it",
        severities=(WARN,),
        wordings=one(
            "The reference soil read beside this sample does not count: {why}. Nothing of known composition shows "
            "that the batch read right.",
            "Where much rests on it, have a second portion analysed in another batch.",
        ),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="reading_left_out",
        title="a reading does not count",
        client="reading left out after review",
        severities=(NOTE,),
        wordings=one(
            "The reading at {number:time} of {of} was left out by the QA officer; the figures rest on the others.",
            "Read the reason beside the act.",
        ),
        number="nominal time of the reading",
        unit="s",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="sieving_asked_for",
        title="the job asks for a sieving that is not there",
        client="sand not sieved although asked for",
        severities=(WARN,),
        wordings=one(
            "The job asks for sand by sieve; no sieving of this portion is recorded.",
            "Sieve the sand, or agree with the client that the hydrometer's figure is reported.",
        ),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="cannot_be_computed",
        title="the run cannot be computed",
        client="no figures could be computed",
        severities=(STOP,),
        wordings=several("{next_step}", number="{what} ({shown}).", no_number="{what}."),
        number="",
        unit="",
        limits=(),
        source="the refusal of the computation",
    ),
)
