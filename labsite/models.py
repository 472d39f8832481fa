"""The index of models that Django looks for; each stands in its station."""

from labsite.audit.models import AuditLink
from labsite.people.models import User

__all__ = ["AuditLink", "User"]
