"""The Celery application; tasks live in the `tasks` module of the station that does the work."""

import os

from celery import Celery
from celery.signals import worker_init

from labsite.embedded.server import hold_if_default

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")

app = Celery("siltbook")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["batches.computing", "batches.timetables"])


@worker_init.connect
def hold_database(**_: object) -> None:
    """A worker started by hand finds the default database running."""
    hold_if_default()
