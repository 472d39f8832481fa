"""The look of a sample's state in templates."""

from django import template

register = template.Library()

_KINDS = {
    "arrived": "open",
    "on hold": "held",
    "refused": "refused",
    "cancelled": "refused",
    "approved": "done",
    "reported": "done",
}


@register.filter
def state_kind(state: str) -> str:
    """The outline of a sample's state; the word itself says it."""
    return _KINDS.get(state, "none")
