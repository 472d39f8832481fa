from django.apps import AppConfig


class LabsiteConfig(AppConfig):
    name = "labsite"
    verbose_name = "The site and its people"
