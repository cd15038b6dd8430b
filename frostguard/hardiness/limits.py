"""The limits table: loaded once, asked by key or by any name that people use."""

from __future__ import annotations

import difflib
import json
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from typing import Any

from frostguard.errors import FrostguardError
from frostguard.garden.model import Stage
from frostguard.hardiness.basis import leaf_basis
from frostguard.hardiness.damage import TESTED_H, normal_through
from frostguard.hardiness.model import Basis, Mark, MovedLight, Tissue
from frostguard.hardiness.rating import Band, band_of
from frostguard.hardiness.rating import taxon_from_rating as taxon_from_rating
from frostguard.hardiness.taxon import Bulb, Foliage, Habit, Limit, Sensitivity, StageRule, Taxon

_WORD = re.compile("[a-z0-9]+")
_SUGGESTIONS = 5
_ABOUT_AS_LIKE = 0.06  # "lemmon" suggests lemon, and not lemon verbena as well
_LETTERS_WEIGH = 0.84  # letters that agree count for less than whole words
_OF_ANY_PLANT = frozenset({"tree", "plant", "bush", "shrub", "vine", "arbre", "plante", "arbuste"})
_OF_ITS_KIND = 0.97  # "palm tree" finds palms, after what bears the whole name
_LIKENESS = 0.6  # below this a name is no suggestion (difflib's own default)


class UnknownPlant(FrostguardError):
    """A plant that is not in the table; `nearest` are names in the table that look like it."""

    def __init__(self, name: str, nearest: tuple[str, ...]) -> None:
        super().__init__(
            f'No plant called "{name}" is in the limits table.'
            + (f" Nearest: {', '.join(nearest)}." if nearest else ""),
            next_step="Use one of the names in the table, or give the plant a `rating:` such as 7b or H4.",
        )
        self.nearest = nearest


class Limits:
    """All plants of the table.

    Parameters
    ----------
    taxa : tuple of Taxon
        In the order of the table. No two may share a name.
    """

    def __init__(self, taxa: tuple[Taxon, ...]) -> None:
        self.taxa = taxa
        self._by_key = {taxon.key: taxon for taxon in taxa}
        self._names: dict[str, Taxon] | None = None

    def __iter__(self) -> Iterator[Taxon]:
        return iter(self.taxa)

    def __len__(self) -> int:
        return len(self.taxa)

    def taxon(self, key: str) -> Taxon:
        """The plant of that key; KeyError for a key that the table has not."""
        return self._by_key[key]

    def find(self, name: str) -> Taxon:
        """The plant of that botanical, English or French name.

        Capitals, accents, hyphens, hybrid signs, plural s and a cultivar in quotes make no
        difference. Nothing is guessed beyond that.

        Raises
        ------
        UnknownPlant
            With the nearest names, for the person to choose from.
        """
        taxon = self.named(name)
        if taxon is None:
            raise UnknownPlant(name, self.nearest(name))
        return taxon

    def named(self, name: str) -> Taxon | None:
        """The plant that `find` would find, None where there is none; names like it are not looked for."""
        names = self._by_name()
        return names.get(normalised(name)) or names.get(normalised(without_cultivar(name)))

    def search(self, text: str) -> tuple[Taxon, ...]:
        """Plants whose names hold the text or look like it, best first."""
        best = self._likenesses(text)
        return tuple(self._by_key[key] for key in sorted(best, key=lambda key: (-best[key], key)))

    def nearest(self, name: str) -> tuple[str, ...]:
        """Names to suggest for one that is not in the table: those about as like it as the likest."""
        best = self._likenesses(name)
        likest = max(best.values(), default=0.0)
        near = [taxon for taxon in self.search(name) if best[taxon.key] >= likest - _ABOUT_AS_LIKE]
        return tuple(nearest_name(taxon, name) for taxon in near[:_SUGGESTIONS])

    def _likenesses(self, text: str) -> dict[str, float]:
        """How like the text each plant's likest name is, by key; those hardly like it are left out."""
        wanted = normalised(text)
        kind = " ".join(word for word in wanted.split() if word not in _OF_ANY_PLANT)
        best: dict[str, float] = {}
        for part, worth in ((wanted, 1.0), (kind, _OF_ITS_KIND)):
            if not part or (part == wanted and worth < 1.0):
                continue
            for name, taxon in self._by_name().items():
                likeness = _likeness(part, name)
                if likeness >= _LIKENESS and worth * likeness > best.get(taxon.key, 0.0):
                    best[taxon.key] = worth * likeness
        return best

    def _by_name(self) -> dict[str, Taxon]:
        if self._names is None:
            self._names = {}
            for taxon in self.taxa:
                for name in (taxon.key, *taxon.names):
                    other = self._names.setdefault(normalised(name), taxon)
                    if other is not taxon:
                        raise ValueError(f"{name!r} names both {other.key} and {taxon.key}")
        return self._names


@lru_cache(maxsize=1)
def load_limits() -> Limits:
    """The table that comes with the package, read once."""
    table = json.loads(files("frostguard.hardiness").joinpath("data/plants.json").read_bytes())
    return parse_limits(table)


def plant_or_rating(text: str) -> tuple[Taxon, Band | None]:
    """The plant of that name; for a rating such as "H4" or "zone 7b" a stand-in, with the rating's band.

    Raises
    ------
    UnknownPlant, UnknownRating
        If it is neither; the second where it is written like a rating.
    """
    try:
        return load_limits().find(text), None
    except UnknownPlant:
        if re.fullmatch(r"\s*(usda)?\s*(zone)?\s*h?\s*\d+\s*[a-z]?\s*", text.lower()) is None:
            raise
    return taxon_from_rating(text), band_of(text)


def parse_limits(table: dict[str, Any]) -> Limits:
    """The table from its JSON form (format 1).

    Parameters
    ----------
    table : dict
        `sources`: short names of sources and what they stand for. `bud_tables`: for each fruit, stage by
        stage, the temperatures that kill 10 % and 90 % [degF, as printed]. `plants`: one entry per plant,
        with `grafted` and `sprouts` where true, whose `limits` each hold `c` (the warmer end where there is a
        range), `colder_c` (its other end), `spread_k` (standard deviation), `mark` (a `Mark`) and `source` (a
        short name), and `tested_h` where the source tells how long that cold was held [h]; a bud limit may
        instead name a `table` and a `stage`, and a leaf limit may name its `basis` (a `Basis`) where the rule by
        its mark does not fit.

    Raises
    ------
    KeyError, ValueError
        For a table that is not of this form: it comes with the package, so this is a mistake of ours.
    """
    sources: dict[str, str] = table["sources"]
    bud_tables = {
        name: _parse_bud_table(bud_table, sources) for name, bud_table in table["bud_tables"].items()}
    return Limits(tuple(_parse_taxon(entry, sources, bud_tables) for entry in table["plants"]))


def load_bud_stages(name: str) -> dict[str, Limit]:
    """Every stage of one of the bud tables ("apple", "peach", "pear", ...), by the stage's own name."""
    table = json.loads(files("frostguard.hardiness").joinpath("data/plants.json").read_bytes())
    return _parse_bud_table(table["bud_tables"][name], table["sources"])


def normalised(name: str) -> str:
    """A name without capitals, accents, punctuation, hybrid signs and plural s, for comparing."""
    plain = name.lower().replace("'", "")
    if not plain.isascii():
        decomposed = unicodedata.normalize("NFKD", plain.replace("œ", "oe").replace("×", " ").replace("’", ""))
        plain = "".join(letter for letter in decomposed if not unicodedata.combining(letter))
    return " ".join(_singular(word) for word in _WORD.findall(plain) if word != "x")


def without_cultivar(name: str) -> str:
    """A name without its cultivar: "Acer palmatum 'Bloodgood'" is an Acer palmatum."""
    return re.sub(r"\s['‘\"“][^'’\"”]+['’\"”]", " ", name)


def _singular(word: str) -> str:
    if word.endswith("ies") and len(word) > 5:
        return word[:-3] + "y"
    if word.endswith(("oes", "xes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and len(word) > 3 else word


def _likeness(wanted: str, name: str) -> float:
    """From 0 to 1: whole name, its beginning, words of it, the name within a longer text, like letters."""
    if wanted == name:
        return 1.0
    if len(wanted) > 2:
        wanted_words, words = wanted.split(), name.split()
        if name.startswith(wanted):
            return 0.97 if words[: len(wanted_words)] == wanted_words else 0.95  # "olea" is no oleaster
        if all(any(word.startswith(part) for word in words) for part in wanted_words):
            return 0.9
        if len(name) > 3 and all(word in wanted_words for word in words):
            return 0.75  # "small olive in a pot"
        if len(wanted_words) == 1 < len(words):
            return max(_letters_alike(name, wanted), *(0.9 * _letters_alike(word, wanted) for word in words))
    return _letters_alike(name, wanted)


def _letters_alike(name: str, wanted: str) -> float:
    """How far the letters agree and stand in the same order, below any whole word; 0 where hardly."""
    matcher = difflib.SequenceMatcher(None, name, wanted)
    if matcher.real_quick_ratio() < _LIKENESS or matcher.quick_ratio() < _LIKENESS:
        return 0.0
    return _LETTERS_WEIGH * matcher.ratio()


def nearest_name(taxon: Taxon, name: str) -> str:
    """The name of a plant that looks most like what was written; its English one where that is about as like."""
    wanted = normalised(name)

    def like(candidate: str) -> float:
        likeness = _likeness(wanted, normalised(candidate))
        return likeness if likeness > _LETTERS_WEIGH else _slips_alike(normalised(candidate), wanted)

    likest = max(taxon.names, key=like)
    return taxon.english if like(taxon.english) >= like(likest) - _ABOUT_AS_LIKE else likest


def _slips_alike(name: str, wanted: str) -> float:
    """How few slips of the fingers part two words: letters wrong, left out, put in, or exchanged with the next."""
    rows = [list(range(len(wanted) + 1))]
    for i, letter in enumerate(name, start=1):
        row = [i]
        for j, other in enumerate(wanted, start=1):
            slips = min(rows[-1][j] + 1, row[-1] + 1, rows[-1][j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == wanted[j - 2] and name[i - 2] == other:
                slips = min(slips, rows[-2][j - 2] + 1)
            row.append(slips)
        rows.append(row)
    return _LETTERS_WEIGH * (1.0 - rows[-1][-1] / max(len(name), len(wanted), 1))


def _parse_limit(entry: dict[str, Any], sources: dict[str, str]) -> Limit:
    source = sources[entry["source"]]
    return Limit(
        entry["c"], entry["spread_k"], Mark(entry["mark"]), source, entry.get("colder_c"),
        tested_h=entry.get("tested_h", TESTED_H))


def _parse_leaf_limit(entry: dict[str, Any], sources: dict[str, str]) -> Limit:
    limit = _parse_limit(entry, sources)
    return replace(limit, basis=Basis(entry["basis"]) if "basis" in entry else leaf_basis(limit.mark))


def _parse_bud_table(entry: dict[str, Any], sources: dict[str, str]) -> dict[str, Limit]:
    """Stages whose 10 % and 90 % kill are printed in degF, as normal distributions in degC."""
    stages = {}
    for stage, (ten_f, ninety_f) in entry["killed_10_and_90_percent_f"].items():
        middle_c, spread_k = normal_through((ten_f - 32) / 1.8, (ninety_f - 32) / 1.8)
        stages[stage] = Limit(middle_c, spread_k, Mark.MEASURED, sources[entry["source"]])
    return stages


def _parse_bulb(entry: dict[str, Any], sources: dict[str, str]) -> Bulb:
    shallow_cm, deep_cm = entry["depth_cm"]
    survived = entry.get("survived")
    return Bulb(
        (shallow_cm, deep_cm), Mark(entry["mark"]), sources[entry["source"]],
        None if survived is None else _parse_limit(survived, sources))


def _parse_taxon(entry: dict[str, Any], sources: dict[str, str],
                 bud_tables: dict[str, dict[str, Limit]]) -> Taxon:
    limits = entry["limits"]
    buds = {
        Stage(stage): bud_tables[bud["table"]][bud["stage"]] if "table" in bud else _parse_limit(bud, sources)
        for stage, bud in limits.get("buds", {}).items()}
    return Taxon(
        key=entry["key"],
        botanical=entry["botanical"],
        english=entry["english"],
        french=entry["french"],
        synonyms=tuple(entry["synonyms"]),
        synonyms_french=tuple(entry["synonyms_french"]),
        group=entry["group"],
        habit=Habit(entry["habit"]),
        foliage=Foliage(entry["foliage"]),
        stage_rule=StageRule(entry["stage_rule"]),
        leaf_hardened=_parse_leaf_limit(limits["leaf_hardened"], sources),
        leaf_soft=_parse_leaf_limit(limits["leaf_soft"], sources),
        buds=buds,
        young_root=_parse_limit(limits["young_root"], sources),
        whole_root=_parse_limit(limits["whole_root"], sources),
        chill=_parse_limit(limits["chill"], sources) if "chill" in limits else None,
        moved_light=MovedLight(entry["moved_light"]),
        room_c=tuple(entry["room_c"]) if "room_c" in entry else None,
        bulb=_parse_bulb(entry["bulb"], sources) if "bulb" in entry else None,
        wet=Sensitivity(entry["wet"]),
        dry=Sensitivity(entry["dry"]),
        resents=tuple(entry["resents"]),
        poisonous=entry["poisonous"],
        spiny=entry["spiny"],
        grafted=entry.get("grafted", False),
        sprouts=entry.get("sprouts", False),
        value_shares={Tissue(tissue): share for tissue, share in entry.get("value_shares", {}).items()},
        bloom_heat_k_d=entry.get("bloom_heat_k_d", 200.0),
    )
