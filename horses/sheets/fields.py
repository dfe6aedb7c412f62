"""The fields that a sheet can fill, and the headings by which each is known. Pure.

A heading is read without regard to letter case, accents, punctuation, plural and
what stands in brackets. It is known only when each of its words is: 'Vet phone' is
nobody's phone of ours, and is kept as a note.
"""

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from horses.sheets.grid import Cell, shown


class Field(StrEnum):
    """What a column can hold. The value is its name in a mapping file."""

    OWNER = "owner"
    OWNER_GIVEN = "owner_given_name"
    OWNER_FAMILY = "owner_family_name"
    OWNER_PHONE = "owner_phone"
    OWNER_EMAIL = "owner_email"
    OWNER_ADDRESS = "owner_address"
    OWNER_TOWN = "owner_town"
    OWNER_POST_CODE = "owner_post_code"
    BARN = "barn"
    BARN_ADDRESS = "barn_address"
    BARN_TOWN = "barn_town"
    BARN_POST_CODE = "barn_post_code"
    BARN_POSITION = "barn_position"
    BARN_LATITUDE = "barn_latitude"
    BARN_LONGITUDE = "barn_longitude"
    HORSE = "horse"
    BREED = "breed"
    FOALED = "foaled"
    AGE = "age"
    USE = "use"
    LAST_VISIT = "last_visit"
    INTERVAL = "interval_weeks"
    USUAL_WORK = "usual_work"
    PRICE = "price"
    NOTES = "notes"


LABELS: dict[Field, str] = {
    Field.OWNER: "owner: name",
    Field.OWNER_GIVEN: "owner: given name",
    Field.OWNER_FAMILY: "owner: family name",
    Field.OWNER_PHONE: "owner: phone",
    Field.OWNER_EMAIL: "owner: e-mail",
    Field.OWNER_ADDRESS: "owner: address",
    Field.OWNER_TOWN: "owner: town",
    Field.OWNER_POST_CODE: "owner: post code",
    Field.BARN: "barn: name",
    Field.BARN_ADDRESS: "barn: address",
    Field.BARN_TOWN: "barn: town",
    Field.BARN_POST_CODE: "barn: post code",
    Field.BARN_POSITION: "barn: position",
    Field.BARN_LATITUDE: "barn: latitude",
    Field.BARN_LONGITUDE: "barn: longitude",
    Field.HORSE: "horse: name",
    Field.BREED: "horse: breed",
    Field.FOALED: "horse: foaled",
    Field.AGE: "horse: age",
    Field.USE: "horse: use",
    Field.LAST_VISIT: "last visit",
    Field.INTERVAL: "interval in weeks",
    Field.USUAL_WORK: "usual work",
    Field.PRICE: "price",
    Field.NOTES: "notes",
}

SHARED = frozenset(
    {
        Field.NOTES,
        Field.OWNER_ADDRESS,
        Field.BARN_ADDRESS,
        Field.OWNER_PHONE,
        Field.OWNER_EMAIL,
    }
)
"""Fields that several columns may fill: addresses and notes are put together, of
phones and e-mails the first that is filled is taken and the others kept as notes."""

_SUBJECTS = {
    "owner": "owner client customer keeper",
    "barn": "barn yard stable stabling livery premises farm property ranch location"
    " place site facility",
    "horse": "horse animal pony equine",
}
_ATTRIBUTES = {
    "name": "name",
    "phone": "phone tel telephone mobile mob cell cellphone landline",
    "email": "email mail",
    "address": "address street addr",
    "town": "town city village",
    "post_code": "postcode zip zipcode eircode postalcode pcode",
    "position": "position gps coordinates coords coordinate latlon latlong latlng"
    " pluscode olc geo",
    "latitude": "latitude lat",
    "longitude": "longitude lon lng long",
    "family": "surname lastname",
    "given": "forename firstname",
}
_FILLERS = frozenset(
    [
        "the",
        "of",
        "s",
        "no",
        "number",
        "nr",
        "full",
        "line",
        "1",
        "2",
        "3",
        "4",
        "home",
        "main",
    ]
)
_JOINED = (
    ("e mail", "email"),
    ("e mails", "email"),
    ("post code", "postcode"),
    ("eir code", "eircode"),
    ("zip code", "zip"),
    ("postal code", "postcode"),
    ("plus code", "pluscode"),
    ("open location code", "pluscode"),
    ("what it", ""),
    ("lat long", "latlon"),
    ("lat lon", "latlon"),
    ("lat lng", "latlon"),
    ("latitude longitude", "latlon"),
    ("map reference", "position"),
    ("first name", "firstname"),
    ("given name", "firstname"),
    ("last name", "lastname"),
    ("family name", "lastname"),
    ("kept at", "barn"),
    ("where kept", "barn"),
    ("stabled at", "barn"),
    ("owned by", "owner"),
    ("co ordinates", "coordinates"),
    ("d o b", "dob"),
    ("y o b", "yob"),
)
_PHRASES: dict[Field, str] = {
    Field.OWNER_PHONE: "contact number|contact no|contact phone|contact tel|"
    "contact telephone|contact mobile|ph|ph no|ph number",
    Field.BREED: "breed|horse breed|breed of horse|breeding",
    Field.FOALED: "foaled|year foaled|foaled year|foaling year|foaling date|"
    "date foaled|foaled on|foaling|yob|year of birth|birth year|dob|date of birth|"
    "birth date|birthdate|birthday|born|year born|foaled age|age foaled|"
    "foaled or age|age or foaled|age dob|dob age|horse dob|horse foaled|"
    "horse year of birth|horse date of birth|age year of birth",
    Field.AGE: "age|horse age|age year|age yr|year old|age in year|horse age year",
    Field.USE: "use|used for|horse use|discipline|activity|purpose|job of horse",
    Field.LAST_VISIT: "last visit|last visited|last visit date|date of last visit|"
    "date last visit|date last visited|last|last date|last done|date last done|"
    "last seen|date last seen|last attended|last attendance|last shod|date last shod|"
    "last shoeing|last shoe|last trim|last trimmed|last trim date|date last trimmed|"
    "last shod trimmed|last trim shoe|last service|last serviced|last appointment|"
    "last appt|last job|last call|last booking|visit date|date of visit|visited|"
    "date shod|date trimmed|last shoeing date|date of last shoeing|last shod on|"
    "date of last trim|last trimming|last trimmed on|"
    "visited on|previous visit|last farrier visit|last farrier|date|shod on|"
    "last date shod|last shod date|last time|last work",
    Field.INTERVAL: "interval|interval week|interval in week|interval wk|week|wk|"
    "shoeing interval|trim interval|visit interval|cycle|cycle week|cycle in week|"
    "shoeing cycle|trim cycle|week between|week between visit|every|every week|"
    "every how many week|how often|frequency|frequency week|how many week|due every|"
    "trimming cycle|trimming interval|cycle length|freq|freq week|freq wk|"
    "repeat every|week apart|every n week|visit every|shod every|weekly interval|"
    "repeat|repeat week|no of week|number of week|interval no week|week interval",
    Field.USUAL_WORK: "usual work|usual|usually|usually get|gets|get|usual service|"
    "usual job|usual treatment|what usually get|it usually get|horse usually get|"
    "work|work done|type of work|work type|service|service type|treatment|shoeing|"
    "shoeing type|what is done|usual shoeing|job|job type|"
    "trim shoe|trim or shoe|shoe trim|what done|usual set|shoe|set",
    Field.PRICE: "price|cost|fee|charge|rate|amount|agreed price|usual price|"
    "price per horse|price per visit|price each|price agreed|unit price|our price|"
    "usual charge|usual fee|fee per horse|charge per horse|cost per horse|price horse|"
    "rate per visit|rate per horse|fee per visit|charge per visit|cost per visit|"
    "visit fee|standard fee|standard price|normal price",
    Field.NOTES: "note|comment|remark|info|information|other|memo|other note|"
    "additional note|further note|horse note|misc|general note|note comment",
}
_WEAK = frozenset(
    [
        "date",
        "last",
        "work",
        "job",
        "amount",
        "rate",
        "week",
        "wk",
        "every",
        "shoe",
        "set",
        "get",
    ]
)
"""Headings of one word that give way to a fuller one for the same field."""

_CURRENCY_CODES = frozenset(
    [
        "aud",
        "brl",
        "cad",
        "chf",
        "czk",
        "dkk",
        "eur",
        "gbp",
        "huf",
        "inr",
        "isk",
        "jpy",
        "mxn",
        "nok",
        "nzd",
        "pln",
        "ron",
        "sek",
        "sgd",
        "usd",
        "zar",
    ]
)
_BESIDE_MONEY = frozenset(
    [
        "in",
        "per",
        "each",
        "a",
        "visit",
        "horse",
        "u",
        "c",
        "ca",
        "au",
        "nz",
        "incl",
        "inc",
        "including",
        "ex",
        "excl",
        "excluding",
        "vat",
        "tax",
        "gst",
    ]
)
"""Words beside a currency's sign or code, or a price's own word, that leave it one."""

_NOT_WEEKS = frozenset(["day", "month", "year", "d", "m", "y"])


def _singular(word: str) -> str:
    kept = {"address", "gps", "is", "usual", "s", "lens"}
    return word[:-1] if word.endswith("s") and word not in kept else word


# The lists say words as people write them; headings are looked up with plurals as one.
_KNOWN = {
    " ".join(map(_singular, phrase.split())): field
    for field, all_ in _PHRASES.items()
    for phrase in all_.split("|")
}
_WORDS = {
    _singular(word): ("subject", subject)
    for subject, words in _SUBJECTS.items()
    for word in words.split()
} | {
    _singular(word): ("attribute", attribute)
    for attribute, words in _ATTRIBUTES.items()
    for word in words.split()
}


def words_of(heading: str) -> list[str]:
    """A heading's words: folded, without accents and punctuation, plurals as one."""
    spread = unicodedata.normalize("NFKD", heading.casefold())
    bare = "".join(c for c in spread if not unicodedata.combining(c))
    text = " ".join(re.findall(r"[^\W_]+", re.sub(r"['’]s\b", "", bare)))
    for several, one in _JOINED:
        text = re.sub(rf"\b{several}\b", one, text)
    return [_singular(word) for word in text.split()]


def known_field(heading: str) -> Field | str | None:
    """What a heading says by itself.

    Returns:
        a field; 'name', 'address', 'town' or 'post_code' where it depends on the
        columns beside it; None for an unknown heading.
    """
    if not heading.strip() or len(heading) > 80:
        return None
    outside = re.sub(r"[(\[{][^)\]}]*[)\]}]?", " ", heading)
    within = words_of(" ".join(re.findall(r"[(\[{]([^)\]}]*)", heading)))
    if _is_price(heading):
        return Field.PRICE
    for text in (heading, outside):
        words = words_of(text)
        found = _KNOWN.get(" ".join(words)) or _by_words(words)
        if found == Field.INTERVAL and _NOT_WEEKS & {*words, *within}:
            return None
        if found is not None:
            return found
    return None


def _is_price(heading: str) -> bool:
    """A currency's sign or code, or a price's own word, alone or with words beside it
    that leave it a price ('£ per visit', 'Price inc VAT')."""
    signs = any(unicodedata.category(c) == "Sc" for c in heading)
    words = words_of(heading)
    codes = _CURRENCY_CODES & set(words)
    left = [word for word in words if word not in _CURRENCY_CODES]
    own = " ".join(word for word in left if word not in _BESIDE_MONEY)
    if _KNOWN.get(" ".join(left)) == Field.PRICE or _KNOWN.get(own) == Field.PRICE:
        return True
    return bool(signs or codes) and not own


def _by_words(words: list[str]) -> Field | str | None:
    subjects, attributes = set(), []
    for word in words:
        kind, meaning = _WORDS.get(word, ("", ""))
        if kind == "subject":
            subjects.add(meaning)
        elif kind == "attribute":
            attributes.append(meaning)
        elif word not in _FILLERS:
            return None
    if len(subjects) > 1 or len(words) > 6:
        return None
    subject = subjects.pop() if subjects else ""
    return _combined(
        subject, [a for a in attributes if a != "name"], "name" in attributes
    )


def _combined(
    subject: str, attributes: list[str], has_name: bool
) -> Field | str | None:
    kinds = set(attributes)
    if kinds == {"latitude", "longitude"}:
        kinds = {"position"}
    if kinds == {"email", "address"}:
        kinds = {"email"}
    if len(kinds) > 1:
        return None
    if not kinds:
        if subject:
            return Field(subject)
        return "name" if has_name else None
    kind = kinds.pop()
    if kind in {"family", "given"}:
        return Field(f"owner_{kind}_name") if subject in {"", "owner"} else None
    if kind in {"phone", "email"}:
        return Field(f"owner_{kind}") if subject in {"", "owner"} else None
    if kind in {"position", "latitude", "longitude"}:
        return Field(f"barn_{kind}") if subject in {"", "barn"} else None
    if subject == "horse":
        return None
    return Field(f"{subject}_{kind}") if subject else kind


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its place (0 first), its heading as written, its field if any."""

    place: int
    heading: str
    field: Field | None


class BadMapping(ValueError):
    """A mapping that names no field of ours or no heading of the sheet."""


def score_headings(cells: Sequence[Cell], mapping: Mapping[str, str | None]) -> int:
    """How many cells of a line are known headings, each field counted once."""
    named = {_plain(heading) for heading in mapping}
    found: set[object] = set()
    for cell in cells:
        if isinstance(cell, str) and cell:
            known = known_field(cell)
            if known is None and _plain(cell) in named:
                known = cell
            if known is not None:
                found.add(known)
    return len(found)


def match_columns(
    headings: Sequence[Cell], mapping: Mapping[str, str | None]
) -> tuple[Column, ...]:
    """Which field each column fills.

    The mapping (heading → field's name, or None for 'keep as a note') goes before
    what the headings say. Of two columns for one field the first stands and the
    other is kept as a note, but for the fields in SHARED.

    Raises:
        BadMapping: unknown field, or a heading that the sheet hasn't got.
    """
    texts = [shown(cell) for cell in headings]
    told = _told(texts, mapping)
    guesses = [None if at in told else known_field(t) for at, t in enumerate(texts)]
    fields = [
        told[place] if place in told else _settled(place, guesses)
        for place in range(len(texts))
    ]
    holders: dict[Field, int] = {}
    for place in sorted(
        range(len(texts)),
        key=lambda at: (at not in told, " ".join(words_of(texts[at])) in _WEAK, at),
    ):
        field = fields[place]
        if field and field not in SHARED:
            holders.setdefault(field, place)
    return tuple(
        Column(place, text, field)
        if field is None or holders.get(field, place) == place
        else Column(place, text, None)
        for place, (text, field) in enumerate(zip(texts, fields, strict=True))
    )


def _told(
    texts: Sequence[str], mapping: Mapping[str, str | None]
) -> dict[int, Field | None]:
    names = {str(field) for field in Field}
    places: dict[str, list[int]] = {}
    for place, text in enumerate(texts):
        places.setdefault(_plain(text), []).append(place)
    told: dict[int, Field | None] = {}
    twice: dict[str, str] = {}
    for heading, name in mapping.items():
        if _plain(heading) not in places:
            raise BadMapping(
                f"The mapping names a heading '{heading}' that the sheet hasn't got."
            )
        if name is not None and name not in names:
            raise BadMapping(
                f"The mapping gives '{heading}' the field '{name}'; "
                f"the fields are {', '.join(sorted(names))}, or null."
            )
        if name is not None and Field(name) not in SHARED and name in twice:
            raise BadMapping(
                f"The mapping gives both '{twice[name]}' and '{heading}' the field "
                f"'{name}': keep one of them as a note (null)."
            )
        if name is not None:
            twice[name] = heading
        for place in places[_plain(heading)]:
            told[place] = Field(name) if name is not None else None
    return told


def _settled(place: int, guesses: Sequence[Field | str | None]) -> Field | None:
    """The field of a column whose heading may leave open whose it is: 'Name' is the
    owner's unless there is one; 'Address', 'Town' and 'Post code' belong to the
    owner or barn whose column stands nearest to the left, else to the right."""
    guess = guesses[place]
    if guess is None or isinstance(guess, Field):
        return guess
    if guess == "name":
        owners = {Field.OWNER, Field.OWNER_GIVEN, Field.OWNER_FAMILY}
        return Field.HORSE if owners & set(guesses) else Field.OWNER
    left = [*reversed(guesses[:place])]
    for one in [*left, *guesses[place + 1 :]]:
        other = _settled(guesses.index("name"), guesses) if one == "name" else one
        if isinstance(other, Field) and other.startswith(("owner", "barn")):
            return Field(f"{other.partition('_')[0]}_{guess}")
    return None


def _plain(heading: str) -> str:
    return "".join(heading.casefold().split())


def parse_mapping(text: str) -> dict[str, str | None]:
    """A mapping file: one JSON object from heading to a field's name or null.

    Raises:
        BadMapping: it is none.
    """
    try:
        found = json.loads(text)
    except ValueError as error:
        raise BadMapping(f"The mapping is not JSON: {error}.") from error
    if not isinstance(found, dict) or not all(
        value is None or isinstance(value, str) for value in found.values()
    ):
        raise BadMapping(
            "The mapping is one JSON object from heading to field or null, such as "
            '{"Nag": "horse", "Colour": null}.'
        )
    return found
