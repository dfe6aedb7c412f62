"""Which rows speak of the same owner, barn and horse. Pure.

**Certain** is only this. A client: the same name and the same e-mail or the same
phone. A barn: the same name and the same post code. Names, e-mails and post codes are
compared without letter case and spaces, names also without the order 'Family, Given'
(`practice.names`), phones as the number dialled. Certainty carries on: if one row
shares the e-mail with a second and the phone with a third, all three are one client.
A name alone, with nothing beside it, is never certain, not even within one sheet.

All else that is alike is **near**: offered to a person, taken as different until
somebody says 'the same'. Near are names of a likeness of 85 or more, and the same
e-mail or phone under another name, or the same post code under a name half alike.

**A row read before** is a third thing. It is known by its identity (owner with e-mail
and phone, barn, horse), so that importing a sheet again finds what it made the first
time, also for owners and barns that are not certain. Of several rows with one
identity, those that say exactly the same are paired first, the others in order. Two
rows that say exactly the same in every cell are one row written twice. Where the client or the
barn that such a row made was taken out since, the row has none: it isn't made again.

**A horse** is the same when its owner is and its name is. Two such rows in one sheet
that contradict each other (foaled, breed, interval, price …) are not merged: the
later one is bad, and the mend is to tell the names apart.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rapidfuzz import fuzz

from horses.sheets.record import BadRow, SheetRow, digest
from practice.names import (
    email_key,
    likeness,
    name_key,
    near_key,
    near_names,
    phone_key,
    post_code_key,
)

NEIGHBOUR_SCORE = 70.0
"""Likeness from which two barns of one post code are offered as near; ours."""


@dataclass(frozen=True, slots=True)
class Known:
    """A client or barn that the practice has: its key, name, and what makes a row
    certainly speak of it (e-mail and phone, or post code)."""

    pk: int
    name: str
    email: str = ""
    phone: str = ""
    post_code: str = ""


@dataclass(frozen=True, slots=True)
class Before:
    """A row read before: the digest of what it said, what it made."""

    identity: str
    said: str
    pk: int
    client: int | None
    barn: int | None
    horse: int | None


@dataclass(frozen=True, slots=True)
class Near:
    """Two that may be one: the first at `line`, like one of the practice's own or the
    one at `like_line`. `key` names the question for an answer."""

    key: str
    kind: str
    line: int
    name: str
    like: str
    like_line: int | None
    score: float

    @property
    def is_alike(self) -> bool:
        """Whether the names are the same, and only what would prove it is missing."""
        return self.score == 100


@dataclass(slots=True)
class Group:
    """Rows (places in the sequence) that speak of one client or barn; `pk` where the
    practice has it already."""

    rows: list[int]
    name: str
    pk: int | None = None


@dataclass(frozen=True, slots=True)
class Matched:
    """The groups, the group of each row (None: the row has no such thing), and the
    questions, answered or not."""

    groups: tuple[Group, ...]
    of_row: tuple[int | None, ...]
    near: tuple[Near, ...]


def pair_with_before(
    identities: Sequence[str], said: Sequence[str], before: Sequence[Before]
) -> dict[int, Before]:
    """For each row (place) the row read before that it is, if any."""
    waiting: dict[str, list[Before]] = defaultdict(list)
    for one in before:
        waiting[one.identity].append(one)
    paired: dict[int, Before] = {}
    twins: dict[tuple[str, str], int] = {}
    for exactly in (True, False):
        for place, (identity, words) in enumerate(zip(identities, said, strict=True)):
            if place in paired or not waiting[identity]:
                continue
            if (identity, words) in twins:  # written twice: the same row
                paired[place] = paired[twins[identity, words]]
                continue
            fits = [b for b in waiting[identity] if not exactly or b.said == words]
            if fits:
                paired[place] = fits[0]
                waiting[identity].remove(fits[0])
                twins[identity, words] = place
    for place, (identity, words) in enumerate(zip(identities, said, strict=True)):
        if place not in paired and (identity, words) in twins:
            paired[place] = paired[twins[identity, words]]
    return paired


class _Joined:
    """Disjoint sets of places, joined as reasons are found; the least is the name."""

    def __init__(self, size: int) -> None:
        self.parent = list(range(size))

    def find(self, place: int) -> int:
        while self.parent[place] != place:
            self.parent[place] = self.parent[self.parent[place]]
            place = self.parent[place]
        return place

    def join(self, one: int, other: int) -> None:
        first, second = sorted((self.find(one), self.find(other)))
        self.parent[second] = first


@dataclass(slots=True)
class _Entry:
    """What one row says of a client or barn: certain keys, keys that make near."""

    place: int
    line: int
    name: str
    certain: list[str]
    hints: list[str] = field(default_factory=list)
    pk: int | None = None


def match_clients(
    rows: Sequence[SheetRow],
    known: Sequence[Known],
    before: Mapping[int, Before],
    answers: Mapping[str, bool],
    country: str,
) -> Matched:
    """Groups rows by owner.

    Args:
        before: by place, the row read before that it is.
        answers: by a question's key, whether the two are the same.
        country: ISO 3166 code for reading phones.
    """
    live = {one.pk for one in known}
    entries = [
        _Entry(
            place,
            row.line,
            row.owner,
            [
                *_client_keys(row.owner, row.email, row.phone, country),
                f"row {digest(row.values())}",
            ],
            _contacts(row.email, row.phone, country),
            before[place].client if place in before else None,
        )
        for place, row in enumerate(rows)
        if place not in before or before[place].client in live
    ]
    keys = {
        one.pk: _client_keys(one.name, one.email, one.phone, country) for one in known
    }
    hints = {one.pk: _contacts(one.email, one.phone, country) for one in known}
    return _match("client", len(rows), entries, known, keys, hints, answers)


def _client_keys(name: str, email: str, phone: str, country: str) -> list[str]:
    return [f"{name_key(name)} {key}" for key in _contacts(email, phone, country)]


def _contacts(email: str, phone: str, country: str) -> list[str]:
    dialled = phone_key(phone, country) if phone else ""
    return [
        *([f"e {email_key(email)}"] if email else []),
        *([f"p {dialled}"] if dialled else []),
    ]


def match_barns(
    rows: Sequence[SheetRow],
    known: Sequence[Known],
    before: Mapping[int, Before],
    answers: Mapping[str, bool],
    owners: Sequence[int | None],
) -> Matched:
    """Groups rows by barn; `owners` is the client's group of each row, under which a
    place that the sheet gives no name is kept apart."""
    live = {one.pk for one in known}
    entries = []
    for place, row in enumerate(rows):
        if not row.barn or (place in before and before[place].barn not in live):
            continue
        code = post_code_key(row.barn_address.post_code)
        certain = [f"row {digest(row.values())}"]
        if row.barn_is_ours:
            where = [owners[place], code, row.barn_address.town, str(row.position)]
            certain.append(f"at {where}")
        elif code:
            certain.append(f"{name_key(row.barn)} {code}")
        entries.append(
            _Entry(
                place,
                row.line,
                row.barn,
                certain,
                [code] if code and not row.barn_is_ours else [],
                before[place].barn if place in before else None,
            )
        )
    keys, hints = {}, {}
    for one in known:
        code = post_code_key(one.post_code)
        keys[one.pk] = [f"{name_key(one.name)} {code}"] if code else []
        hints[one.pk] = [code] if code else []
    return _match("barn", len(rows), entries, known, keys, hints, answers)


def _match(
    kind: str,
    size: int,
    entries: Sequence[_Entry],
    known: Sequence[Known],
    keys: Mapping[int, Sequence[str]],
    hints: Mapping[int, Sequence[str]],
    answers: Mapping[str, bool],
) -> Matched:
    groups = _groups(entries, known, keys)
    near = _near(kind, groups, known, hints, entries)
    merged = _merge(groups, near, answers, known)
    of_row: list[int | None] = [None] * size
    for number, group in enumerate(merged):
        for place in group.rows:
            of_row[place] = number
    return Matched(tuple(merged), tuple(of_row), tuple(one for one, _, _ in near))


def _groups(
    entries: Sequence[_Entry],
    known: Sequence[Known],
    keys: Mapping[int, Sequence[str]],
) -> list[Group]:
    """Certain groups, in the order of their first rows."""
    names = {one.pk: one.name for one in known}
    joined = _Joined(len(entries))
    holder: dict[str, int] = {}
    for at, entry in enumerate(entries):
        for key in [] if entry.pk in names else entry.certain:
            joined.join(at, holder.setdefault(key, at))
    known_by_key: dict[str, int] = {}
    for one in known:
        for key in keys[one.pk]:
            known_by_key.setdefault(key, one.pk)
    pks: dict[int, int] = {}
    for at, entry in enumerate(entries):
        pk = entry.pk if entry.pk in names else None
        for key in entry.certain:
            pk = pk or known_by_key.get(key)
        if pk is not None:
            pks.setdefault(joined.find(at), pk)
    found: dict[tuple[str, int], Group] = {}
    for at, entry in enumerate(entries):
        root = joined.find(at)
        pk = pks.get(root)
        mark = ("known", pk) if pk is not None else ("new", root)
        name = names[pk] if pk is not None else entry.name
        group = found.setdefault(mark, Group([], name, pk))
        group.rows.append(entry.place)
        if pk is None and "," in group.name and "," not in entry.name:
            group.name = entry.name
    return list(found.values())


_Question = tuple[Near, int, int]  # the group asked about, the place it is like


def _near(
    kind: str,
    groups: Sequence[Group],
    known: Sequence[Known],
    hints: Mapping[int, Sequence[str]],
    entries: Sequence[_Entry],
) -> list[_Question]:
    """One question at most for each new group: the one before it most like it.

    Places count the known first, then the new groups.
    """
    fresh = [at for at, group in enumerate(groups) if group.pk is None]
    names = [one.name for one in known] + [groups[at].name for at in fresh]
    best = {
        one.place: (one.like, one.score)
        for one in near_names(names, settled=len(known))
    }
    of_place = {entry.place: entry for entry in entries}
    holder: dict[str, int] = {}
    for place, one in enumerate(known):
        for hint in hints[one.pk]:
            holder.setdefault(hint, place)
    questions = []
    for place, at in enumerate(fresh, start=len(known)):
        theirs = [h for row in groups[at].rows for h in of_place[row].hints]
        if place not in best:
            for hint in theirs:
                other = holder.get(hint)
                if other is not None and _shares(kind, names[place], names[other]):
                    score = round(likeness(names[place], names[other]), 1)
                    best[place] = (other, score)
                    break
        for hint in theirs:
            holder.setdefault(hint, place)
        if place in best:
            like, score = best[place]
            fresh_like = like - len(known)
            like_line = None
            if fresh_like >= 0:
                like_line = of_place[groups[fresh[fresh_like]].rows[0]].line
            line = of_place[groups[at].rows[0]].line
            told = like_line if like_line is not None else f"pk {known[like].pk}"
            key = digest([kind, line, told])[:16]
            near = Near(key, kind, line, names[place], names[like], like_line, score)
            questions.append((near, at, like))
    return questions


def _shares(kind: str, name: str, other: str) -> bool:
    """Whether a shared contact or post code makes two names worth a question: always
    for people; for barns of one post code if the names are half alike."""
    if kind == "client":
        return True
    alike = fuzz.token_set_ratio(near_key(name), near_key(other))
    return alike >= NEIGHBOUR_SCORE


def _merge(
    groups: Sequence[Group],
    near: Sequence[_Question],
    answers: Mapping[str, bool],
    known: Sequence[Known],
) -> list[Group]:
    """The groups after the answers 'the same'."""
    fresh = [at for at, group in enumerate(groups) if group.pk is None]
    by_pk = {group.pk: at for at, group in enumerate(groups) if group.pk is not None}
    merged = [Group(list(group.rows), group.name, group.pk) for group in groups]
    into: dict[int, int] = {}
    for question, at, like in near:
        if not answers.get(question.key):
            continue
        if like < len(known):
            pk = known[like].pk
            if pk not in by_pk:
                merged[at].pk, merged[at].name = pk, known[like].name
                by_pk[pk] = at
                continue
            target = by_pk[pk]
        else:
            target = fresh[like - len(known)]
        while target in into:
            target = into[target]
        if target != at:
            merged[target].rows.extend(merged[at].rows)
            into[at] = target
    left = [group for at, group in enumerate(merged) if at not in into]
    for group in left:
        group.rows.sort()
    return sorted(left, key=lambda group: group.rows[0])


# --- horses ---------------------------------------------------------------------------

_MUST_AGREE = ("breed", "foaled", "use", "weeks", "usual_work", "price")


def horses_twice(
    rows: Sequence[SheetRow],
    owners: Sequence[int | None],
    before: Mapping[int, Before],
    heading: str,
) -> dict[int, BadRow]:
    """By place, the rows that name an earlier row's horse but contradict it.

    Args:
        owners: the client's group of each row.
        before: rows that were kept apart before are apart.
        heading: the horse column's, for the report.
    """
    said: dict[tuple[int | None, str, int | None], dict[str, tuple[str, int]]] = {}
    bad: dict[int, BadRow] = {}
    for place, row in enumerate(rows):
        made = before[place].horse if place in before else None
        earlier = said.setdefault((owners[place], name_key(row.horse), made), {})
        says = _says(row)
        against = next(
            (
                earlier[key][1]
                for key, value in says.items()
                if value and key in earlier and earlier[key][0] != value
            ),
            None,
        )
        if against is None:
            for key, value in says.items():
                if value:
                    earlier.setdefault(key, (value, row.line))
            continue
        bad[place] = BadRow(
            row.line,
            heading,
            row.horse,
            "horse_twice",
            f"Line {against} has the same horse of the same owner and says "
            "something else: keep one of the two, or tell their names apart.",
        )
    return bad


def _says(row: SheetRow) -> dict[str, str]:
    """What two rows of one horse must agree in, where both say it."""
    values = row.values()
    says = {key: name_key(values[key]) for key in _MUST_AGREE}
    if row.barn:
        code = post_code_key(row.barn_address.post_code)
        says["barn"] = f"{name_key(row.barn)} {code}"
    return says
