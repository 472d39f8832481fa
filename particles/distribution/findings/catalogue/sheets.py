"""Rows of tests without a hydrometer run: a stack of sieves alone, and a pipette. They are on no certificate."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, RECORDED, Row, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

ROWS: tuple[Row, ...] = (
    Row(
        code="sieve_start_missing",
        title="the mass put on the stack is not stated",
        client=None,
        severities=(WARN,),
        wordings=one(
            "The sheet does not say what was put on the stack; percentages are of the {number:.2f} g found on it, and "
            "a loss cannot be seen.",
            "Enter the mass the test started with, and the dry mass after washing if it was washed.",
        ),
        number="mass on sieves and pan",
        unit="g",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="washing_in_pan",
        title="the pan holds what was washed away",
        client=None,
        severities=(STOP,),
        wordings=one(
            "The pan's {number:.2f} g hold the {washed_away_g:.2f} g that washing took away: the fines would count "
            "twice.",
            "Enter only what was in the pan after sieving; what was washed away follows from the two other masses.",
        ),
        number="mass in the pan",
        unit="g",
        limits=("limits.sieve_balance_g", "limits.sieve_balance_pct"),
        source=COMMON,
    ),
    Row(
        code="percent_rises",
        title="a percentage rises towards finer sizes",
        client=None,
        severities=(WARN, STOP),
        wordings=several(
            "Look for exchanged rows or a slip of a digit; no point is moved.",
            sieves="{fine_pct:g} % pass {fine_um:g} µm, more than the {coarse_pct:g} % that pass {coarse_um:g} µm: "
            "{number:.2f} points too many.",
            hydrometer="{fine_pct:.2f} % are finer than {fine_um:g} µm, more than the {coarse_pct:.2f} % finer than "
            "{coarse_um:g} µm: {number:.2f} points too many.",
        ),
        number="rise",
        unit="%",
        limits=("limits.adjustment_warn_pct",),
        source=COMMON,
    ),
    Row(
        code="aliquots_apart",
        title="two aliquots of one size contradict each other",
        client=None,
        severities=(STOP,),
        wordings=one(
            "The aliquots of {aliquot} give {low_pct:.1f} and {high_pct:.1f} %, {number:.1f} points apart, more than "
            "{limit_pct:g}; no fraction is made of them.",
            "Look for a swapped dish or a forgotten tare; draw both again.",
        ),
        number="largest less smallest share",
        unit="%",
        limits=("without_run.pipette_test:ALIQUOTS_APART_PCT",),
        source="from memory, not from a source",
    ),
    Row(
        code="aliquots_averaged",
        title="the mean of several aliquots was taken",
        client=None,
        severities=(NOTE,),
        wordings=one(
            "The aliquots of {aliquot} give {low_pct:.1f} to {high_pct:.1f} %, {number:.1f} points apart; their mean "
            "is used.",
            "Nothing to do.",
        ),
        number="largest less smallest share",
        unit="%",
        limits=("without_run.pipette_test:ALIQUOTS_APART_PCT",),
        source="from memory, not from a source",
    ),
    Row(
        code="aliquot_missing",
        title="no aliquot of a size",
        client=None,
        severities=(WARN,),
        wordings=one(
            "There is no aliquot of {aliquot}, so there are no fractions.",
            "Draw it, or read the aliquots there are under their own names.",
        ),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="moisture_dishes_apart",
        title="dishes of one sample differ in moisture",
        client=None,
        severities=(WARN,),
        wordings=one(
            "The moisture dishes give {low_pct:.2f} to {high_pct:.2f} %, {number:.2f} points apart, more than "
            "{limit_pct:g}; their mean is used.",
            "Check the weighings of each dish, and whether all were dry.",
        ),
        number="largest less smallest moisture",
        unit="%",
        limits=("without_run.moisture_dishes:DISHES_APART_PCT",),
        source="from memory, not from a source",
    ),
)
