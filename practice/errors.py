"""What the house says when it will not do a thing. Pure."""


class Refused(Exception):
    """A request that breaks a rule of the house, told in a sentence for people.

    Services raise it; pages show the sentence beside ``field`` with everything
    typed kept; the API turns it into problem details (RFC 9457).

    Args:
        sentence: what is wrong and what mends it.
        field: name of the form field or body key that it belongs to, if any.
    """

    def __init__(self, sentence: str, field: str | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
