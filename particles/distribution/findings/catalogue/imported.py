"""Rows of figures that somebody else determined: sums, columns, depths and twins. They are on no certificate."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, Row, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_TWO_DEPTHS = "{top_cm:g} to {bottom_cm:g} cm after {above_top_cm:g} to {above_bottom_cm:g} cm"
_ROWS = "From row {first} to row {last} ({number:.0f} rows)"

ROWS: tuple[Row, ...] = (
    Row(
        code="imported_sum",
        title="imported fractions do not add up to 100 %",
        client=None,
        severities=(WARN, STOP),
        wordings=one(
            "The fractions add up to {number:g} %, {difference_pct:+g} from 100; rounding as printed can do "
            "{rounding_pct:g}.",
            "Look at the rows around it before blaming one value; ask for the figures again, never rescale.",
        ),
        number="sum",
        unit="%",
        limits=("without_run.imported:SUM_STOP_PCT",),
        source=COMMON,
    ),
    Row(
        code="imported_out_of_range",
        title="an imported fraction that no soil has",
        client=None,
        severities=(STOP,),
        wordings=one("{part} is given as {number:g} %; 0 to 100 % is possible.", "Ask for the figure again."),
        number="fraction as given",
        unit="%",
        limits=(),
        source="arithmetic",
    ),
    Row(
        code="imported_slipped",
        title="a column of an imported list may have slipped by a row",
        client=None,
        severities=(STOP,),
        wordings=several(
            "Compare the column with its source row by row; nothing is moved here.",
            below=f"{_ROWS}, each {{column}} fits the row above its own: the column seems to stand one row too low.",
            above=f"{_ROWS}, each {{column}} fits the row below its own: the column seems to stand one row too high.",
        ),
        number="rows that come right together",
        unit="",
        limits=("without_run.slipped:LEAST_ROWS",),
        source=COMMON,
    ),
    Row(
        code="imported_exchanged",
        title="two values of an imported list may be exchanged",
        client=None,
        severities=(STOP,),
        wordings=one(
            "Rows {first} and {second} both add up to 100 % once their {column} is exchanged.",
            "Compare both rows with their source; nothing is exchanged here.",
        ),
        number="",
        unit="",
        limits=(),
        source="arithmetic",
    ),
    Row(
        code="imported_depth",
        title="depths of an imported list do not follow each other",
        client=None,
        severities=(WARN, STOP),
        wordings=several(
            "Ask whoever made the list; depths stay as they are given.",
            upside_down="The depth goes from {top_cm:g} down to {bottom_cm:g} cm, which is not downward.",
            order=f"{_TWO_DEPTHS}: the rows of the profile are not in order of depth.",
            overlap=f"{_TWO_DEPTHS}: the two overlap.",
            gap=f"{_TWO_DEPTHS}: between them nothing is given.",
        ),
        number="",
        unit="",
        limits=(),
        source=COMMON,
    ),
    Row(
        code="imported_twin",
        title="two rows of an imported list are alike",
        client=None,
        severities=(WARN, STOP),
        wordings=several(
            "Ask whether there were two samples; neither row is left out.",
            name="{name} stands here a second time, as in row {first}, with the same depth.",
            figures="All figures are those of row {first} ({name}), to the last decimal: a row may have been copied.",
        ),
        number="",
        unit="",
        limits=(),
        source=COMMON,
    ),
    Row(
        code="imported_class",
        title="a class of an imported list is not that of its figures",
        client=None,
        severities=(WARN,),
        wordings=several(
            "Ask which is right, and by which system it was named; the class stays as it is given.",
            inside="The class is given as {given}; by {system} the figures as printed are {own}.",
            on_the_line="The class is given as {given}; by {system} the figures as printed lie on a line of {own}.",
        ),
        number="",
        unit="",
        limits=(),
        source="the rules of the system",
    ),
)
