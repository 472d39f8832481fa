"""How every form of the site is sent to the browser."""

from django.forms.renderers import DjangoTemplates


class SiteForms(DjangoTemplates):
    """Each field looks as `components/_field.html` says, wherever a template asks for `as_field_group`."""

    field_template_name = "components/_field.html"
