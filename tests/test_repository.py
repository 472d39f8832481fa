"""The promises of the documents hold."""

from __future__ import annotations

import configparser
import re
import subprocess
from pathlib import Path

import pytest
from django.core.management import call_command

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "manage.py", "requirements.txt", "labsite", "particles", "batches", "reports",
    "tests", "fixtures", "docker-compose.yml",
}  # fmt: skip


def tracked() -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return [Path(name) for name in listed.split("\0") if name and (ROOT / name).exists()]


def first_code_line(heading: str) -> str:
    section = README.split(f"\n## {heading}\n", 1)[1]
    return section.split("```sh\n", 1)[1].splitlines()[0]


@pytest.mark.parametrize(
    ("heading", "install", "run"),
    [
        ("Run it", "pip install -q -r requirements.txt", "python manage.py demo"),
        ("Test it", "pip install -q -r tests/requirements.txt", "pytest"),
    ],
)
def test_each_set_up_command_makes_its_own_environment(heading: str, install: str, run: str) -> None:
    line = first_code_line(heading)
    assert line.startswith("python3.11 -m venv .venv && ")
    assert f"&& {install} && {run}" in line


PIN = re.compile(r"^(?P<name>[\w.-]+)(?:\[[\w, -]+\])?==(?P<version>[^\s;]+)")


def requirement_lines(name: str) -> list[str]:
    """Requirements of a list, one string each: continued lines joined, comments and `-r`, `-c` lines left out."""
    text = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [re.sub(r"(^|\s)#.*", "", line).strip() for line in text.splitlines()]
    return [line for line in lines if line and not line.startswith(("-r ", "-c "))]


def pins(name: str) -> dict[str, str]:
    """Exact version of each package of a list; fails for a line that pins none, or for one named twice."""
    found: dict[str, str] = {}
    for line in requirement_lines(name):
        pin = PIN.match(line)
        assert pin, f"{name}: {line[:60]} is not pinned"
        package = re.sub(r"[-_.]+", "-", pin["name"]).lower()
        assert package not in found, f"{name}: {package} stands twice"
        found[package] = pin["version"]
    assert found, name
    return found


@pytest.mark.parametrize(
    ("direct", "compiled"),
    [("labsite/requirements.in", "requirements.txt"), ("tests/requirements.in", "tests/requirements.txt")],
)
def test_a_compiled_list_holds_its_direct_choices_with_hashes(direct: str, compiled: str) -> None:
    assert pins(direct).items() <= pins(compiled).items()
    for line in requirement_lines(compiled):
        # One pin, then hashes alone: no marker, no index, no place on somebody's machine.
        assert re.fullmatch(r"[^=]+==\S+(?:\s+--hash=sha256:[0-9a-f]{64})+", line), f"{compiled}: {line[:60]}"


def test_the_tests_list_holds_the_whole_runtime_list_unchanged() -> None:
    def whole(name: str) -> dict[str, str]:
        return {line.split("==")[0]: line for line in requirement_lines(name)}

    assert whole("requirements.txt").items() <= whole("tests/requirements.txt").items()


def test_every_path_the_readme_names_exists() -> None:
    named = re.findall(r"`((?:particles|batches|reports|labsite|tests|fixtures)/[\w./-]*)`", README)
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []


GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("<!-- findings: begin -->")[0]
NAMED_PATH = re.compile(r"(?<![\w./-])(?:particles|batches|reports|labsite|tests|fixtures|\.ci)/[\w./-]+")


def test_every_path_the_guide_names_exists() -> None:
    named = {found.rstrip(".") for found in NAMED_PATH.findall(GUIDE)}
    assert len(named) > 100
    assert sorted(name for name in named if not (ROOT / name).exists()) == []


def test_every_question_of_the_guide_leads_to_a_file_that_holds_the_names_beside_it() -> None:
    section = GUIDE.split("\n## Where is it?\n", 1)[1].split("\n## ", 1)[0]
    cells = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("| ")]
    rows = [(each[0].strip(), NAMED_PATH.findall(each[1]), each[2]) for each in cells if "`" in each[1]]
    assert len(rows) > 50
    for question, paths, names in rows:
        assert len(paths) == 1, question
        for name in re.findall(r"`(\w+)`", names):
            text = (ROOT / paths[0]).read_text(encoding="utf-8")
            assert re.search(rf"\b{name}\b", text), f"{question}: no {name} in {paths[0]}"


def test_the_top_level_holds_what_was_fixed_and_dotfiles() -> None:
    assert {p.parts[0] for p in tracked() if not p.parts[0].startswith(".")} == TOP_LEVEL


def test_every_setting_read_from_the_environment_is_described() -> None:
    text = (ROOT / "labsite" / "settings.py").read_text(encoding="utf-8")
    described = set(re.findall(r"^([A-Z_]+)  ", text, re.MULTILINE))
    read = set(re.findall(r"""(?:environ(?:\.get)?[(\[]|env_bool\(|env_list\()["']([A-Z_]+)["']""", text))
    assert read == described


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.django_db
def test_every_declared_trigger_is_installed() -> None:
    import pgtrigger

    status = {trigger.get_installation_status(model)[0] for model, trigger in pgtrigger.registered()}
    assert status == {"INSTALLED"}


def test_the_tree_speaks_of_itself_alone() -> None:
    # Documents and code describe the product only. How anything about it came to be known, in what form it was told and
    # with what tools it was written is no part of it, and these words are how such remarks have begun.
    forbidden = re.compile(r"\btran" + r"scripts?\b|\bvid" + r"eo\b|\bAI\b|\bLLM\b", re.IGNORECASE)
    read = [
        path
        for path in tracked()
        if "vendor" not in path.parts and path.suffix not in {".woff2", ".otf", ".svg", ".pdf", ".png", ".js"}
    ]
    assert {Path("README.md"), Path("DEVELOPERS.md"), Path("tests/test_repository.py")} <= set(read)
    for path in read:
        found = forbidden.search((ROOT / path).read_text(encoding="utf-8"))
        assert found is None, f"{path}: {found}"


def test_rows_are_locked_so_that_foreign_keys_never_wait() -> None:
    locking = 0
    for path in tracked():
        if path.suffix == ".py" and path.parts[0] != "tests":
            text = (ROOT / path).read_text(encoding="utf-8")
            locking += text.count("select_for_update(")
            assert not re.search(r"select_for_update\((?!no_key=True)", text), path
    assert locking > 0


def test_every_module_lies_in_a_layer() -> None:
    """What no contract names could import anything; Django's own files (apps, migrations) are no stations."""
    contracts = configparser.ConfigParser()
    contracts.read(ROOT / ".importlinter", encoding="utf-8")
    named: set[str] = set()
    for section in contracts.values():
        if section.get("type") == "layers" and "containers" in section:
            layers = re.findall(r"[\w.]+", section["layers"])
            named |= {f"{section['containers'].strip()}.{layer}" for layer in layers}
    modules = {
        ".".join(path.with_suffix("").parts)
        for path in tracked()
        if path.suffix == ".py" and path.parts[0] in {"labsite", "particles", "batches", "reports"}
        if path.stem not in {"__init__", "apps"} and "migrations" not in path.parts
    }
    assert len(modules) > 200
    outside = {m for m in modules if not any(m == layer or m.startswith(f"{layer}.") for layer in named)}
    assert outside == set()
    gone = {layer for layer in named if not any(m == layer or m.startswith(f"{layer}.") for m in modules)}
    assert gone - {"labsite.apps"} == set()


def test_no_folder_of_sources_is_a_pile() -> None:
    sources = [p for p in tracked() if p.suffix == ".py" and p.parts[0] != "tests"]
    kept = [p.parent for p in sources if p.stem != "__init__" and "migrations" not in p.parts]
    folders = {str(folder): kept.count(folder) for folder in kept}
    assert len(folders) > 40
    assert {name: count for name, count in folders.items() if count > 16} == {}
