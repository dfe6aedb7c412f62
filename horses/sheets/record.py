"""What a good row and a bad row of a sheet hold. Pure."""

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from horses.sheets.dates import Order
from practice.names import email_key, name_key, post_code_key


@dataclass(frozen=True, slots=True)
class Terms:
    """What the practice brings to the reading.

    country: ISO 3166 code. decimals: places of its currency. today: the practice's
    day. order: a person's answer to which comes first, day or month; None: unasked.
    """

    country: str
    decimals: int
    today: date
    order: Order | None = None


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that can't be taken: where, what stands there, why, and the mend."""

    line: int
    column: str
    value: str
    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Address:
    """Street and the rest, town, post code; '' where the sheet doesn't say."""

    street: str = ""
    town: str = ""
    post_code: str = ""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One good row. Text is '' and a number None where the sheet doesn't say.

    position is (latitude, longitude) in degrees, six decimals. age is the text of an
    age from which foaled_year was reckoned. barn_is_ours: the row has a place but no
    name for it, so the name was made here.
    """

    line: int
    owner: str
    phone: str
    email: str
    owner_address: Address
    barn: str
    barn_address: Address
    barn_is_ours: bool
    position: tuple[Decimal, Decimal] | None
    horse: str
    breed: str
    foaled_year: int | None
    foaled_on: date | None
    age: str
    use: str
    last_visit: date | None
    weeks: int | None
    usual_work: str
    price: Decimal | None
    notes: str

    def values(self) -> dict[str, Any]:
        """What the row says, as JSON values, the same for CSV and .xlsx and on
        whatever day it is read (an age stays an age)."""
        return {
            "owner": self.owner,
            "phone": self.phone,
            "email": self.email,
            "owner_street": self.owner_address.street,
            "owner_town": self.owner_address.town,
            "owner_post_code": self.owner_address.post_code,
            "barn": self.barn,
            "barn_street": self.barn_address.street,
            "barn_town": self.barn_address.town,
            "barn_post_code": self.barn_address.post_code,
            "position": [str(part) for part in self.position] if self.position else "",
            "horse": self.horse,
            "breed": self.breed,
            "foaled": self.age or str(self.foaled_on or self.foaled_year or ""),
            "use": self.use,
            "last_visit": str(self.last_visit or ""),
            "weeks": "" if self.weeks is None else str(self.weeks),
            "usual_work": self.usual_work,
            "price": "" if self.price is None else str(self.price),
            "notes": self.notes,
        }

    def identity(self) -> str:
        """A digest of who and where the row is about: owner with phone and e-mail,
        barn, horse. Rows of two readings with the same identity are the same row.

        It is the same whatever country the sheet is read by: of a phone the last
        nine digits count, of a post code not the noughts in front.
        """
        return digest(
            [
                name_key(self.owner),
                email_key(self.email),
                re.sub("[^0-9]", "", self.phone)[-9:] or name_key(self.phone),
                "" if self.barn_is_ours else name_key(self.barn),
                post_code_key(self.barn_address.post_code).lstrip("0"),
                name_key(self.horse),
            ]
        )


def digest(value: Any) -> str:
    """SHA-256 of a JSON value, 64 hexadecimal digits."""
    text = json.dumps(value, ensure_ascii=True, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()
