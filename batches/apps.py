"""The Django app of the batches."""

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    """The app of everything from the portion to the signature."""

    name = "batches"
    verbose_name = "Bench work"
