"""Our totals against official EN 16931 example invoices (see invoicing/SOURCES.md)."""

import json
from decimal import Decimal
from pathlib import Path

import pytest

from billing import money, tax
from billing.reckon import run_totals
from billing.tax import Category, Entry

EXAMPLES = json.loads(
    (Path(__file__).parent / "invoicing" / "totals.json").read_text(encoding="utf-8")
)
KEYS = {
    "BT106": "line_total",
    "BT107": "allowance_total",
    "BT108": "charge_total",
    "BT109": "tax_basis",
    "BT110": "tax",
    "BT112": "total",
    "BT113": "prepaid",
    "BT114": "rounding",
    "BT115": "due",
}


def entry(raw, key):
    rate = None if raw["rate"] is None else Decimal(raw["rate"])
    return Entry(Decimal(raw[key]), Category(raw["category"]), rate)


def totals_of(example):
    documented = example["doc_allowance_charge"]
    stated = example["totals"]
    return tax.totals(
        [entry(line, "net") for line in example["lines"]],
        [entry(part, "amount") for part in documented if not part["charge"]],
        [entry(part, "amount") for part in documented if part["charge"]],
        prepaid=Decimal(stated.get("BT113", "0")),
        rounding=Decimal(stated.get("BT114", "0")),
    )


def test_all_official_examples_are_here():
    assert len(EXAMPLES) == 22
    assert {e["type"] for e in EXAMPLES.values()} == {"380", "381", "384"}


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_totals_are_those_the_example_states(name):
    example = EXAMPLES[name]
    found = totals_of(example)
    for term, value in example["totals"].items():
        assert getattr(found, KEYS[term]) == Decimal(value), term


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_tax_groups_are_those_the_example_states(name):
    """One example writes a rate of 0 for O, which BT-119 leaves out: 0 is none."""
    example = EXAMPLES[name]
    found = {
        (str(group.category), group.rate or Decimal(0)): (group.basis, group.tax)
        for group in totals_of(example).groups
    }
    stated = {
        (vat["category"], Decimal(vat["rate"] or 0)): (
            Decimal(vat["base"]),
            Decimal(vat["tax"]),
        )
        for vat in example["vat"]
    }
    assert found == stated


LINES = [
    pytest.param(line, id=f"{name}:{number}")
    for name, example in sorted(EXAMPLES.items())
    for number, line in enumerate(example["lines"], 1)
    if "qty" in line
]


@pytest.mark.parametrize("line", LINES)
def test_a_lines_net_is_that_of_the_example(line):
    """BT-131: price ÷ base quantity × quantity, and each part rounded apart."""
    price = Decimal(line["price"]) / Decimal(line["base_qty"])
    net = tax.line_net(Decimal(line["qty"]), price)
    for is_charge, amount in line["allowance_charge"]:
        net += (1 if is_charge else -1) * money.rounded(Decimal(amount), 2)
    assert net == Decimal(line["net"])


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_reckoning_answers_the_example_too(name):
    """The same, in the words of the document that the command takes."""
    example = EXAMPLES[name]

    def cents(value):
        return f"{Decimal(value):.2f}"

    def part(raw, key):
        said = {key: cents(raw[key]), "category": raw["category"]}
        return said if raw["rate"] is None else said | {"rate": raw["rate"]}

    documented = example["doc_allowance_charge"]
    answer = run_totals(
        {
            "currency": example["currency"],
            "lines": [part(line, "net") for line in example["lines"]],
            "allowances": [part(p, "amount") for p in documented if not p["charge"]],
            "charges": [part(p, "amount") for p in documented if p["charge"]],
            "prepaid": cents(example["totals"].get("BT113", "0")),
            "rounding": cents(example["totals"].get("BT114", "0")),
        }
    )
    for term, value in example["totals"].items():
        assert answer[KEYS[term]] == cents(value), term
