"""How forms are printed: the templates in templates/forms/."""

from django.forms.renderers import TemplatesSetting


class DayBookForms(TemplatesSetting):
    """The house's form renderer; set as FORM_RENDERER (needs django.forms among the installed apps)."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"
