from django.apps import AppConfig


class ParticlesConfig(AppConfig):
    name = "particles"
    verbose_name = "Samples and their preparation"
