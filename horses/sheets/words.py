"""What people write in a sheet for a horse's use and for its usual work. Pure.

The words on the right are common practice, no source. What isn't known here is kept
as it was written.
"""

from typing import TypeVar

from practice.names import near_key

_USES = {
    "hacking": "hacking|hack|hacks|happy hacker|happy hacking|leisure|pleasure|"
    "pleasure riding|trail|trails|trail riding|riding|general riding|light hacking",
    "school": "school|riding school|school horse|schoolmaster|lessons|lesson horse|"
    "lesson pony",
    "dressage": "dressage",
    "jumping": "jumping|showjumping|show jumping|sj|jumper|showjumper|show jumper",
    "eventing": "eventing|eventer|event|events|three day eventing|horse trials",
    "hunting": "hunting|hunter|hunt|fox hunting|field hunter",
    "endurance": "endurance|long distance|distance riding|endurance riding",
    "racing": "racing|race|racehorse|flat racing|point to point|national hunt|"
    "steeplechasing|trotting",
    "polo": "polo|polo pony",
    "western": "western|reining|barrels|barrel racing|cutting|roping|ranch work",
    "driving": "driving|carriage|carriage driving|harness",
    "draught": "draught|draft|ploughing|plowing|logging|farm work|heavy horse|timber",
    "showing": "showing|show|in hand|in hand showing|halter|show pony",
    "breeding": "breeding|broodmare|brood mare|stud|stallion at stud|brood",
    "youngstock": "youngstock|young stock|foal|yearling|weanling|youngster",
    "companion": "companion|pet|field ornament|field companion|company",
    "retired": "retired|retirement|pensioner|retiree",
}
_WORKS = {
    ("trim", "trim"): "trim|trims|barefoot trim|trim only|bare foot|barefoot|unshod|"
    "trimmed|trim all round",
    ("reset", "reset"): "reset|resets|refit|refits|refitted|remove and refit|"
    "resetting|refit set",
    ("new_shoes", "front shoes"): "front shoes|fronts|front|fronts only|half set|"
    "shod in front|2 shoes|two shoes|front set|fronts shod",
    ("new_shoes", "full set"): "full set|new set|set|new shoes|shoes|shod|shoe|"
    "shoeing|full shoes|4 shoes|four shoes|full shoeing|new|all round|fours|"
    "shod all round|set of shoes|full set of shoes",
    ("new_shoes", "bar shoes, pair"): "bar shoes|pair of bar shoes|bar shoes pair",
    ("pull", "pull shoes"): "pull|pull shoes|shoes off|remove shoes|removal|take off",
    ("check", "check"): "check|check up|checkup|inspection",
}
"""By kind of work and its plainest name, what else it is called."""


T = TypeVar("T")


def _by_words(table: dict[T, str]) -> dict[str, T]:
    return {
        near_key(words): meant
        for meant, several in table.items()
        for words in several.split("|")
    }


_USE_BY_WORDS = _by_words(_USES)
_WORK_BY_WORDS = _by_words(_WORKS)


def use_of(text: str) -> str:
    """The house's word for a use (a value of ``Horse.Use``), or ''."""
    return _USE_BY_WORDS.get(near_key(text), "")


def work_of(text: str) -> tuple[str, str]:
    """The kind of work (a value of ``Work.Kind``) that the words mean and its
    plainest name, or ('', '')."""
    return _WORK_BY_WORDS.get(near_key(text), ("", ""))
