"""Every permission that code or a page asks for stands in the enumeration, and none stands there in vain."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from labsite.people.permissions import Permission
from labsite.people.roles import PERMISSIONS, SENTENCES, Role

ROOT = Path(__file__).resolve().parents[3]
APPS = ("labsite", "particles", "batches", "reports")
ASKING = {"permission_required", "has_perm"}
TABLES = {ROOT / "labsite/people/permissions.py", ROOT / "labsite/people/roles.py"}
IN_TEMPLATES = re.compile(r"\bperms\.(\w+\.\w+)")


def asked_in_code() -> Iterator[tuple[str, str]]:
    """Where a permission is asked for by its string, and the string."""
    for path in (path for app in APPS for path in (ROOT / app).rglob("*.py") if path not in TABLES):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).rpartition(".")[2] in ASKING:
                asked = node.args[0]
                if isinstance(asked, ast.Constant):
                    yield f"{path.relative_to(ROOT)}:{node.lineno}", str(asked.value)
            if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "Permission":
                yield f"{path.relative_to(ROOT)}:{node.lineno}", Permission[node.attr]


def asked_in_templates() -> Iterator[tuple[str, str]]:
    for path in (path for app in APPS for path in (ROOT / app).rglob("*.html")):
        for asked in IN_TEMPLATES.findall(path.read_text(encoding="utf-8")):
            yield str(path.relative_to(ROOT)), asked


def test_every_permission_asked_for_stands_in_the_enumeration() -> None:
    in_code, in_templates = list(asked_in_code()), list(asked_in_templates())
    assert len(in_code) >= 30
    assert len(in_templates) >= 20
    assert [(place, asked) for place, asked in in_code + in_templates if asked not in set(Permission)] == []


def test_every_permission_of_the_enumeration_is_asked_for_somewhere() -> None:
    asked = {asked for _, asked in asked_in_code()}
    assert set(Permission) - asked == set()


def test_every_permission_belongs_to_a_role_and_every_role_has_its_sentence() -> None:
    assert set().union(*PERMISSIONS.values()) == set(Permission)
    assert set(SENTENCES) == set(PERMISSIONS) == set(Role)


@pytest.mark.parametrize("permission", Permission)
def test_a_permission_is_told_in_a_sentence_of_its_own(permission: Permission) -> None:
    assert re.fullmatch(r"[a-z].+\.", permission.sentence)
    assert [p for p in Permission if p.sentence == permission.sentence] == [permission]


@pytest.mark.django_db
def test_the_help_page_tells_what_each_role_may_do(client: Client, technician: Any) -> None:
    client.force_login(technician)
    shown = client.get(reverse("help")).content.decode()
    for role in Role:
        assert SENTENCES[role] in shown.replace("&#x27;", "'")
    for permission in Permission:
        assert permission.sentence in shown.replace("&#x27;", "'")
