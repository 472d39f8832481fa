"""A certificate as PDF/A-2b and PDF/UA-1, the same bytes for the same content."""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import segno
import typst

from reports.charts import TrianglePoint, size_curve, texture_triangle, to_svg
from reports.content.context import ON_A_LINE, CertificateContext, SampleSection

HERE = Path(__file__).resolve().parent
TEMPLATE = HERE / "certificate.typ"
FONTS = HERE / "fonts"
STANDARDS: list[Any] = ["a-2b", "ua-1"]
_of_thread = threading.local()


class CertificatePrintError(ValueError):
    """The page cannot be made from this content; the message says why."""


@dataclass(frozen=True, slots=True)
class ChartFrame:
    """Limits and classes that the charts show around the figures and a certificate's content does not hold."""

    clay_limit_um: float | None = None
    sand_limit_um: float | None = None
    """Limits drawn into the size curve, or None for no rule. [µm]"""
    polygons: Mapping[str, Sequence[Mapping[str, float]]] = field(default_factory=dict)
    """Texture classes, name -> ring of {'sand', 'silt', 'clay'} [%]; empty for a triangle without classes."""


def render_pdf(context: CertificateContext, frame: ChartFrame | None = None) -> bytes:
    """
    The printed certificate, without a signature.

    PDF/A-2b and PDF/UA-1 are declared, and checked as far as Typst does; no validator has seen the file.

    Raises
    ------
    CertificatePrintError : a character the shipped fonts lack, or content that does not fit the page.
    """
    content = json.dumps(_content(context, frame or ChartFrame()), ensure_ascii=False)
    try:
        page = _compiler().compile(
            format="pdf",
            sys_inputs={"certificate": content},
            pdf_standards=STANDARDS,
            timestamp=datetime.fromisoformat(context.issued_at),
        )
    except typst.TypstError as error:
        raise CertificatePrintError(
            f"Certificate {context.number} was not printed: {error.message}"
        ) from error
    if not isinstance(page, bytes):
        raise CertificatePrintError(
            f"Certificate {context.number} was not printed: Typst gave no single file."
        )
    return page


def _compiler() -> typst.Compiler:
    """One for each thread: a compiler shared by threads fails."""
    compiler: typst.Compiler | None = getattr(_of_thread, "compiler", None)
    if compiler is None:
        compiler = _of_thread.compiler = typst.Compiler(TEMPLATE, root=HERE, font_paths=_fonts())
    return compiler


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS])


def _content(context: CertificateContext, frame: ChartFrame) -> dict[str, Any]:
    samples = [{**asdict(sample), **_charts(sample, frame)} for sample in context.samples]
    return {**asdict(context), "samples": samples, "qr": _qr(context.check_url)}


def _qr(address: str) -> str:
    code = segno.make(address, error="m", micro=False)
    return code.svg_inline(border=0, dark="#2b2823", omitsize=True)


def _charts(sample: SampleSection, frame: ChartFrame) -> dict[str, str]:
    """The drawings of one sample and the words that stand for them; empty when no figures are reported."""
    drawings = {"curve_svg": "", "curve_alt": "", "triangle_svg": "", "triangle_alt": ""}
    if sample.reported:
        drawings |= _curve(sample, frame) | _triangle(sample, frame)
    return drawings


def _curve(sample: SampleSection, frame: ChartFrame) -> dict[str, str]:
    ends = [f"{row.percent_text} % finer than {row.diameter_text} µm" for row in sample.curve]
    between = f" from {ends[0]} to {ends[-1]}" if ends else " without points"
    alt = f"Size curve of sample {sample.lab_number}{between}; the points are in the table beside it."
    limits = {"clay_limit_um": frame.clay_limit_um, "sand_limit_um": frame.sand_limit_um}
    spec = size_curve(sample.curve, **limits, title="", description=alt)
    return {"curve_svg": to_svg(spec), "curve_alt": alt}


def _triangle(sample: SampleSection, frame: ChartFrame) -> dict[str, str]:
    if sample.sand_pct is None or sample.silt_pct is None or sample.clay_pct is None:
        return {}
    point = TrianglePoint(sample.lab_number, sample.sand_pct, sample.silt_pct, sample.clay_pct)
    parts = ", ".join(f"{row.name} {row.printed_pct} %" for row in sample.fractions)
    alt = f"Texture triangle with sample {sample.lab_number}: {parts}, class {sample.texture_class}."
    name = sample.texture_class.removesuffix(ON_A_LINE)
    known = name if name in frame.polygons else ""
    spec = texture_triangle(
        [point], polygons=frame.polygons, highlighted_class=known, title="", description=alt
    )
    return {"triangle_svg": to_svg(spec), "triangle_alt": alt}
