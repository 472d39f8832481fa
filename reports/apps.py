"""The Django app of the reports."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "reports"
    verbose_name = "What leaves the laboratory"
