"""manage.py size_distribution: figures on stdout, faults on stderr, and the exit status."""

from __future__ import annotations

import json
import subprocess
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from particles.distribution import from_plain

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "fixtures" / "worked_examples" / "sheets"
SHEET: dict[str, Any] = {
    "kind": "run",
    "title": "Invented run",
    "method_code": "hydrometer-four-2026-4",
    "hydrometer": {
        "scale": "152H",
        "depth": {"intercept_cm": 16.295, "slope_cm_per_unit": 0.1641},
        "meniscus_correction": 0.5,
    },
    "portion": {"oven_dry_mass_g": 40},
    "dispersant_g_l": 5,
    "readings": [
        {"elapsed_s": t, "temperature_c": 21, "reading": r, "blank_reading": 4.5, "blank_temperature_c": 21}
        for t, r in ((30, 40), (60, 36), (5400, 17.5), (86400, 12))
    ],
}


def written(folder: Path, sheet: object) -> Path:
    path = folder / "sheet.json"
    path.write_text(sheet if isinstance(sheet, str) else json.dumps(sheet), encoding="utf-8")
    return path


def run(path: Path, **options: Any) -> str:
    out = StringIO()
    call_command("size_distribution", str(path), stdout=out, **options)
    return out.getvalue()


def refused(path: Path) -> CommandError:
    out = StringIO()
    with pytest.raises(CommandError) as caught:
        call_command("size_distribution", str(path), stdout=out)
    assert out.getvalue() == ""
    assert caught.value.returncode == 2
    return caught.value


def test_table(tmp_path: Path) -> None:
    text = run(written(tmp_path, SHEET))
    assert "86400           12                7.50          1.35     18.75" in text
    assert "class (USDA): silt loam   chances: silt loam" in text
    assert "NOTE  particle density assumed: Particle density 2.65 g/cm³ is assumed" in text
    assert "density_assumed" not in text, "codes are for programs"
    assert "D50 11.69 µm" in text
    assert text.endswith("Certified result allowed: yes\n")


def test_a_fraction_below_detection_is_said_with_its_limit(tmp_path: Path) -> None:
    faint = [8.5, 6.5, 5.0, 5.0]
    rows = [{**row, "reading": reading} for row, reading in zip(SHEET["readings"], faint, strict=True)]
    path = written(tmp_path, {**SHEET, "portion": {"oven_dry_mass_g": 12}, "readings": rows})
    assert "   below detection, certified as less than 1" in run(path)
    clay = json.loads(run(path, json=True))["detection"]["clay"]
    assert clay["below_detection"] is True
    assert clay["detection_limit_pct"] == pytest.approx(2 * clay["decision_limit_pct"])
    assert "below detection" not in run(written(tmp_path, SHEET))
    assert json.loads(run(path, json=True, draws=0))["detection"] == {}


def test_json_carries_the_whole_answer(tmp_path: Path) -> None:
    figures = json.loads(run(written(tmp_path, SHEET), json=True, draws=500))
    answer = from_plain(figures["distribution"])
    assert answer.draws == 500
    assert answer.fractions is not None
    assert answer.fractions.clay.value_pct == pytest.approx(22.7, abs=0.05)
    assert figures["certified_result_allowed"] is True
    assert figures["grading"]["d60_um"] > figures["grading"]["d30_um"]


def test_explained(tmp_path: Path) -> None:
    path = written(tmp_path, SHEET)
    assert "blank: What the stem" not in run(path)
    text = run(path, explain=True, draws=0)
    assert (
        "blank: What the stem shows without soil is taken off every reading. It changes clay -11.25" in text
    )
    assert (
        "86400        12    +0.000       4.5   +0.000     0.000     7.500   1.0000     7.500     18.75"
        in text
    )
    figures = json.loads(run(path, explain=True, draws=0, json=True))
    assert figures["explanation"]["readings"][3]["net"] == pytest.approx(7.5)


def test_systems_separates_and_further_diameters(tmp_path: Path) -> None:
    openings = (1000, 500, 250, 106, 53)
    sieves = [
        {"opening_um": um, "retained_g": g} for um, g in zip(openings, (0.3, 0.9, 1.5, 1.8, 1.2), strict=True)
    ]
    sheet = {
        **SHEET,
        "sieving": {"washed_dry_mass_g": 6.0, "sieves": sieves, "pan_g": 0.3},
        "also_systems": ["BELGIUM", "GERMANY_KA5"],
    }
    text = run(written(tmp_path, sheet), draws=0)
    # 14.2 % on the 53 µm sieve would be A, 16.1 % at the limit of 50 µm is E.
    assert "class (BELGIUM): E" in text
    assert "class (GERMANY_KA5): " in text
    # 1.8 of 40 g on 106 µm, and of the 1.2 g on 53 µm the part above 100 µm: 3 ln(106/100) / ln(106/53) %.
    assert "fine sand, 250 to 100 µm: 4.75 %" in text
    assert "D16 not determined" in text
    assert "D84 " in text
    assert "D90 " in text


def test_whole_sample(tmp_path: Path) -> None:
    gravel = {"whole_sample_dry_mass_g": 500, "sieves": [{"opening_um": 2000, "retained_g": 100}]}
    text = run(written(tmp_path, {**SHEET, "gravel": gravel}), draws=0)
    assert "Whole sample, gravel included:" in text
    assert "2000.00      80.00   sieve" in text
    assert "1.35      15.00   hydrometer" in text
    assert "Whole sample" not in run(written(tmp_path, SHEET), draws=0)


def test_method_option_and_no_draws(tmp_path: Path) -> None:
    path = written(tmp_path, SHEET)
    text = run(path, method="two-reading-2026-1", draws=0)
    assert "silt and clay at 30 s: 88.75 %" in text
    assert "class (USDA)" not in text
    assert text.endswith("Certified result allowed: no\n")


def test_sieves_alone_and_with_hydrometer_points() -> None:
    for name, line in (
        ("SV-CIE-25", "4750.00      97.55   sieve"),
        ("SV-HYD-CIE", "66.00      25.47   hydrometer"),
    ):
        text = run(EXAMPLES / f"{name}.json")
        assert line in text
        assert "Cu " in text


def test_pipette() -> None:
    text = run(EXAMPLES / "PIP-1.json")
    assert "clay: 8.00 g, 20.00 %" in text
    assert "sand: 40.00 %" in text


def test_every_fault_has_its_line(tmp_path: Path) -> None:
    sheet = json.loads(json.dumps(SHEET))
    sheet["readings"][1]["temperature_c"] = 71
    sheet["readings"][2]["elapsed_s"] = 60
    lines = str(refused(written(tmp_path, sheet))).splitlines()
    assert [line.split(": ")[0] for line in lines] == ["readings/1/temperature_c", "readings/2/elapsed_s"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("{", "is not JSON"),
        ("[1]", "must be a JSON object"),
        ('{"kind": "run", "kind": "run"}', "kind: is given twice"),
        ('{"kind": NaN}', "holds NaN"),
    ],
)
def test_what_is_no_sheet(tmp_path: Path, content: str, says: str) -> None:
    assert says in str(refused(written(tmp_path, content)))


def test_missing_file(tmp_path: Path) -> None:
    assert "cannot be opened" in str(refused(tmp_path / "nothing.json"))


def test_what_the_core_refuses(tmp_path: Path) -> None:
    sheet = {**SHEET, "portion": {"oven_dry_mass_g": 400}}
    assert "400 g" in str(refused(written(tmp_path, sheet)))


def test_exit_status_and_streams(tmp_path: Path) -> None:
    def manage(path: Path) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "manage.py", "size_distribution", str(path), "--draws", "0"]
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)

    good = manage(written(tmp_path, SHEET))
    assert (good.returncode, good.stderr) == (0, "")
    bad = manage(written(tmp_path, {**SHEET, "portion": {"oven_dry_mass_g": 0}}))
    assert (bad.returncode, bad.stdout) == (2, "")
    assert "portion/oven_dry_mass_g" in bad.stderr
