"""What goes wrong in a way that the user is told, in words fit for a screen."""

from __future__ import annotations


class MeshqcError(Exception):
    """A failure with a message for the user: file, line and cause, already safe to show."""


class Refusal(MeshqcError):
    """A fix or a delivery that would be a guess or could hurt; the message is the reason."""


class Cancelled(MeshqcError):
    """The user stopped the work; nothing is half done under its final name."""
