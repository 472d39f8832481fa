"""The site: settings, people, audit, and what ties the apps together."""

from labsite.celery import app as celery_app

__all__ = ["celery_app"]
