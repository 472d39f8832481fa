"""The figures of a sheet as lines to read."""

from __future__ import annotations

from collections.abc import Iterator

from particles.bench_sheet.figures import Figures
from particles.distribution.findings.catalogue import row_of


def as_table(figures: Figures) -> str:
    """The figures as lines to read."""
    lines = [figures["title"]]
    if figures["source"]:
        lines.append(f"Source: {figures['source']}")
    if "rows" in figures:
        lines += _row_lines(figures["rows"])
    if "distribution" in figures:
        lines += _distribution_lines(figures["distribution"], figures["detection"])
    else:
        lines += _curve_lines(figures.get("curve", [])) + _fines_lines(figures.get("fines"))
        lines += _pipette_lines(figures)
    if figures["findings"] or "distribution" not in figures:
        lines += _finding_lines(figures["findings"])
    lines += _printed_lines(figures.get("printed_by_source", []))
    if "grading" in figures:
        lines += _grading_lines(figures["grading"])
    if "explanation" in figures:
        lines += _explanation_lines(figures["explanation"])
    lines.append(f"Certified result allowed: {'yes' if figures['certified_result_allowed'] else 'no'}")
    return "\n".join(lines)


def _distribution_lines(plain: Figures, detection: Figures) -> list[str]:
    lines = [f"Method: {plain['method_code']}   corrected by: {plain['correction']}", ""]
    lines.append("  time s      reading   in suspension g/L   diameter µm   finer %")
    lines += [
        f"{p['elapsed_s']:8g} {p['reading']:12g} {p['concentration_g_l']:19.2f} "
        f"{p['diameter_um']:13.2f} {p['percent_finer_curve']:9.2f}"
        for p in plain["points"]
    ]
    sieve = [point for point in plain["curve"] if point["source"] == "sieve"]
    lines += [*_curve_lines(sieve), *_fraction_lines(plain, detection)]
    if plain["whole_sample_curve"]:
        lines += ["", "Whole sample, gravel included:", *_curve_lines(plain["whole_sample_curve"])[1:]]
    lines += _finding_lines(plain["findings"])
    return lines


def _fraction_lines(plain: Figures, detection: Figures) -> Iterator[str]:
    yield ""
    for named in plain["named_readings"]:
        finer = "" if named["diameter_um"] is None else f"   (finer than {named['diameter_um']:.1f} µm)"
        yield f"{named['name']}: {named['value_pct']:.2f} %{finer}"
    fractions, texture = plain["fractions"], plain["texture"]
    for name in ("sand", "silt", "clay") if fractions else ():
        part = fractions[name]
        between = (
            "" if part["low_pct"] is None else f"   95 %: {part['low_pct']:.1f} to {part['high_pct']:.1f}"
        )
        limits = detection.get(name, {})
        below = (
            f"   below detection, certified as less than {limits['detection_limit_pct']:.1f} rounded up"
            if limits.get("below_detection")
            else ""
        )
        yield f"{name}: {part['value_pct']:6.2f} %{between}{below}"
    if texture:
        chances = ", ".join(f"{name} {100 * chance:.0f} %" for name, chance in texture["chances"])
        line = " (on the line)" if texture["on_the_line"] else ""
        likely = f"   chances: {chances}" if chances else ""
        finer = f", {texture['subclass']}" if texture["subclass"] else ""
        yield f"class ({texture['system']}): {texture['name']}{finer}{line}{likely}"
    for other in plain["other_textures"]:
        yield f"class ({other['system']}): {other['name']}{' (on the line)' if other['on_the_line'] else ''}"
    for part in plain["sand_fractions"]:
        yield f"{part['name']}, {part['coarse_um']:g} to {part['fine_um']:g} µm: {part['percent']:.2f} %"


def _curve_lines(curve: list[Figures]) -> list[str]:
    rows = [f"{p['diameter_um']:14.2f} {p['percent_finer']:10.2f}   {p['source']}" for p in curve]
    return ["", "   diameter µm    finer %   by", *rows] if rows else []


def _pipette_lines(figures: Figures) -> list[str]:
    rows = [
        f"{a['name']}: {a['suspended_g']:.2f} g, {a['percent']:.2f} %" for a in figures.get("aliquots", [])
    ]
    return rows + [f"{name}: {part:.2f} %" for name, part in figures.get("fractions_pct", {}).items()]


def _finding_lines(findings: list[Figures]) -> list[str]:
    rows = [
        f"{f['severity'].upper():5} {_place(f)}{row_of(f['code']).title}: {f['sentence']} {f['next_step']}"
        for f in findings
    ]
    return ["", *rows, ""] if rows else [""]


def _place(finding: Figures) -> str:
    return f"row {finding['row']}, " if finding.get("row") is not None else ""


def _row_lines(rows: list[Figures]) -> list[str]:
    lines = [
        f"{k:4} {row['sand']:>8} {row['silt']:>8} {row['clay']:>8}   {row['name']}"
        for k, row in enumerate(rows, start=1)
    ]
    return ["", " row     sand     silt     clay   sample", *lines]


def _fines_lines(fines: Figures | None) -> list[str]:
    if fines is None:
        return []
    return [
        f"fines: {fines['washed_away_g']:.2f} g washed away and {fines['pan_g']:.2f} g in the pan, "
        f"{fines['percent']:.2f} %; by difference {fines['passing_pct']:.2f} % passed the finest sieve"
    ]


def _printed_lines(compared: list[Figures]) -> list[str]:
    lines = []
    for each in compared:
        verdict = "agrees within its rounding" if each["agrees"] else "differs by more than its rounding"
        lines.append(
            f"printed by the source: {each['name']} {each['printed']} %, here {each['computed_pct']:.2f}: {verdict}"
        )
    return lines


def _grading_lines(grading_of: Figures) -> list[str]:
    names = {f"d{percent}_um": f"D{percent}" for percent in (10, 16, 30, 50, 60, 84, 90)}
    sizes = [
        f"{name} {'not determined' if grading_of[key] is None else f'{grading_of[key]:.4g} µm'}"
        for key, name in names.items()
    ]
    ratios = [
        f"{name} {'not determined' if grading_of[key] is None else f'{grading_of[key]:.3g}'}"
        for key, name in {"uniformity": "Cu", "curvature": "Cc"}.items()
    ]
    return ["   ".join(sizes), "   ".join(ratios)]


def _explanation_lines(explanation: Figures) -> list[str]:
    head = "  time s       raw     scale     blank   warmth     other       net   factor       g/L   finer %"
    rows = [
        f"{r['elapsed_s']:8g} {r['raw']:9g} {r['scale_correction']:+9.3f} "
        f"{'-' if r['blank_reading'] is None else format(r['blank_reading'], 'g'):>9} "
        f"{r['blank_temperature_correction']:+8.3f} {r['other_correction']:9.3f} {r['net']:9.3f} "
        f"{r['factor']:8.4f} {r['concentration_g_l']:9.3f} {r['percent_finer']:9.2f}"
        for r in explanation["readings"]
    ]
    return ["", head, *rows, "", *(f"{e['step']}: {e['sentence']}" for e in explanation["effects"])]
