"""Every shell example of the README that calls the program runs, in the repository and without a network."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import typer.main

from frostguard import places
from frostguard.cli.app import app
from tests.e2e.command import ROOT, SAMPLES, Reply, frostguard

README = (ROOT / "README.md").read_text(encoding="utf-8")
PROGRAM = re.compile(r"^(?:\$ )?(?:\.venv/bin/)?frostguard ")
NOT_SHELL = {"yaml", "json", "python", "csv", "text"}


def shell_lines(text: str) -> list[str]:
    """The lines of every fenced block that may be shell, continued lines joined."""
    lines: list[str] = []
    for language, block in re.findall(r"(?ms)^```([\w-]*)[^\n]*\n(.*?)^```", text):
        if language not in NOT_SHELL:
            lines += block.replace("\\\n", " ").splitlines()
    return lines


def calls(text: str) -> list[list[str]]:
    """The arguments of every call of the program that begins a line, remarks left out."""
    return [
        shlex.split(PROGRAM.sub("", line, count=1), comments=True)
        for line in shell_lines(text)
        if PROGRAM.match(line)
    ]


def chained_calls(text: str) -> list[list[str]]:
    """The arguments of every call of the program behind an installation, on the same line."""
    return [
        shlex.split(PROGRAM.sub("", part.strip(), count=1))
        for line in shell_lines(text)
        for part in line.split("&&")[1:]
        if PROGRAM.match(part.strip())
    ]


def run(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> Reply:
    """The call as printed, in the repository's root; what would be fetched comes from the sample weather."""
    monkeypatch.chdir(ROOT)
    monkeypatch.delenv(places.GARDEN_VARIABLE, raising=False)  # a newcomer has no garden in its place yet
    offline = ["--weather", str(SAMPLES / "mild.csv")]
    asks_the_network = arguments[0] == "tonight" and not {"--weather", "--help"} & set(arguments)
    return frostguard(*arguments, *(offline if asks_the_network else []))


def named_files(arguments: list[str]) -> list[Path]:
    return [ROOT / word for word in arguments if word.endswith((".yaml", ".csv"))]


def test_fenced_blocks_are_found() -> None:
    """The reading of the README finds calls in plain and in shell blocks, and nowhere else."""
    text = (
        "```\nfrostguard tonight --days 2  # two\n```\n```sh\n$ .venv/bin/frostguard tonight \\\n  --json\n```\n"
        "```yaml\nfrostguard in: yaml\n```\nfrostguard in prose\n"
        "```\npip install . && .venv/bin/frostguard --version\n```\n"
    )
    assert calls(text) == [["tonight", "--days", "2"], ["tonight", "--json"]]
    assert chained_calls(text) == [["--version"]]


def test_the_readme_has_examples() -> None:
    """The main job behind its installation, the live forecast, and the garden check are shown."""
    assert any(call[:1] == ["tonight"] and "--weather" in call for call in chained_calls(README))
    assert any(call[:1] == ["tonight"] and "--weather" not in call for call in calls(README))
    assert any(call[:2] == ["garden", "check"] for call in calls(README))


@pytest.mark.parametrize("arguments", [*calls(README), *chained_calls(README)], ids=" ".join)
def test_every_example_runs(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """It is answered on standard output with an exit code of an answer, and names only files that are there."""
    assert all(path.is_file() for path in named_files(arguments))

    reply = run(arguments, monkeypatch)

    assert reply.exit_code in (0, 3), reply
    assert reply.stdout.strip() and reply.stderr == ""


INLINE = sorted(
    {
        words
        for words in re.findall(r"`(?:\.venv/bin/)?frostguard ([^`]+)`", README.replace("\n", " "))
        if not re.search(r"\b[A-Z]{2,}\b", words)  # a word in capitals stands for something else
    }
)
WAITS_OR_OPENS = ("nightly", "page", "warm-up", "garden new", "garden add", "report --html page.html --open")


@pytest.mark.parametrize("words", [words for words in INLINE if not words.startswith(WAITS_OR_OPENS)])
def test_every_command_within_the_text_is_understood(
    words: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With the garden file in its place none is wrong usage, or misses its garden."""
    monkeypatch.setenv(places.CONFIG_VARIABLE, str(tmp_path))
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path))
    (tmp_path / "garden.yaml").write_bytes((ROOT / "config" / "garden.yaml").read_bytes())
    arguments = shlex.split(words)
    offline = ["--weather", str(SAMPLES / "mild.csv")] if arguments[0] in ("tonight", "report") else []

    reply = frostguard(*arguments, *([] if "--help" in arguments else offline))

    assert reply.exit_code in (0, 1, 3), reply
    assert "garden file" not in reply.stderr


def options_of(command: Any) -> set[str]:
    """Every option of a command and of the commands in it."""
    own = {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}
    return own.union(*(options_of(one) for one in getattr(command, "commands", {}).values()))


@pytest.mark.parametrize("option", sorted(set(re.findall(r"`(?:frostguard [a-z -]+)?(--[a-z-]+)", README))))
def test_every_option_that_is_named_exists(option: str) -> None:
    """What the prose calls an option, some command knows."""
    assert option in options_of(typer.main.get_command(app))


def test_files_that_are_named_exist() -> None:
    """Links of the README to files of the project lead somewhere."""
    for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", README):
        assert (ROOT / target).exists(), target
