"""Faulty files: each fault is told once, with its line and what to write instead, and never a traceback."""

from __future__ import annotations

import time
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from frostguard.errors import GardenFileError
from frostguard.garden.reader import LARGEST_FILE_BYTES, load_garden, load_settings
from frostguard.garden.yaml_text import MOST_FAULTS
from tests.unit.garden.garden_texts import CORRECT


class Faulty(NamedTuple):
    """A line of the correct file, what stands there instead, and what must be said of which line."""

    name: str
    instead_of: str
    text: str
    line: int | None
    says: str


END = "    spot: terrace\n"
POT = "  - plant: lemon\n    material: terracotta\n    volume_l: 30\n    spot: terrace\n"

ONE_FAULT = [
    # what YAML makes of values
    Faulty("time of day", "30", "18:00", 14, "a time of day does not belong here"),
    Faulty("no for a number", "30", "no", 14, "write 0 or take the line out"),
    Faulty("off for a number", END, END + "    mulch_cm: off\n", 16, "write 0 or take the line out"),
    Faulty("exponent", "30", "1e3", 14, "write it out, 1000"),
    Faulty("decimal comma", "30", "12,5", 14, "write it with a point, 12.5"),
    Faulty("octal", "30", "030", 14, "leave out the nought"),
    Faulty("not a number", "30", ".nan", 14, '".nan" is none; write digits'),
    Faulty("infinity", "30", ".inf", 14, '".inf" is none; write digits'),
    Faulty("hexadecimal", "30", "0x1F", 14, '"0x1F" is none'),
    Faulty("digits in groups", "30", "1_000", 14, "without anything between them"),
    Faulty("digits of another script", "30", "٣٠", 14, "write digits"),
    Faulty("unit with the number", "30", "30 L", 14, "the unit stands in the key"),
    Faulty("typographic minus", "46.05", "−46.05", 2, "write minus as the simple sign -"),
    Faulty("degrees and minutes", "46.05", "46° 3'", 2, "write digits, with a point"),
    Faulty("nothing after the colon", "30", "", 14, '"volume_l" has no value'),
    Faulty("null", "30", "~", 14, '"volume_l" has no value'),
    Faulty("list for a number", "30", "[30]", 14, "takes a single value"),
    Faulty("too big", "30", "99999", 14, "it goes from 0.05 to 3000"),
    Faulty("negative", "30", "-3", 14, "cannot be"),
    Faulty("on for yes", END, END + "    feet: on\n", 16, 'answered by yes or no, not by "on"'),
    Faulty("no for a name", "lemon", "no", 12, 'write it as "no" with them'),
    Faulty("half a pot", END, END + "    count: 2.5\n", 16, "must be a whole number"),
    # keys
    Faulty("key twice", END, END + "    volume_l: 20\n", 16, "first in line 14"),
    Faulty("unknown key", END, END + "    colour: red\n", 16, 'no key is called "colour"'),
    Faulty("misspelt key", "volume_l", "volume_litres", 14, 'perhaps "volume_l" is meant'),
    Faulty("key without its unit", "volume_l", "volume", 14, 'perhaps "volume_l"'),
    Faulty("key in capitals", "material", "Material", 13, 'perhaps "material" is meant'),
    Faulty("unknown part", END, END + "shed: {}\n", 16, "possible are site, spots, pots, stock"),
    Faulty("list for a key", END, END + "    ? [a]\n    : b\n", 16, "a key must be a single word"),
    Faulty("merge key", END, END + "    <<: {feet: yes}\n", 16, 'no key is called "<<"'),
    # words
    Faulty("misspelt material", "terracotta", "teracota", 13, 'perhaps "terracotta"'),
    Faulty("unknown material", "terracotta", "moon dust", 13, "known are terracotta"),
    Faulty("misspelt plant", "lemon", "lemmon", 12, 'write "lemon" if that is meant'),
    Faulty("unknown plant", "lemon", "xyzzy", 12, "rating: 7b or rating: H4"),
    Faulty("stem of a bulb", "lemon", "tulip\n    stem: standard", 13, "makes no stem to protect"),
    Faulty("length of no stem", END, END + "    stem_cm: 90\n", 16, "needs the kind of stem as well"),
    Faulty("unknown rating", END, END + "    rating: H9\n", 16, "a USDA zone from 1a to 13b or a UK rating"),
    Faulty("misspelt spot", END, "    spot: terace\n", 15, 'perhaps "terrace" is meant'),
    Faulty("no spot", END, "", 12, "add a line such as spot: terrace"),
    Faulty("escape route", END, "    spot: stairwell\n", 15, "an escape route, which must stay free"),
    Faulty("unknown stage", END, END + "    stage: flowering\n", 16, "open flowers"),
    Faulty("unknown value", END, END + "    value: precious\n", 16, "low, medium, high, irreplaceable"),
    Faulty("unknown cover", END, END + "    covers: [fleece, tarpaulin]\n", 16, "known are fleece 17"),
    Faulty("misspelt cover", END, END + "    covers:\n      - fleese\n", 17, 'perhaps "fleece 30"'),
    Faulty("unknown mix", END, END + "    mix: erycaceous\n", 16, 'perhaps "ericaceous"'),
    Faulty("unknown wetness", END, END + "    wetness: soaking\n", 16, "known are dry, moist, wet"),
    # sizes
    Faulty("no size", "    volume_l: 30\n", "", 12, "does not say how big it is"),
    Faulty("trough without length", END, END + "    shape: trough\n", 12, "length_cm: 60"),
    Faulty("round with length", END, END + "    shape: round\n    length_cm: 60\n", 17, "has no length"),
    Faulty(
        "round with width",
        END,
        END + "    shape: round\n    width_cm: 60\n",
        17,
        '"diameter_cm", not "width_cm"',
    ),
    Faulty(
        "volume against tape",
        END,
        END + "    diameter_cm: 20\n    height_cm: 20\n",
        14,
        "about 3.75 litres, not 30",
    ),
    Faulty("volume against width", END, END + "    diameter_cm: 5\n", 14, "would make a pot"),
    Faulty(
        "walls too thick", END, END + "    wall_mm: 140\n    diameter_cm: 30\n", 16, "leave no room for mix"
    ),
    Faulty(
        "steel as thick as an anvil",
        "terracotta\n    volume_l: 30\n",
        "galvanised steel\n    wall_mm: 150\n    diameter_cm: 38\n    height_cm: 40\n",
        14,
        'pot "lemon": walls of 150 mm hold so much more heat',
    ),
    Faulty("the thing and its unit", END, END + "    wall_thickness_mm: 5\n", 16, 'perhaps "wall_mm" is meant'),
    Faulty("the thing without its unit", END, END + "    wall_thickness: 5\n", 16, '"wall_mm"'),
    Faulty(
        "narrow trough of stone",
        "terracotta\n",
        "stone\n    width_cm: 90\n    length_cm: 14\n    wall_mm: 60\n",
        16,
        "no room",
    ),
    Faulty("pot as small as a thimble", "volume_l: 30", "volume_l: 0.05", 14, "so small a pot"),
    Faulty("metres for centimetres", END, END + "    diameter_cm: 0.4\n", 16, "it goes from 3 to 300"),
    # ids, labels, plants
    Faulty("id that means nothing", END, END + "    id: null\n", 16, '"id" has no value'),
    Faulty("same id", END, END + "    id: x\n" + POT + "    id: X\n", 21, "that of the pot in line 16"),
    Faulty("id of two words", END, END + "    id: my lemon\n", 16, "must be one word of plain letters"),
    Faulty(
        "escape sequence", END, END + '    label: "\\e[2J"\n', 16, "characters in it that cannot be shown"
    ),
    Faulty("turned reading direction", END, END + "    label: a\u202eb\n", 16, "cannot be shown"),
    Faulty("long label", END, END + f"    label: {'x' * 100}\n", 16, "is 100 letters long; keep it to 80"),
    Faulty("empty label", END, END + "    label: ''\n", 16, '"label" is empty'),
    Faulty("plant and plants", END, END + "    plants: [lemon]\n", 16, 'both "plant" and "plants"'),
    Faulty("no plant at all", "plant: lemon", "plants: []", 12, 'the list "plants" is empty'),
    Faulty("no plant", "plant: lemon", "label: Lemon", 12, "does not say its plant"),
    Faulty("pot of one word", POT, "  - lemon\n", 12, "pot 1 must be keys with values"),
    Faulty(
        "stage of several",
        "plant: lemon",
        "plants: [lemon]\n    stage: dormant",
        13,
        'move it into the list "plants"',
    ),
    Faulty("no pots", POT, "", 11, '"pots" has no value'),
    Faulty("empty list of pots", "pots:\n" + POT, "pots: []\n", 11, 'the list "pots" is empty'),
    Faulty("pots as a word", "pots:\n" + POT, "pots: lemon\n", 11, '"pots" is a list of pots'),
    Faulty("no part pots", "pots:\n" + POT, "", 1, "add a line pots:"),
    # the place
    Faulty("misspelt zone", "Europe/Ljubljana", "Europe/Lubljana", 5, "perhaps Europe/Ljubljana is meant"),
    Faulty("folder of zones", "Europe/Ljubljana", "Europe", 5, "is no time zone"),
    Faulty("zone as a path", "Europe/Ljubljana", "../../etc/passwd", 5, "is no time zone"),
    Faulty("west for east", "14.51", "-114.51", 3, "east is positive, west negative"),
    Faulty("beyond the pole", "46.05", "146.05", 2, "it goes from -90 to 90"),
    Faulty("no latitude", "  latitude: 46.05\n", "", 2, "add a line such as latitude: 46.05"),
    Faulty(
        "site as a number", CORRECT[: CORRECT.index("spots")], "site: 3\n", 1, '"site" holds further keys'
    ),
    Faulty(
        "unknown wind", "- name: terrace", "- name: terrace\n    wind: windy", 8, "exposed, partly, sheltered"
    ),
    Faulty("sky in per cent", "- name: terrace", "- name: terrace\n    sky: 80", 8, "it goes from 0 to 1"),
    Faulty("unknown facing", "- name: terrace", "- name: terrace\n    facing: up", 8, "known are north"),
    Faulty("lag outdoors", "- name: terrace", "- name: terrace\n    lag_days: 2", 8, "is said of rooms"),
    Faulty(
        "wind in a room", "    room: unheated\n", "    room: unheated\n    wind: partly\n", 10, "is a room"
    ),
    Faulty("unknown room", "unheated", "chilly", 9, "known are unheated, frost-free"),
    Faulty("heated room", "unheated", "heated", 9, "written as frost-free, with what it is kept above"),
    Faulty("same spot", "name: stairwell", "name: Terrace", 8, "stands in line 7 already"),
    Faulty("spot of one word", "- name: terrace", "- terrace", 7, "spot 1 must be keys with values"),
    # the shed
    Faulty(
        "hood without width",
        END,
        END + "stock: {covers: [{cover: fleece 17, piece: hood}]}\n",
        16,
        "width_m: 2",
    ),
    Faulty(
        "unknown piece", END, END + "stock: {covers: [{cover: jute, piece: hoood}]}\n", 16, 'perhaps "hood"'
    ),
    Faulty(
        "fleece by the bag",
        END,
        END + "stock: {covers: [{cover: fleece 30, piece: bag, litres: 5}]}\n",
        16,
        "write piece: hood, sheet",
    ),
    Faulty(
        "mulch by the sheet",
        END,
        END + "stock: {covers: [{cover: bark mulch, piece: sheet, width_m: 1, length_m: 1}]}\n",
        16,
        "comes in bags",
    ),
    Faulty("many feet", END, END + "stock: {pot_feet: many}\n", 16, '"pot_feet" is a number'),
    # the YAML itself
    Faulty("tab", "    volume_l", "\tvolume_l", 14, "begins with a tab"),
    Faulty("too far left", "    volume_l", "   volume_l", 14, "does not stand under"),
    Faulty("too far right", "    volume_l", "     volume_l", 13, "runs on over the next line"),
    Faulty("no blank after the colon", "volume_l: 30", "volume_l:30", 14, "the blank after it, is missing"),
    Faulty(
        "colon in a text",
        END,
        END + "    label: Lemon: the big one\n",
        16,
        "a colon stands where none can be",
    ),
    Faulty("open quotation mark", END, END + "    label: 'Lemon\n", 16, "never closed"),
    Faulty("open bracket", END, END + "    covers: [jute\n", 16, "is not closed"),
    Faulty("at sign", END, END + "    label: @home\n", 16, "keeps for itself"),
    Faulty("text over lines", END, END + "    label: |\n      a\n", 16, "must stand on one line"),
    Faulty("anchor", END, END + "    feet: &a yes\n", 16, "the sign & names a place"),
    Faulty("alias", END, END + "    feet: *a\n", 16, "the sign * refers to another place"),
    Faulty("tag", END, END + "    label: !!python/name:os.system x\n", 16, "the sign ! gives a value a type"),
    Faulty("second document", END, END + "---\nsite: {}\n", 16, "a second document begins"),
    Faulty("deep nesting", END, END + "    covers: " + "[" * 20 + "]" * 20 + "\n", 16, "nested too deeply"),
    Faulty("bell", END, END + "    label: a\x07\n", 16, "a character that no text should have"),
    Faulty("another kind of file", CORRECT, "Dear diary\n", 1, "begins with keys such as site:"),
    Faulty("list at the top", CORRECT, "- lemon\n- olive\n", 1, "begins with keys such as site:"),
    Faulty("empty", CORRECT, "", None, "the file is empty"),
    Faulty("nothing but comments", CORRECT, "# later\n\n", None, "the file is empty"),
]


def test_there_are_more_than_thirty_different_faults() -> None:
    """The table of faults is as broad as promised, and its names differ."""
    assert len(ONE_FAULT) >= 30
    assert len({faulty.name for faulty in ONE_FAULT}) == len(ONE_FAULT)


@pytest.mark.parametrize("faulty", ONE_FAULT, ids=lambda faulty: faulty.name)
def test_a_fault_is_told_once_with_its_line_and_the_way_out(tmp_path: Path, faulty: Faulty) -> None:
    """One mistake makes one fault: its line, one sentence, and a hint in it."""
    assert faulty.instead_of in CORRECT
    path = tmp_path / "garden.yaml"
    path.write_text(CORRECT.replace(faulty.instead_of, faulty.text, 1), encoding="utf-8")

    with pytest.raises(GardenFileError) as caught:
        load_garden(path)

    (fault,) = caught.value.faults
    assert fault.line == faulty.line
    assert faulty.says in fault.sentence
    assert fault.sentence.endswith(".")
    assert fault.sentence.isprintable()
    assert str(path) in caught.value.message
    assert caught.value.next_step


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    """Five mistakes in five places make five faults, in the order of the file."""
    text = (
        CORRECT.replace("46.05", "46,05")
        .replace("- name: terrace", "- name: terrace\n    sky: blue")
        .replace("lemon", "lemmon")
        .replace("terracotta", "teracotta")
        .replace("30", "30 L")
    )
    path = tmp_path / "garden.yaml"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(GardenFileError) as caught:
        load_garden(path)

    assert [fault.line for fault in caught.value.faults] == [2, 8, 13, 14, 15]
    assert len(caught.value.message.splitlines()) == 5


def test_a_file_of_another_kind_is_not_told_line_by_line(tmp_path: Path) -> None:
    """After a hundred faults it is enough, however large the file."""
    path = tmp_path / "garden.yaml"
    path.write_text(CORRECT + "".join(f"key{number}: value\n" for number in range(60_000)), encoding="utf-8")
    begun = time.process_time()

    with pytest.raises(GardenFileError) as caught:
        load_garden(path)

    assert len(caught.value.faults) == MOST_FAULTS + 1
    assert "more faults than these" in caught.value.message
    assert time.process_time() - begun < 10  # a second on a quiet machine, minutes if each had its suggestion


def test_the_shortest_message_names_file_and_line(tmp_path: Path) -> None:
    """A fault reads as file, line and sentence."""
    path = tmp_path / "garden.yaml"
    path.write_text(CORRECT.replace("terracotta", "teracotta"), encoding="utf-8")

    with pytest.raises(GardenFileError) as caught:
        load_garden(path)

    assert caught.value.message.startswith(
        f'{path}, line 13: pot "lemon": material "teracotta" is not known;'
    )


@pytest.mark.parametrize(
    ("content", "line", "says"),
    [
        (CORRECT.encode("utf-16"), None, "not saved as UTF-8"),
        (CORRECT.encode() + b"    label: caf\xe9\n", 16, "not saved as UTF-8"),
        (CORRECT.encode() + b"    label: a\0b\n", None, "not saved as UTF-8"),
        (b"\x89PNG\r\n\x1a\n\0\0", None, "not saved as UTF-8"),
        (b"#" * (LARGEST_FILE_BYTES + 1), None, "larger than 1000 kB"),
    ],
    ids=["utf-16", "latin-1", "null byte", "picture", "too large"],
)
def test_files_that_are_no_text_are_refused(
    tmp_path: Path, content: bytes, line: int | None, says: str
) -> None:
    """A wrong encoding, a picture or a huge file is told as such."""
    path = tmp_path / "garden.yaml"
    path.write_bytes(content)

    with pytest.raises(GardenFileError) as caught:
        load_garden(path)

    (fault,) = caught.value.faults
    assert fault.line == line
    assert says in fault.sentence
    assert fault.sentence.count("UTF-8") + caught.value.next_step.count("UTF-8") <= 2  # what is wrong, what to do


@pytest.mark.parametrize("load", [load_garden, load_settings])
def test_files_that_cannot_be_read_are_told(tmp_path: Path, load: object) -> None:
    """A missing file, a folder and an impossible name each give a sentence."""
    for path, says in (
        (tmp_path / "none.yaml", "there is no such file"),
        (tmp_path, "cannot be read"),
        (tmp_path / "a\0b", "cannot be read"),
    ):
        with pytest.raises(GardenFileError, match=says):
            load(path)  # type: ignore[operator]  # one of two functions


def test_a_growing_file_is_stopped_before_it_grows(tmp_path: Path) -> None:
    """A few lines that stand for a billion words are refused at once."""
    lines = ["a: &a [x, x, x, x, x, x, x, x, x]"]
    lines += [f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join([f'*{chr(97 + i)}'] * 9)}]" for i in range(20)]
    path = tmp_path / "garden.yaml"
    path.write_text("\n".join(lines), encoding="utf-8")

    with pytest.raises(GardenFileError, match=r"the sign \* refers to another place"):
        load_garden(path)


KEYS = [
    "site",
    "spots",
    "pots",
    "stock",
    "plant",
    "plants",
    "material",
    "volume_l",
    "spot",
    "name",
    "latitude",
    "covers",
    "time_zone",
    "room",
    "wind",
    "id",
    "label",
    "shape",
    "length_cm",
    "diameter_cm",
    "height_cm",
    "rating",
    "count",
    "working_windows",
    "time",
    "days",
    "contact",
    "value",
    "wall_mm",
]
SCALARS = st.one_of(
    st.sampled_from(KEYS),
    st.sampled_from(
        ["lemon", "terracotta", "yes", "no", "~", "18:00", "1e3", "12,5", "trough", "terrace", "H4", "''"]
    ),
    st.floats(allow_nan=True).map(str),
    st.integers().map(str),
    st.text(max_size=8),
)
SIGNS = st.sampled_from(
    [
        "\n",
        "\n  ",
        "\n  - ",
        ": ",
        " ",
        "\t",
        "[",
        "]",
        "{",
        "}",
        ", ",
        "&a ",
        "*a",
        "!",
        "'",
        '"',
        "|\n",
        "#",
        "---\n",
        "? ",
        "- ",
        "\\",
        "%",
        "@",
        "\r\n",
        "\u2028",
        "\ufeff",
        "\x00",
    ]
)
YAMLISH = st.lists(st.one_of(SIGNS, SCALARS), max_size=60).map("".join)


def _value(children: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    tables = st.dictionaries(st.sampled_from(KEYS), children, max_size=5).map(
        lambda table: "{" + ", ".join(f"{key}: {value}" for key, value in table.items()) + "}"
    )
    lists = st.lists(children, max_size=3).map(lambda items: "[" + ", ".join(items) + "]")
    return tables | lists


PLAIN = st.sampled_from(
    ["lemon", "30", "-1", "terrace", "yes", "''", "~", "trough", "60", "H4", "0", "stairwell", "1.5"]
)
NESTED = st.dictionaries(
    st.sampled_from(["site", "spots", "pots", "stock", "working_windows", "days", "contact"]),
    st.recursive(PLAIN, _value, max_leaves=12),
    max_size=4,
).map(lambda table: "\n".join(f"{key}: {value}" for key, value in table.items()))


def _never_a_traceback(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    for load in (load_garden, load_settings):
        try:
            load(path)
        except GardenFileError as error:
            assert error.faults
            for fault in error.faults:
                assert fault.sentence.isprintable()
                assert fault.line is None or fault.line >= 1


@given(text=YAMLISH)
@example(text="%YAML 9")
@example(text="a: '\ud800'")
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_text_whatever_gives_a_traceback(tmp_path: Path, text: str) -> None:
    """Random text of YAML's own signs and our words is read or refused, nothing else."""
    _never_a_traceback(tmp_path / "garden.yaml", text.encode("utf-8", "surrogatepass"))


@given(text=NESTED)
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_wrong_shape_gives_a_traceback(tmp_path: Path, text: str) -> None:
    """Our keys with values of any shape behind them are read or refused, nothing else."""
    _never_a_traceback(tmp_path / "garden.yaml", text.encode())


@given(
    cut=st.integers(0, len(CORRECT)),
    end=st.integers(0, 40),
    put=st.one_of(SIGNS, SCALARS),
)
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_slip_of_the_finger_gives_a_traceback(tmp_path: Path, cut: int, end: int, put: str) -> None:
    """A correct file with a piece cut out and something put in is read or refused, nothing else."""
    text = CORRECT[:cut] + put + CORRECT[cut + end :]
    _never_a_traceback(tmp_path / "garden.yaml", text.encode("utf-8", "surrogatepass"))


@given(content=st.binary(max_size=200))
@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_bytes_whatever_give_a_traceback(tmp_path: Path, content: bytes) -> None:
    """Random bytes are read or refused, nothing else."""
    _never_a_traceback(tmp_path / "garden.yaml", content)
