"""The printed certificate, read back with Poppler and pypdf."""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import threading
from dataclasses import replace

import pypdf
import pytest

from particles.distribution import CATALOGUE
from reports.content.context import QualifierRow
from reports.content.effects import EFFECTS
from reports.paper.pdf import CertificatePrintError, ChartFrame, render_pdf
from tests.support.example_context import CLUMPED, CONTEXT, ONE_SAMPLE, PURE_SAND, SAMPLE, UNREPORTED

MARKUP = "#set page(width: 1pt) *b* _i_ $x$ @ref <lab> `raw` // end"
NO_POPPLER = shutil.which("pdftotext") is None and "CI" not in os.environ
poppler = pytest.mark.skipif(NO_POPPLER, reason="Poppler is not installed here; on CI it has to be")


def _pages(page_bytes: bytes) -> list[str]:
    done = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=page_bytes, capture_output=True, check=True, timeout=60
    )
    return done.stdout.decode().split("\f")[:-1]


def _text(page_bytes: bytes) -> str:
    return " ".join(" ".join(_pages(page_bytes)).split())


@pytest.fixture(scope="module")
def printed() -> bytes:
    return render_pdf(CONTEXT, ChartFrame(clay_limit_um=2, sand_limit_um=50))


@poppler
def test_every_page_names_the_certificate_its_place_and_that_it_is_invented(printed):
    pages = _pages(printed)
    assert len(pages) == 4
    for number, page in enumerate(pages, start=1):
        assert "Certificate TL-2026-0193, revision 1" in page
        assert f"page {number} of 4" in page
        assert "INVENTED EXAMPLE - not a real certificate" in page
    assert "End of certificate TL-2026-0193" in pages[-1]
    assert sum("End of certificate" in page for page in pages) == 1


@poppler
def test_a_real_certificate_is_not_called_invented():
    assert "INVENTED" not in _text(render_pdf(replace(ONE_SAMPLE, invented=False)))


@poppler
def test_figures_intervals_classes_and_qualifiers_stand_on_the_page(printed):
    text = _text(printed)
    reported = [each for each in CONTEXT.samples if each.reported]
    assert reported
    for sample in reported:
        assert len(sample.fractions) == 3
        assert sample.curve
        for row in sample.fractions:
            assert row.printed_pct in text
            assert row.interval_pct in text
        for point in sample.curve:
            assert point.percent_text in text
        assert sample.class_chances in text
        assert sample.inputs_digest in text
    assert "soak short: Soaked 13.5 h" in text


@poppler
def test_less_than_the_detection_limit_stands_in_both_tables_and_is_explained():
    text = _text(render_pdf(replace(ONE_SAMPLE, samples=(PURE_SAND,))))
    # Poppler sets the narrow gap behind the sign as a blank or as none.
    assert len(re.findall(r"< ?6", text)) == 2
    assert len(re.findall(r"< ?9", text)) == 2
    assert "“<”: less than the detection limit" in text
    assert PURE_SAND.below_detection_note in text


@poppler
@pytest.mark.parametrize(
    "field",
    [
        "laboratory_name",
        "laboratory_address",
        "client_address",
        "client_contact",
        "client_reference",
        "job_number",
        "issued_on",
        "authorised_by",
        "approved_by",
        "method_code",
        "what_changed",
        "replaces",
        "check_url",
        "check_code",
        "uncertainty_statement",
    ],
)
def test_what_every_certificate_must_say_is_there(printed, field):
    assert getattr(CONTEXT, field) in _text(printed)


@poppler
def test_statements_and_departures_are_printed_whole(printed):
    text = _text(printed)
    assert all((CONTEXT.method_statements, CONTEXT.statements, CONTEXT.deviations))
    for sentence in (*CONTEXT.method_statements, *CONTEXT.statements, *CONTEXT.deviations):
        assert sentence in text


@poppler
def test_sample_without_figures_says_why_and_shows_none():
    stopped = replace(UNREPORTED, gravel_pct="7.7")
    pages = _pages(render_pdf(replace(ONE_SAMPLE, samples=(SAMPLE, stopped))))
    own = " ".join(pages[-1].split())
    assert "No figures are reported for this sample" in own
    assert CLUMPED.sentence in own
    assert "7.7" not in own
    assert "% by mass" not in own


@poppler
def test_a_curve_stays_on_the_page_of_its_fractions_beside_four_qualifiers_with_their_effects():
    told = [(CATALOGUE[code].client, EFFECTS[code]) for code in list(EFFECTS)[:4]]
    long = tuple(
        QualifierRow(title, "note", "What was found in this run. " * 2, effect) for title, effect in told
    )
    pages = _pages(render_pdf(replace(ONE_SAMPLE, samples=(replace(SAMPLE, qualifiers=long),))))
    (own,) = [page for page in pages if "Fractions of the soil" in page]
    assert "Size curve" in own
    for _, effect in told:
        assert effect in " ".join(own.split())


@poppler
def test_markup_in_client_text_comes_out_as_text():
    label = replace(SAMPLE, client_label=MARKUP)
    text = _text(render_pdf(replace(ONE_SAMPLE, client_name=MARKUP, samples=(label,))))
    assert "#set page(width: 1pt)" in text
    assert "`raw`" in text
    assert "$x$" in text


@poppler
def test_greek_cyrillic_and_latin_names_are_printed():
    text = _text(render_pdf(ONE_SAMPLE))
    assert all(word in text for word in ("Γεωργικός", "Чернозёмные", "Łąki"))


def test_same_content_gives_the_same_bytes_in_any_thread():
    made: list[bytes] = []
    threads = [threading.Thread(target=lambda: made.append(render_pdf(ONE_SAMPLE))) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert made == [render_pdf(ONE_SAMPLE)] * 3


def test_the_moment_of_issue_is_the_date_of_the_file():
    later = render_pdf(replace(ONE_SAMPLE, issued_at="2026-05-01T08:00:00Z"))
    dated = pypdf.PdfReader(io.BytesIO(later)).metadata
    assert dated is not None
    assert str(dated.creation_date).startswith("2026-05-01 08:00:00")


def test_declares_pdf_a_2b_and_ua_1_and_is_tagged(printed):
    reader = pypdf.PdfReader(io.BytesIO(printed))
    root = reader.trailer["/Root"]
    declared = root["/Metadata"].get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in declared
    assert "<pdfaid:conformance>B</pdfaid:conformance>" in declared
    assert "<pdfuaid:part>1</pdfuaid:part>" in declared
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"


def test_every_font_is_ours_and_embedded(printed):
    fonts = {}
    for page in pypdf.PdfReader(io.BytesIO(printed)).pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            fonts[inner["/BaseFont"]] = inner["/FontDescriptor"].get_object()
    assert fonts
    assert all("Inter" in name and "/FontFile3" in about for name, about in fonts.items())


def test_a_character_the_fonts_lack_is_refused_by_name():
    with pytest.raises(CertificatePrintError, match=r"TL-2026-0193 was not printed.*土"):
        render_pdf(replace(ONE_SAMPLE, client_name="土壌"))


def test_class_and_limits_are_drawn_from_the_frame():
    corner = ({"sand": 100, "silt": 0, "clay": 0}, {"sand": 0, "silt": 100, "clay": 0})
    framed = ChartFrame(polygons={"loam": (*corner, {"sand": 0, "silt": 0, "clay": 100})})
    assert render_pdf(ONE_SAMPLE, framed) != render_pdf(ONE_SAMPLE)
