"""Notices through the library Apprise, which knows many services; an extra that need not be installed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import AppriseSettings, SecretSource
from frostguard.notify.failures import NotTakenNow
from frostguard.notify.notice import Notice
from frostguard.notify.secrets import Secret
from frostguard.report.words import say


class AppriseChannel:
    """Hands each notice to Apprise under an address that names the service.

    Parameters
    ----------
    settings : AppriseSettings
        Where the address lies; it usually holds a token.
    read_secret : callable
        Fetches the address when it is needed.
    """

    def __init__(self, settings: AppriseSettings, read_secret: Callable[[SecretSource, str], Secret]) -> None:
        self.name = settings.name
        self.tells = settings.tells
        self._settings = settings
        self._read_secret = read_secret

    def send(self, notice: Notice) -> None:
        """Hand the notice over; NotificationFailed where the library does not report it as delivered."""
        try:
            import apprise
        except ImportError:
            raise NotificationFailed(
                say("{channel}: the library Apprise is not installed.", channel=self.name),
                next_step=say("Install the extra called notify: pip install '.[notify]' in the folder of frostguard."),
            ) from None
        address = self._read_secret(self._settings.address_from, self.name).reveal()
        library: Any = apprise.Apprise(asset=apprise.AppriseAsset(app_id="frostguard", secure_logging=True))
        if not _quietly(lambda: library.add(address)):
            raise NotificationFailed(
                say("{channel}: Apprise does not understand the address, or lacks what it needs.", channel=self.name),
                next_step=say("Check the address where address_from says."),
            )
        result = _quietly(
            lambda: library.notify(title=notice.subject, body=notice.text, body_format=apprise.NotifyFormat.TEXT)
        )
        # a result that is not plainly a success counts as none: "no match" is falsy as well
        if not result:
            raise NotTakenNow(
                say("{channel}: the service did not take the message.", channel=self.name),
                next_step=say("Check the address, and whether the service answers."),
            )


def _quietly(action: Callable[[], Any]) -> Any:
    """What the library answers, with its own log, which may show addresses, kept away; its faults count as no."""
    import logging

    log = logging.getLogger("apprise")
    was_disabled = log.disabled
    log.disabled = True
    try:
        return action()
    except Exception:  # a plug-in's fault, of whatever kind, is a message that was not delivered
        return False
    finally:
        log.disabled = was_disabled
