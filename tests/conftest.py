"""People by role, an invented laboratory's equipment, and a database for the tests that ask for one."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")

import pytest
from django.conf import settings as django_settings
from django.db import connections
from django.test import TransactionTestCase

from labsite.embedded.server import hold_if_default
from particles.portions.code import DRAW

SECRET = "a long enough secret"


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> None:
    """Called by pytest-django before it makes the test database."""
    hold_if_default()
    # Threads of a live server would otherwise keep their connections beyond the test.
    connections.settings["default"]["CONN_MAX_AGE"] = 0


@pytest.fixture(scope="session", autouse=True)
def tables_emptied_quickly() -> Iterator[None]:
    """After a test that commits, in place of Django's flush."""
    from tests.support.emptying import empty_tables

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", empty_tables)
        yield


@pytest.fixture
def require() -> Callable[[str, bool], None]:
    """Skip where a tool is missing, unless SILTBOOK_REQUIRE says that it must be there."""

    def check(name: str, there: bool) -> None:
        if there:
            return
        if name in os.environ.get("SILTBOOK_REQUIRE", "").split(","):
            pytest.fail(f"{name} is required here and is missing")
        pytest.skip(f"{name} is missing")

    return check


@pytest.fixture(scope="session")
def certificate_key(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the tests' self-made key for signing PDFs is kept."""
    return tmp_path_factory.mktemp("key") / "certificate_key.p12"


@pytest.fixture(autouse=True)
def nothing_leaves_the_process(settings: Any, certificate_key: Path) -> None:
    """Messages to workers go nowhere: tests that want a worker call its work, or start a real one."""
    from labsite.celery import app

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # Whatever a demonstration collected once is not what is tested.
    plain_names = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    settings.STORAGES = {**settings.STORAGES, "staticfiles": plain_names}
    app.conf.broker_url = "memory://"
    settings.OWN_CERTIFICATE_KEY = certificate_key


@pytest.fixture
def new_engine(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Call it to have the program updated: from then on it computes under another engine version."""

    def install() -> None:
        for module in ("particles.distribution.compute", "batches.computing.rules"):
            monkeypatch.setattr(f"{module}.ENGINE_VERSION", "99.0.0")

    return install


@pytest.fixture
def work_off() -> Callable[[], int]:
    """Do what a worker would do with every waiting request."""
    from django.utils import timezone

    from batches.computing.rules import work
    from batches.models import ComputationRequest

    def run() -> int:
        waiting = list(ComputationRequest.objects.filter(state="asked").values_list("pk", flat=True))
        for pk in waiting:
            work(pk, at=timezone.now())
        return len(waiting)

    return run


def _person(role: str, name: str) -> Any:
    from django.contrib.auth import get_user_model

    user = get_user_model()(username=name, first_name=name.capitalize(), last_name="Example", roles=[role])
    user.set_password(SECRET)
    user.save()
    return user


@pytest.fixture
def clerk(db: None) -> Any:
    return _person("receiving clerk", "clara")


@pytest.fixture
def technician(db: None) -> Any:
    return _person("technician", "tomas")


@pytest.fixture
def qa_officer(db: None) -> Any:
    return _person("QA officer", "quinn")


@pytest.fixture
def second_officer(db: None) -> Any:
    return _person("QA officer", "sigrid")


@pytest.fixture
def manager(db: None) -> Any:
    return _person("laboratory manager", "mara")


@pytest.fixture
def custodian(db: None) -> Any:
    return _person("equipment custodian", "cyrus")


@pytest.fixture
def client_person(db: None, the_client: Any, manager: Any) -> Any:
    """Somebody who may see the jobs of `the_client` and no other."""
    from tests.support import factories

    return factories.person_of(the_client, _person("client", "carla"), manager)


@pytest.fixture
def stranger(db: None, manager: Any) -> Any:
    """A client's person of another client."""
    from tests.support import factories

    return factories.person_of(factories.client("Other Farm (invented)"), _person("client", "sam"), manager)


@pytest.fixture
def the_client(db: None) -> Any:
    from tests.support import factories

    return factories.client()


@pytest.fixture
def bench(db: None) -> Any:
    """The instruments, lot and method editions of an invented laboratory."""
    from tests.support import factories

    return factories.bench()


@pytest.fixture
def the_job(bench: Any, the_client: Any, clerk: Any) -> Any:
    """Three bags that have just arrived."""
    from tests.support import factories

    return factories.job(the_client, clerk, samples=3)


@pytest.fixture
def regulated_area(db: None) -> Any:
    from particles.models import RegulatedArea

    return RegulatedArea.objects.create(
        country="Karstland", rule="Import permit asked for", listed_on="2026-01-05"
    )


def pytest_report_header() -> str:
    return f"database: {'DATABASE_URL' if django_settings.DATABASE_URL else 'embedded PostgreSQL'}"


@pytest.fixture(autouse=True)
def drawn_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is drawn at the planning of a batch is the same each time a test runs."""
    monkeypatch.setattr(DRAW, "getrandbits", Random(26).getrandbits)
