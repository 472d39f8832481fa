"""
The kinds of refusal by the trade's rules.

A refusal is a sentence a person at the bench can act on. It is shown with
status 409, or 403 where another person must act; what came as an entry has been kept before.

RuleRefusal
 ├─ WrongState          the thing is not where this step may happen
 ├─ NotThisPerson       somebody else must do it
 ├─ AlreadyThere        it exists, with other content
 └─ NotPossible         the numbers or records contradict each other
"""


class RuleRefusal(Exception):
    """The rule says no."""


class WrongState(RuleRefusal):
    """The step does not fit the present state."""


class NotThisPerson(RuleRefusal):
    """The rule asks for another person."""


class AlreadyThere(RuleRefusal):
    """The step was recorded already, with other content."""


class NotPossible(RuleRefusal):
    """The values cannot be true together."""
