"""Comparison keys for people, places and their contact details.

Two spellings are *certainly* the same name when they differ only in letter case,
in spaces and in 'Family, Given' order. Accents, punctuation and initials are not
among these: such spellings are *near*, which is a question for a person. Keys are
for comparing, never for showing.

Pure: text in, text out; RapidFuzz measures likeness, `phonenumbers` reads phones.
"""

import contextlib
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import phonenumbers
from rapidfuzz import fuzz, process

NEAR_SCORE = 85.0
"""Likeness (0–100) from which two names are offered as near; common practice, no
source: one letter lost in a name of eight scores above it."""

_CROWD = 200  # a word that more names share than this tells nothing about likeness
_EMAIL = re.compile(
    r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~.-]{1,64}@"
    r"(?:[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?\.)+[A-Za-z]{2,63}"
)

# The shape of a post code at the end of a line of address. GB: the form of the
# Royal Mail's codes as BS 7666 describes it; US: ZIP and ZIP+4; CA, IE: letter and
# digit patterns; all from memory. Elsewhere a code of four or five digits.
_POST_CODES = {
    "GB": r"\b(GIR\s?0AA|[A-Z]{1,2}[0-9][A-Z0-9]?\s*[0-9][A-Z]{2})\b",
    "US": r"\b([0-9]{5}(?:-[0-9]{4})?)\b(?=\s*(?:,?\s*U\.?S\.?A?\.?)?\s*$)",
    "CA": r"\b([A-Z][0-9][A-Z]\s*[0-9][A-Z][0-9])\b",
    "IE": r"\b([AC-FHKNPRTV-Y][0-9]{2}\s*[0-9AC-FHKNPRTV-Y]{4}|D6W\s*[0-9A-Z]{4})\b",
    "NL": r"\b([0-9]{4}\s*[A-Z]{2})\b",
}
_POST_CODE_ELSEWHERE = r"(?:^|[\s,])([0-9]{4,5})(?=$|[\s,])"


def squeeze(text: str) -> str:
    """`text` in Unicode's composed form, control and unseen characters removed,
    each run of white space one space, none at the ends; lines are kept apart."""
    if text.isascii() and text.isprintable():  # most cells: the short way
        return " ".join(text.split())
    composed = unicodedata.normalize("NFC", text)
    lines = composed.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    cleaned = (" ".join("".join(map(_seen, line)).split()) for line in lines)
    return "\n".join(line for line in cleaned if line)


def _seen(character: str) -> str:
    if character.isspace():
        return " "
    if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn"}:
        return ""
    return character


@lru_cache(maxsize=50_000)
def name_key(text: str) -> str:
    """The key under which two spellings are certainly the same name.

    Letter case and white space don't count, nor the order 'Family, Given', which
    is read where there is exactly one comma with text on both sides.
    """
    folded = squeeze(text).casefold()
    family, comma, given = folded.partition(",")
    if comma and "," not in given and family.strip() and given.strip():
        folded = given + family
    return "".join(folded.split())


def near_key(text: str) -> str:
    """A looser key for measuring likeness: also without accents and punctuation,
    the words in alphabetical order. Never certain."""
    spread = unicodedata.normalize("NFKD", squeeze(text).casefold())
    bare = "".join(c for c in spread if not unicodedata.combining(c))
    return " ".join(sorted(re.findall(r"\w+", bare.replace("'", ""))))


def likeness(one: str, other: str) -> float:
    """How alike two names are, 0 to 100: RapidFuzz's normalised indel similarity
    of their near keys."""
    return fuzz.ratio(near_key(one), near_key(other))


def is_email(text: str) -> bool:
    """Whether `text` is one e-mail address of the usual form (RFC 5322's dot-atom
    at a domain name of two labels or more, 254 characters at most)."""
    local = text.partition("@")[0]
    dots = local.startswith(".") or local.endswith(".") or ".." in local
    return len(text) <= 254 and not dots and _EMAIL.fullmatch(text) is not None


def email_key(text: str) -> str:
    """The key of an e-mail address: letter case and white space don't count.

    RFC 5321 lets the part before '@' mind case; no provider in use does (from
    memory), and people's sheets don't.
    """
    return "".join(squeeze(text).split()).casefold()


@lru_cache(maxsize=20_000)
def phone_key(text: str, country: str) -> str:
    """The key of a phone number as typed in `country` (ISO 3166 code): E.164 with
    its extension; of several numbers, or one with words beside it, the first. ''
    where `text` holds no number that could be dialled."""
    number = _dialled(text, country)
    if number is None:
        return ""
    key = phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)
    return f"{key};ext={number.extension}" if number.extension else key


def _dialled(text: str, country: str) -> phonenumbers.PhoneNumber | None:
    if re.fullmatch(r"\s*[0-9.,]+E\+?[0-9]+\s*", text, re.IGNORECASE):
        return None  # 7.7E+09: a spreadsheet has dropped the digits
    for part in (text, *re.split(r"[/;,|]|\bor\b", text)[:3]):
        with contextlib.suppress(phonenumbers.NumberParseException):
            number = phonenumbers.parse(part, country or None)
            if phonenumbers.is_possible_number(number):
                return number
    found = phonenumbers.PhoneNumberMatcher(
        text, country or None, leniency=phonenumbers.Leniency.POSSIBLE
    )
    return next((one.number for one in found), None)


def post_code_key(text: str) -> str:
    """The key of a post code: letter case and white space don't count."""
    return "".join(squeeze(text).split()).casefold()


def find_post_code(address: str, country: str) -> str:
    """The post code in an `address` of `country`, as written there, or ''."""
    pattern = _POST_CODES.get(country, _POST_CODE_ELSEWHERE)
    found = re.findall(pattern, squeeze(address), re.IGNORECASE | re.MULTILINE)
    return " ".join(found[-1].split()) if found else ""


@dataclass(frozen=True, slots=True)
class Likeness:
    """That the name at `place` is like the earlier one at `like`; score 0–100."""

    place: int
    like: int
    score: float


def near_names(names: Sequence[str], *, settled: int = 0) -> list[Likeness]:
    """For each name the earlier one that it is most like, where any is near.

    The first `settled` names are known to be apart and only compared against.
    Names whose numbers differ ('Unit 3', 'Unit 4') are not near. One answer a name:
    the best score, at a tie the earliest. Names are put together by shared words or
    shared beginnings first, so that ten thousand take seconds.
    """
    keys = [near_key(name) for name in names]
    first: dict[str, int] = {}
    certain: dict[str, int] = {}
    twins: dict[int, int] = {}
    for place, key in enumerate(keys):
        same = certain.setdefault(name_key(names[place]), place)
        same = min(same, first.setdefault(key, place))
        if same < place:
            twins[place] = same
    best = _best_of_earlier(list(first))
    found = []
    for place in range(settled, len(keys)):
        key = keys[place]
        if not key:
            continue
        if place in twins:
            found.append(Likeness(place, twins[place], 100.0))
        elif key in best:
            like, score = best[key]
            found.append(Likeness(place, first[like], round(score, 1)))
    return found


def _best_of_earlier(keys: list[str]) -> dict[str, tuple[str, float]]:
    """For each key (all different, in order) the earlier key most like it."""
    groups: dict[str, list[int]] = defaultdict(list)
    blocks = [_blocks(key) for key in keys]
    for place, names in enumerate(blocks):
        for block in names:
            groups[block].append(place)
    best: dict[str, tuple[str, float]] = {}
    for place, key in enumerate(keys):
        found = _best(keys, _earlier(groups, blocks[place], place), key)
        if found is not None:
            best[key] = found
    return best


def _earlier(
    groups: dict[str, list[int]], blocks: Iterable[str], place: int
) -> list[int]:
    """Places before `place` that share a block with it, crowded blocks left out."""
    places: set[int] = set()
    for block in blocks:
        members = groups[block]
        if len(members) <= _CROWD:
            places.update(member for member in members if member < place)
    return sorted(places)


def _best(keys: list[str], places: list[int], key: str) -> tuple[str, float] | None:
    found = process.extractOne(
        key,
        [keys[place] for place in places],
        scorer=fuzz.ratio,
        score_cutoff=NEAR_SCORE,
    )
    return None if found is None else (str(found[0]), float(found[1]))


def _blocks(key: str) -> set[str]:
    """What a key shares with those that may be near: each word, and the words'
    first two letters; both with the numbers in the name, which must be the same."""
    words = key.split()
    numbers = " ".join(re.findall(r"[0-9]+", key))
    named = [word for word in words if not word.isdigit()]
    if not named:
        return set()
    starts = " ".join(word[:2] for word in named)
    ends = " ".join(word[-2:] for word in named)
    return (
        {f"w {word} {numbers}" for word in named}
        | {f"s {starts} {numbers}"}
        | {f"e {ends} {numbers}"}
    )
