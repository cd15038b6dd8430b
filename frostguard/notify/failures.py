"""Two ways in which a message is not delivered: for now, and for good."""

from __future__ import annotations

from frostguard.errors import NotificationFailed


class NotTakenNow(NotificationFailed):
    """The way was blocked in a manner that may pass: worth another try."""
