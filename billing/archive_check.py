"""Checks a year's archive of the books. Standard library only, Python 3.8 or later:

    python3 -I verify.py books-2026.zip      (or the folder that it was unpacked to)

Looked at: each file against the manifest's SHA-256; each document's text against the
digest that was frozen when it was issued; the chain, in which each document's link
holds the one before; numbers without gap or twin in each series; the arithmetic of each
document's totals; the sales journal's sums against the documents'. Prints one line a
fault; exit 0 means none.
"""

import csv
import hashlib
import io
import json
import re
import sys
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any, Iterable, Iterator  # noqa: UP035 - runs on old Pythons too


def read_all(place: str) -> "dict[str, bytes]":
    """Every file of a zip or a folder, by its path."""
    path = Path(place)
    if path.is_dir():
        return {
            each.relative_to(path).as_posix(): each.read_bytes()
            for each in path.rglob("*")
            if each.is_file()
        }
    with zipfile.ZipFile(path) as packed:
        return {
            name: packed.read(name)
            for name in packed.namelist()
            if not name.endswith("/")
        }


def canonical(value: object) -> bytes:
    """A JSON value in the one spelling that is digested."""
    return json.dumps(
        value, sort_keys=True, ensure_ascii=False, separators=(",", ":")
    ).encode()


def link(before: str, number: str, text_sha256: str, pdf_sha256: str) -> str:
    """A document's link of the chain."""
    told = "\n".join((before, number, text_sha256, pdf_sha256))
    return hashlib.sha256(told.encode()).hexdigest()


def rows_of(data: bytes) -> "list[dict[str, str]]":
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def _manifest(files: "dict[str, bytes]") -> "Iterator[str]":
    named = {}
    for line in files["MANIFEST.sha256"].decode().splitlines():
        digest, _, name = line.partition("  ")
        named[name] = digest
    for name in sorted(set(named) | (set(files) - {"MANIFEST.sha256"})):
        if name not in files:
            yield f"{name}: missing"
        elif name not in named:
            yield f"{name}: not in the manifest"
        elif hashlib.sha256(files[name]).hexdigest() != named[name]:
            yield f"{name}: not the bytes of the manifest"


def _chain(files: "dict[str, bytes]") -> "Iterator[str]":
    rows = rows_of(files["chain.csv"])
    before = rows[0]["before"] if rows else ""
    for row in rows:
        number = row["number"]
        document = files.get(f"documents/{number}.json", b"null")
        text = hashlib.sha256(canonical(json.loads(document))).hexdigest()
        pdf = hashlib.sha256(files.get(f"documents/{number}.pdf", b"")).hexdigest()
        if text != row["text_sha256"]:
            yield f"{number}: its text is not what was issued"
        if pdf != row["pdf_sha256"]:
            yield f"{number}: its PDF is not what was issued"
        if row["before"] != before:
            yield f"{number}: the chain is broken before it"
        before = link(row["before"], number, row["text_sha256"], row["pdf_sha256"])
        if row["link"] != before:
            yield f"{number}: its link is not its own"
    told = {f"documents/{row['number']}.json" for row in rows}
    for name in sorted(files):
        if re.match(r"documents/.*\.json$", name) and name not in told:
            yield f"{name}: not in the chain"


def _numbers(files: "dict[str, bytes]") -> "Iterator[str]":
    series: dict[str, list[int]] = {}
    for row in rows_of(files["chain.csv"]):
        name, _, digits = row["number"].rpartition("-")
        series.setdefault(name, []).append(int(digits))
    for name, given in sorted(series.items()):
        given.sort()
        for one, other in zip(given, given[1:]):  # noqa: B905, RUF007 - old Pythons
            if other != one + 1:
                yield f"{name}: after {one} comes {other}"


def _totals(document: "dict[str, Any]") -> "Iterator[str]":
    totals = {name: Decimal(str(value)) for name, value in document["totals"].items()}
    groups = document["tax_groups"]
    lines = document["lines"]
    number = document["number"]

    def added(rows: "Iterable[dict[str, Any]]", key: str) -> Decimal:
        return sum((Decimal(row[key]) for row in rows), Decimal(0))

    checks = (
        ("lines", added(lines, "net"), totals["line_total"]),
        (
            "net",
            totals["line_total"] - totals["allowance_total"] + totals["charge_total"],
            totals["tax_basis"],
        ),
        ("net by rate", added(groups, "basis"), totals["tax_basis"]),
        ("tax", added(groups, "tax"), totals["tax"]),
        ("total", totals["tax_basis"] + totals["tax"], totals["total"]),
        (
            "amount due",
            totals["total"] - totals["prepaid"] + totals["rounding"],
            totals["due"],
        ),
    )
    for what, reckoned, stated in checks:
        if reckoned != stated:
            yield f"{number}: {what} is {stated}, reckoned {reckoned}"


def _journal(files: "dict[str, bytes]") -> "Iterator[str]":
    sums: dict[str, tuple[Decimal, Decimal]] = {}
    for row in rows_of(files["sales_journal.csv"]):
        net, tax = sums.get(row["number"], (Decimal(0), Decimal(0)))
        sums[row["number"]] = (net + Decimal(row["net"]), tax + Decimal(row["tax"]))
    documents = {}
    for name, data in files.items():
        if re.match(r"documents/.*\.json$", name):
            try:
                document = json.loads(data)
                found = list(_totals(document))
                documents[document["number"]] = document
            except (KeyError, TypeError, ValueError, ArithmeticError):
                found = [f"{name}: no document that can be read"]
            yield from found
    for number in sorted(set(sums) | set(documents)):
        if number not in documents or number not in sums:
            yield f"{number}: in the journal or the documents alone"
            continue
        totals = documents[number]["totals"]
        sign = -1 if documents[number]["kind"] == "381" else 1
        stated = (sign * Decimal(totals["tax_basis"]), sign * Decimal(totals["tax"]))
        if sums[number] != stated:
            yield f"{number}: the journal says {sums[number]}, the document {stated}"


def faults(place: str) -> "list[str]":
    """What is wrong with an archive; nothing if it is whole."""
    files = read_all(place)
    missing = {"MANIFEST.sha256", "chain.csv", "sales_journal.csv"} - set(files)
    if missing:
        return [f"{name}: missing" for name in sorted(missing)]
    return [
        *_manifest(files),
        *_chain(files),
        *_numbers(files),
        *_journal(files),
    ]


def main() -> int:
    if len(sys.argv) != 2:
        sys.stderr.write("usage: python3 -I verify.py ARCHIVE.zip\n")
        return 2
    found = faults(sys.argv[1])
    for fault in found:
        sys.stdout.write(fault + "\n")
    sys.stdout.write(
        "the archive is whole\n" if not found else f"{len(found)} faults\n"
    )
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
