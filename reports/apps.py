"""The Django app of the reports."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    """The app of everything that leaves the laboratory."""

    name = "reports"
    verbose_name = "What leaves the laboratory"
