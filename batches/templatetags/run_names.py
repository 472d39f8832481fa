"""Names of runs, by who reads them."""

from __future__ import annotations

from typing import Any

from django import template

register = template.Library()


@register.filter
def named(run: Any, told: object) -> str:
    """The title of a run for whoever is told which portions are duplicates, else the code on its beaker."""
    return str(run.title if told else run.bench_title)
