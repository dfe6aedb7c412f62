"""Spans of days in words. Pure."""

from datetime import date


def short(day: date, *, year: bool = False) -> str:
    """``3 Mar``, with the year where it is asked for."""
    return f"{day.day} {day:%b}" + (f" {day.year}" if year else "")


def full(day: date, *, year: bool = False) -> str:
    """``3 March``, with the year where it is asked for."""
    return f"{day.day} {day:%B}" + (f" {day.year}" if year else "")


def span(first: date, last: date, *, years: bool = True) -> str:
    """``3–12 Mar``; ``27 Feb – 8 Mar``; one day alone; years where they differ, if
    ``years`` are wanted.
    """
    if first == last:
        return short(first)
    if years and first.year != last.year:
        return f"{short(first, year=True)} – {short(last, year=True)}"
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}–{short(last)}"
    return f"{short(first)} – {short(last)}"


def between(first: date, last: date) -> str:
    """``between 3 and 12 March``; ``on 3 March``; years where they differ."""
    if first == last:
        return f"on {full(first)}"
    if first.year != last.year:
        return f"between {full(first, year=True)} and {full(last, year=True)}"
    if first.month == last.month:
        return f"between {first.day} and {full(last)}"
    return f"between {full(first)} and {full(last)}"
