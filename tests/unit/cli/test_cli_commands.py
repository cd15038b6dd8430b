"""The commands by the library's runner, with an answer made by hand in place of the nightly run."""

from __future__ import annotations

import json
import sys
import types
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import plans
import pytest
from typer.testing import CliRunner

from frostguard.advice.explanation import Explanation
from frostguard.advice.plan import AdvicePlan, NoJob
from frostguard.cli import exits
from frostguard.cli.app import app
from frostguard.errors import Fault, GardenFileError, WeatherUnavailable
from frostguard.garden.settings import Settings, Units


@dataclass
class Nightly:
    """Stands in for `frostguard.nightly`: notes what was asked, and answers or raises as told."""

    plan: AdvicePlan
    explanation: Explanation | None = None
    settings: Settings = field(default_factory=Settings)
    trouble: BaseException | None = None
    query: Any = None
    now: datetime | None = None

    def answer_tonight(self, query: Any, *, now: datetime, asking: Any) -> Any:
        self.query, self.now = query, now
        if self.trouble is not None:
            raise self.trouble
        explanation = self.explanation if query.explain else None
        return types.SimpleNamespace(
            plan=self.plan,
            explanation=explanation,
            garden=None,
            settings=self.settings,
            trouble=None,
            unseen=None,
        )


@pytest.fixture
def nightly(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Nightly:
    """The stand-in, in a home of its own with an (empty) garden file."""
    stand_in = Nightly(plans.frosty_plan(), plans.explanation())
    module = types.ModuleType("frostguard.nightly")
    module.Query = types.SimpleNamespace  # type: ignore[attr-defined]
    module.answer_tonight = stand_in.answer_tonight  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "frostguard.nightly", module)
    monkeypatch.setenv("FROSTGUARD_CONFIG_DIR", str(tmp_path))
    for variable in ("FROSTGUARD_GARDEN", "FROSTGUARD_SETTINGS"):
        monkeypatch.delenv(variable, raising=False)
    (tmp_path / "garden.yaml").write_text("")
    return stand_in


def run(*arguments: str) -> Any:
    """The command's exit code, standard output and standard error."""
    return CliRunner().invoke(app, list(arguments))


def test_something_to_do_leaves_with_three(nightly):
    """A script can tell by the exit code that somebody has to go out."""
    result = run("tonight")

    assert result.exit_code == exits.SOMETHING_TO_DO == 3
    assert result.stdout.startswith("3 jobs tonight")
    assert result.stderr == ""


def test_nothing_to_do_leaves_with_nought(nightly):
    """No job, no alarm."""
    nightly.plan = plans.plan()
    result = run("tonight")

    assert result.exit_code == exits.NOTHING_TO_DO == 0
    assert result.stdout.startswith("Nothing to do tonight.")


@pytest.mark.parametrize("reason", list(NoJob))
def test_a_pot_at_risk_without_a_job_never_leaves_with_nought(nightly, reason):
    """Whatever the reason is that nothing is planned for it: a script must not read an all-clear."""
    nightly.plan = plans.plan(pots=(plans.pot("banana", plans.tissue(chance=0.9), no_job=reason),))

    assert run("tonight").exit_code == exits.SOMETHING_TO_DO


def test_what_is_asked_reaches_the_nightly_run(nightly, tmp_path):
    """Every option arrives, and the clock is aware."""
    run(
        "tonight",
        "--garden",
        "g.yaml",
        "--settings",
        "s.yaml",
        "--weather",
        "w.csv",
        "--at",
        "2026-12-02T14:30",
        "--days",
        "5",
        "--explain",
        "lemon",
    )

    query = nightly.query
    assert (query.garden, query.settings, query.weather) == (Path("g.yaml"), Path("s.yaml"), Path("w.csv"))
    assert (query.at, query.days, query.explain) == ("2026-12-02T14:30", 5, "lemon")
    assert nightly.now.utcoffset() == timedelta(0)


def test_without_options_the_usual_files_are_used(nightly, tmp_path):
    """The garden from the configuration folder; settings only if they are there."""
    run("tonight")
    assert (nightly.query.garden, nightly.query.settings) == (tmp_path / "garden.yaml", None)

    (tmp_path / "settings.yaml").write_text("")
    run("tonight")
    assert nightly.query.settings == tmp_path / "settings.yaml"


def test_the_environment_names_other_files(nightly, monkeypatch, tmp_path):
    """A variable goes before the configuration folder, an option before the variable."""
    other = tmp_path / "other.yaml"
    other.write_text("")
    monkeypatch.setenv("FROSTGUARD_GARDEN", str(other))
    monkeypatch.setenv("FROSTGUARD_SETTINGS", str(tmp_path / "missing.yaml"))

    run("tonight")
    assert (nightly.query.garden, nightly.query.settings) == (other, tmp_path / "missing.yaml")
    run("tonight", "--garden", "g.yaml")
    assert nightly.query.garden == Path("g.yaml")


def test_without_any_garden_file_one_sentence_says_what_to_do(nightly, tmp_path):
    """A first start is met by where the file goes and what to copy, not by a trace."""
    (tmp_path / "garden.yaml").unlink()
    result = run("tonight")

    assert result.exit_code == exits.COULD_NOT_TELL == 1
    assert str(tmp_path / "garden.yaml") in result.stderr
    assert "frostguard garden new" in result.stderr
    assert result.stdout == ""


def test_units_follow_the_option_then_the_settings(nightly):
    """The reader's own choice unless the call says otherwise."""
    assert "°C" in run("tonight").stdout
    nightly.settings = Settings(units=Units.IMPERIAL)
    assert "°F" in run("tonight").stdout
    assert "°C" in run("tonight", "--units", "metric").stdout


def test_json_is_the_plan_and_the_exit_code_stays(nightly):
    """A program gets the plan's dictionary; the exit code means the same."""
    result = run("tonight", "--json")

    assert json.loads(result.stdout) == nightly.plan.to_dict()
    assert result.exit_code == exits.SOMETHING_TO_DO


def test_explain_shows_one_pot(nightly):
    """With a pot's name the explanation is shown, and with `--json` added to the data."""
    assert run("tonight", "--explain", "lemon").stdout.startswith("Lemon: how the answer")
    assert json.loads(run("tonight", "--json", "--explain", "lemon").stdout)["explanation"]["pot"] == "lemon"


def test_what_is_wrong_outside_is_told_with_the_next_step(nightly):
    """One sentence and what to do instead, on standard error; nothing that looks like an answer."""
    nightly.trouble = WeatherUnavailable("No service answered.", next_step="Cover tender pots by hand.")
    result = run("tonight")

    assert result.exit_code == exits.COULD_NOT_TELL
    assert result.stderr == "No service answered.\nCover tender pots by hand.\n"
    assert result.stdout == ""


def test_with_json_the_error_is_an_object_as_well(nightly):
    """A program that waits for JSON gets JSON, a person at the log the sentence."""
    nightly.trouble = WeatherUnavailable("No service answered.", next_step="Cover tender pots by hand.")
    result = run("tonight", "--json")

    assert json.loads(result.stdout) == {
        "format": 1,
        "error": "No service answered.",
        "next_step": "Cover tender pots by hand.",
    }
    assert "No service answered." in result.stderr
    assert result.exit_code == exits.COULD_NOT_TELL


def test_every_fault_of_a_garden_file_is_on_its_own_line(nightly):
    """All faults at once, each with its line, and a hostile one cannot act on the terminal."""
    faults = (Fault(3, "pot 'lemon' has no spot."), Fault(9, "\x1b[2J is no material."))
    nightly.trouble = GardenFileError("g.yaml", faults, next_step="Mend these lines.")

    assert run("tonight").stderr.splitlines() == [
        "g.yaml, line 3: pot 'lemon' has no spot.",
        "g.yaml, line 9: ?[2J is no material.",
        "Mend these lines.",
    ]


@pytest.mark.parametrize(
    ("trouble", "said"),
    [
        (FileNotFoundError(2, "No such file or directory", "s.yaml"), "s.yaml: No such file or directory."),
        (IsADirectoryError(21, "Is a directory", "/tmp"), "/tmp: Is a directory."),
        (PermissionError(13, "Permission denied", "g\x1b.yaml"), "g?.yaml: Permission denied."),
        (OSError("out of order"), "The system said: out of order."),
        (
            UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte"),
            "One of the files is not readable text.",
        ),
    ],
)
def test_foreign_causes_never_show_a_trace(nightly, trouble, said):
    """A missing, barred or unreadable file ends in a sentence, whoever opened it."""
    nightly.trouble = trouble
    result = run("tonight")

    assert result.stderr.splitlines()[0] == said
    assert result.exit_code == exits.COULD_NOT_TELL


def test_our_own_mistakes_keep_their_trace(nightly):
    """A fault of the program is not passed off as one of the person's files."""
    nightly.trouble = ZeroDivisionError("a mistake of ours")

    assert isinstance(run("tonight").exception, ZeroDivisionError)


def test_an_interrupt_is_told_briefly(nightly):
    """Ctrl-C during the run says that it stopped and leaves by the shell's convention."""
    nightly.trouble = KeyboardInterrupt()
    result = run("tonight")

    assert (result.exit_code, result.stderr) == (exits.INTERRUPTED, "Stopped.\n")


@pytest.mark.parametrize(
    "arguments",
    [
        ("tonight", "--days", "0"),
        ("tonight", "--days", "many"),
        ("tonight", "--units", "kelvin"),
        ("tonight", "--at", "yesterday"),
        ("tonight", "--at", "2026-13-02T14:30"),
        ("tonight", "--colour"),
        ("tomorrow",),
        (),
    ],
)
def test_a_wrong_call_leaves_with_two(nightly, arguments):
    """Wrong usage is told apart from an answer that could not be found."""
    result = run(*arguments)

    assert result.exit_code == exits.WRONG_USAGE == 2
    assert nightly.query is None


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (("--days", "99"), "write a whole number from 1 to 16"),
        (("--days", "two"), "write a whole number from 1 to 16"),
        (("--days", "1e3"), "write a whole number from 1 to 16"),
        (("--units", "kelvin"), "write metric or imperial"),
        (("--at", "2026-12-02"), "write it like 2026-12-02T14:30, or 14:30 for today"),
    ],
)
def test_a_wrong_option_is_told_in_plain_words(nightly, option, words):
    """What was written, and what can be written instead; no ranges in signs of mathematics."""
    told = " ".join(run("tonight", *option).stderr.split())

    assert option[1] in told and words in told
    assert "<=" not in told


@pytest.mark.parametrize("command", [(), ("tonight",), ("garden",), ("garden", "check")])
def test_every_command_has_help(command):
    """Each says what it is for."""
    result = run(*command, "--help")

    assert result.exit_code == 0
    assert "Usage:" in result.stdout and len(result.stdout) > 150


@pytest.mark.parametrize("installed", [True, False])
def test_warm_up_says_whether_the_fast_engine_is_there(installed: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never a silent nothing: ready on standard output, or what to install on standard error."""
    monkeypatch.setattr("frostguard.physics.root_ball.warm_up", lambda: installed)

    result = CliRunner().invoke(app, ["warm-up"])

    assert result.exit_code == (exits.NOTHING_TO_DO if installed else exits.COULD_NOT_TELL)
    assert ("ready" in result.stdout) is installed
    assert (".[fast]" in result.stderr) is not installed


@pytest.mark.parametrize("at", ["nonsense", "2099-01-14T15:00", "18.75"])
def test_a_time_that_cannot_be_is_wrong_usage(at: str) -> None:
    """The same kind of mistake leaves with the same code."""
    assert run("tonight", "--at", at).exit_code == 2
