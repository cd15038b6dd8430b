"""Secrets: from the environment or a file of one's own, shown nowhere."""

from __future__ import annotations

import copy
import os
import pickle
from pathlib import Path

import pytest

from frostguard.errors import NotificationFailed
from frostguard.garden.notice_settings import SecretSource
from frostguard.notify.secrets import Secret, read_secret


def written(file: Path, content: bytes, mode: int = 0o600) -> SecretSource:
    """A secret in a file of that mode."""
    file.write_bytes(content)
    file.chmod(mode)
    return SecretSource(file=file)


def test_from_the_environment():
    """A variable's text without blanks round it."""
    secret = read_secret(SecretSource(variable="FROST_X"), "mail", {"FROST_X": " correct horse\n"})

    assert secret.reveal() == "correct horse"


@pytest.mark.parametrize("content", [b"correct horse", b"correct horse\n", b"correct horse\r\n"])
@pytest.mark.parametrize("mode", [0o600, 0o400])
def test_from_a_file_of_one_s_own(tmp_path: Path, content: bytes, mode: int):
    """One line, readable by its owner alone."""
    assert read_secret(written(tmp_path / "x", content, mode), "mail").reveal() == "correct horse"


@pytest.mark.skipif(os.name != "posix", reason="file modes of this kind are known on POSIX systems only")
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604, 0o660, 0o622])
def test_a_file_that_others_may_touch_is_refused(tmp_path: Path, mode: int):
    """Told with the command that puts it right, and without the secret."""
    with pytest.raises(NotificationFailed) as caught:
        read_secret(written(tmp_path / "x", b"correct horse", mode), "mail")

    assert "can be read by others" in caught.value.message
    assert "chmod 600" in caught.value.next_step
    assert "horse" not in f"{caught.value.message}{caught.value.next_step}"


@pytest.mark.parametrize(
    "content", [b"", b"\n", b"  \n", b"two\nlines", b"\xff\xfe\x00", b"x" * 5000, b"bell\x07"], ids=repr
)
def test_what_is_no_secret_is_refused(tmp_path: Path, content: bytes):
    """Empty, several lines, binary, far too long."""
    with pytest.raises(NotificationFailed):
        read_secret(written(tmp_path / "x", content), "mail")


def test_missing_places_are_told(tmp_path: Path):
    """A variable that is not set, a file that is not there, a folder in place of a file."""
    for source in (SecretSource(variable="FROST_X"), SecretSource(file=tmp_path / "no"), SecretSource(file=tmp_path)):
        with pytest.raises(NotificationFailed) as caught:
            read_secret(source, "mail", {})
        assert caught.value.message.startswith("mail: ")


def test_a_secret_shows_itself_to_nobody():
    """Not printed, not formatted, not put down."""
    secret = Secret("correct horse")

    for shown in (repr(secret), str(secret), f"{secret}", f"{[secret]}", "%s" % secret):  # noqa: UP031 - each way of showing
        assert "horse" not in shown
    with pytest.raises(TypeError):
        pickle.dumps(secret)
    with pytest.raises(TypeError):
        copy.deepcopy(secret)
