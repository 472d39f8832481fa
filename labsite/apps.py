from django.apps import AppConfig


class LabsiteConfig(AppConfig):
    name = "labsite"
    verbose_name = "The site and its people"

    def ready(self) -> None:
        from labsite.audit.chain import link_every_history_row

        link_every_history_row()
