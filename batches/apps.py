"""The Django app of the batches."""

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    name = "batches"
    verbose_name = "Bench work"
