"""Django's entry for the site."""

from django.apps import AppConfig


class LabsiteConfig(AppConfig):
    """The site and its people; every history row is linked into the chain once the models are known."""

    name = "labsite"
    verbose_name = "The site and its people"

    def ready(self) -> None:
        from labsite.audit.chain import link_every_history_row

        link_every_history_row()
