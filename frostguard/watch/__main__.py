"""The waiting process without the command-line library, which alone would double its size.

`frostguard nightly` looks that everything is as it should be and then becomes this; nobody calls it by hand.
"""

from __future__ import annotations

import sys
from pathlib import Path

from frostguard import places
from frostguard.garden.reader import load_garden, load_settings
from frostguard.garden.settings import Settings
from frostguard.lock import only_one
from frostguard.watch.log import log_to_stderr
from frostguard.watch.service import Service


def main(garden: Path, settings: Path | None) -> int:
    """Wait and look until told to stop; 1 if another process does so already."""
    site = load_garden(garden).site
    wishes = Settings() if settings is None else load_settings(settings)
    with only_one(places.nightly_lock()) as alone:
        if not alone:
            log_to_stderr("service", ended="failed", why="another process is waiting already")
            return 1
        Service(garden, settings, site, wishes, log_to_stderr).run()
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else None))
