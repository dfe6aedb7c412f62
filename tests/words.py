"""Tables of words in several languages: what each of them has to keep."""

import string

from practice.languages import LANGUAGES


def _places(text):
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name)


def faults_of(catalogue):
    """Keys that lack a language, have an empty text, or other places to fill in than
    the English words have."""
    return [
        key
        for key, row in catalogue.items()
        if len(row) != len(LANGUAGES)
        or not all(text.strip() for text in row)
        or any(_places(text) != _places(row[0]) for text in row)
    ]
